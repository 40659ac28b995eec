"""A keeper's heaters through the pages: noted, noted anew, timed, put away; odd entries told at their box."""

import datetime as dt
import re
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from apiaries.reference import cautions
from tests.flows.forms import fields_of, send
from treatments.constants import DEFAULTS
from treatments.day_plan import HeaterTimes
from treatments.day_sheet import times_of
from treatments.models import Device

pytestmark = pytest.mark.django_db
LIST, ADD = "/me/heaters/", "/me/heaters/new/"
GAS = {"name": "gas burner", "battery_kind": "none"}
# 150 W at 12 V: instruction sheet of a 12 V oxalic acid pan, docsbay.net/doc/526700
PAN = {"name": "pan", "watts": "150", "volts": "12", "battery_kind": "flooded", "battery_ah": "40"}
TIMES = {"first_minutes": "2.5", "following_minutes": "2.5", "cool_minutes": "2"}


@pytest.fixture(autouse=True)
def _in_august(time_machine):
    time_machine.move_to(dt.datetime(2026, 8, 12, 9, tzinfo=dt.UTC), tick=False)


@pytest.fixture
def alice(cast, client_for):
    return client_for(cast.alice)


def of(name, device):
    return reverse(f"treatments:device-{name}", args=[device.pk])


def added(client, **typed):
    """A heater added through its form."""
    assert send(client, ADD, PAN | typed).status_code == 302
    return Device.objects.latest("pk")


def text_of(client, url=LIST):
    """The words of a page, without tags and with single spaces."""
    page = client.get(url, follow=True).content.decode()
    return " ".join(
        re.sub(r"<[^>]+>", " ", page).replace("&nbsp;", " ").replace("\N{NO-BREAK SPACE}", " ").split()
    )


def errors_of(response):
    assert response.status_code == 200
    return {name: " ".join(said) for name, said in response.context["form"].errors.items()}


# ---------- adding ----------


def test_list_without_a_heater_says_what_to_do(alice):
    assert "No heater yet" in text_of(alice)


def test_adding_a_heater_keeps_the_usual_of_its_kind(cast, alice):
    device = added(alice, number="2", grams_per_load="2,5")

    assert (device.keeper, device.recorded_by, device.number) == (cast.alice, cast.alice, 2)
    assert (device.grams_per_load, device.watts, device.volts, device.amps) == (Decimal("2.5"), 150, 12, None)
    assert (device.batteries, device.battery_ah, device.rated_hours) == (1, 40, 20)
    assert (device.usable_share, device.peukert) == (Decimal("0.5"), Decimal("1.2"))
    assert not device.is_timed


@pytest.mark.parametrize(
    ("kind", "share", "exponent", "hours"),
    [
        ("flooded", DEFAULTS.battery_usable_share, DEFAULTS.peukert_flooded, 20),
        ("agm", DEFAULTS.battery_usable_share, DEFAULTS.peukert_agm, 20),
        ("lithium", DEFAULTS.lithium_usable_share, DEFAULTS.peukert_none, None),
    ],
)
def test_kind_of_battery_brings_its_usual_figures(alice, kind, share, exponent, hours):
    device = added(alice, battery_kind=kind)

    assert float(device.usable_share) == share.value
    assert float(device.peukert) == exponent.value
    assert device.rated_hours == hours


def test_own_figures_go_before_the_usual_ones(alice):
    device = added(alice, usable_percent="62,5 %", peukert="1,35", rated_hours="10 h", batteries="3")

    assert (device.usable_share, device.peukert) == (Decimal("0.625"), Decimal("1.35"))
    assert (device.rated_hours, device.batteries) == (10, 3)
    assert "your own figure" in text_of(alice)


def test_heater_without_a_battery(alice):
    send(alice, ADD, GAS)
    device = Device.objects.get()

    assert (device.batteries, device.battery_ah, device.usable_share, device.peukert) == (0, None, None, None)
    assert "none: mains or gas" in text_of(alice)


def test_form_sent_twice_adds_one_heater(alice):
    first, second = send(alice, ADD, PAN), send(alice, ADD, PAN)

    assert (first.status_code, second.status_code) == (302, 302)
    assert Device.objects.count() == 1
    assert "Nothing was added" in text_of(alice)


def test_same_heater_may_be_added_again_once_it_was_put_away(alice):
    alice.post(of("put-away", added(alice)))
    added(alice)

    assert Device.objects.count() == 2


@pytest.mark.parametrize(
    ("typed", "field", "words"),
    [
        ({"name": " "}, "name", "own words"),
        ({"name": "x" * 61}, "name", "60"),
        ({"number": "0"}, "number", "from 1 to 12"),
        ({"number": "13"}, "number", "from 1 to 12"),
        ({"number": "two"}, "number", "from 1 to 12"),
        ({"grams_per_load": "much"}, "grams_per_load", "such as 2 or 2.5"),
        ({"grams_per_load": "0"}, "grams_per_load", "such as 2 or 2.5"),
        ({"grams_per_load": "2.555"}, "grams_per_load", "such as 2 or 2.5"),
        ({"watts": "-150"}, "watts", "such as 150"),
        ({"watts": "15000"}, "watts", "up to 5000"),
        ({"watts": "nan"}, "watts", "such as 150"),
        ({"volts": ""}, "volts", "Enter the volts too"),
        ({"watts": ""}, "watts", "Enter watts or amps too"),
        ({"amps": "12,5"}, "amps", "two answers"),
        ({"battery_kind": ""}, "battery_kind", "Choose what feeds"),
        ({"battery_kind": "steam"}, "battery_kind", "Choose what feeds"),
        ({"battery_kind": "none"}, "battery_kind", "No battery is chosen"),
        ({"battery_ah": "inf"}, "battery_ah", "amp hours"),
        ({"batteries": "25"}, "batteries", "from 1 to 24"),
        ({"batteries": "0"}, "batteries", "from 1 to 24"),
        ({"usable_percent": "120"}, "usable_percent", "from 1 to 100"),
        ({"usable_percent": "0.5"}, "usable_percent", "from 1 to 100"),
        ({"rated_hours": "0"}, "rated_hours", "from 0.1 to 200"),
        ({"peukert": "0.9"}, "peukert", "from 1 to 2"),
        ({"peukert": "2.1"}, "peukert", "from 1 to 2"),
    ],
)
def test_odd_entry_is_told_at_its_box_kept_and_adds_nothing(alice, typed, field, words):
    response = send(alice, ADD, PAN | typed)
    form = response.context["form"]

    assert list(errors_of(response)) == [field]
    assert words in errors_of(response)[field]
    assert f'id="id_{field}_error"' in response.content.decode()
    for name, value in (PAN | typed).items():
        assert form[name].value() == value
    assert not Device.objects.exists()


def test_finer_figures_open_when_one_is_to_be_mended(alice):
    assert '<details class="why">' in alice.get(ADD).content.decode()
    assert '<details class="why" open>' in send(alice, ADD, PAN | {"peukert": "9"}).content.decode()


# ---------- noting anew ----------


@pytest.mark.parametrize(
    "typed",
    [
        {},
        GAS | {"watts": "", "volts": "", "battery_ah": ""},
        {"battery_kind": "agm"},
        {"battery_kind": "lithium"},
        {"battery_kind": "lithium", "rated_hours": "5", "usable_percent": "90"},
        {"peukert": "1"},
        {"battery_kind": "agm", "peukert": "1.3", "usable_percent": "33.3"},
        {"watts": "", "volts": "", "amps": "12.5", "battery_ah": "", "batteries": "2"},
    ],
)
def test_form_opened_and_saved_untouched_changes_nothing(alice, typed):
    device = added(alice, **typed)
    before = Device.objects.filter(pk=device.pk).values().get()
    assert send(alice, of("edit", device), {}).status_code == 302

    assert Device.objects.filter(pk=device.pk).values().get() == before


def test_changing_the_kind_brings_the_usual_of_the_new_kind(alice):
    device = added(alice)
    send(alice, of("edit", device), {"battery_kind": "lithium"})
    device.refresh_from_db()

    assert (device.peukert, device.usable_share) == (1, Decimal("0.8"))


def test_change_after_a_trial_asks_for_another_and_keeps_the_times(alice):
    device = added(alice, watts="100")
    send(alice, of("edit", device), {"watts": "150"})
    assert "time it again" not in text_of(alice)
    send(alice, of("trial", device), TIMES)
    assert "time it again" not in text_of(alice)
    send(alice, of("edit", device), {"name": "old pan"})
    assert "time it again" not in text_of(alice)
    send(alice, of("edit", device), {"watts": "200"})
    device.refresh_from_db()

    assert "time it again" in text_of(alice)
    assert (device.name, device.watts, device.first_minutes) == ("old pan", 200, Decimal("2.5"))


def test_odd_change_is_refused_and_changes_nothing(alice):
    device = added(alice)
    response = send(alice, of("edit", device), {"name": "other", "usable_percent": "120"})
    device.refresh_from_db()

    assert list(errors_of(response)) == ["usable_percent"]
    assert device.name == "pan"


# ---------- the timed trial ----------


def test_trial_keeps_times_typed_with_comma_or_as_on_a_watch(alice):
    device = added(alice)
    typed = {
        "first_minutes": "10,5",
        "following_minutes": "7:45",
        "cool_minutes": "0",
        "tried_on": "11 Aug 2026",
    }
    assert send(alice, of("trial", device), typed).status_code == 302
    device.refresh_from_db()

    assert (device.first_minutes, device.following_minutes, device.cool_minutes) == (
        Decimal("10.5"),
        Decimal("7.75"),
        0,
    )
    assert device.tried_on == dt.date(2026, 8, 11)
    assert times_of(device) == HeaterTimes(first=10.5, following=7.75, cool=0)


def test_trial_says_cautions_before_its_first_box_and_where_to_do_it(alice):
    page = alice.get(of("trial", added(alice))).content.decode()
    shown = [row["sentence"] for row in cautions() if row["where"] in ("any", "vapour", "heat", "battery")]
    plain = page.replace("&#x27;", "'")

    assert len(shown) >= 6
    for sentence in shown:
        assert 0 < plain.index(sentence) < plain.index('name="first_minutes"')
    assert "Outside a hive" in page and "upwind" in page


def test_trial_of_a_heater_without_a_battery_leaves_batteries_out(alice):
    send(alice, ADD, GAS)
    page = alice.get(of("trial", Device.objects.get())).content.decode()

    assert "sparks away from the battery" not in page
    assert "full battery" not in page


@pytest.mark.parametrize(
    ("typed", "fields"),
    [
        ({"cool_minutes": ""}, {"cool_minutes"}),
        ({"first_minutes": "", "following_minutes": ""}, {"first_minutes", "following_minutes"}),
        ({"first_minutes": "0"}, {"first_minutes"}),
        ({"first_minutes": "ten"}, {"first_minutes"}),
        ({"first_minutes": "10:75"}, {"first_minutes"}),
        ({"following_minutes": "1441"}, {"following_minutes"}),
        ({"following_minutes": "9999:00"}, {"following_minutes"}),
        ({"cool_minutes": "-1"}, {"cool_minutes"}),
        ({"cool_minutes": "NaN"}, {"cool_minutes"}),
        ({"tried_on": "13 Aug 2026"}, {"tried_on"}),
        ({"tried_on": ""}, {"tried_on"}),
    ],
)
def test_half_or_odd_trial_is_refused_whole(alice, typed, fields):
    device = added(alice)
    response = send(alice, of("trial", device), TIMES | typed)
    device.refresh_from_db()

    assert set(errors_of(response)) == fields
    for name, value in (TIMES | typed).items():
        assert response.context["form"][name].value() == value
    assert not device.is_timed


def test_another_trial_starts_empty_and_says_the_last_one(alice):
    device = added(alice)
    send(alice, of("trial", device), TIMES)
    _, fields = fields_of(alice.get(of("trial", device)).content.decode())

    assert fields["first_minutes"] == fields["following_minutes"] == fields["cool_minutes"] == [""]
    assert "Last timed on 12 Aug 2026: first load 2.5 min" in text_of(alice, of("trial", device))


# ---------- the sums on the page ----------


def test_untimed_heater_shows_unknown_and_why(alice):
    added(alice)
    words = text_of(alice)

    assert "Not timed yet" in words
    assert "First load unknown: not timed yet" in words
    assert "Lasts for unknown: not timed yet" in words
    assert not re.search(r"\d+ loads?\b", words)


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"watts": "", "volts": ""}, "charge unknown: neither watts with volts nor amps are noted"),
        ({"battery_ah": ""}, "Lasts for unknown: the capacity of the battery is not noted"),
        ({"watts": "", "volts": "", "amps": "12.5"}, "0.521 Ah, watt hours unknown: the volts are not noted"),
    ],
)
def test_what_is_not_noted_is_unknown_with_its_reason(alice, typed, words):
    send(alice, of("trial", added(alice, **typed)), TIMES)

    assert words in text_of(alice)


# facts.md 4.1 and issue 4: 150 W at 12 V for 2.5 minutes; 40 Ah, half of it used
@pytest.mark.parametrize(
    ("exponent", "loads", "lossless"),
    [("1", "38 loads from one full battery", False), ("1.2", "26 loads from one full battery", True)],
)
def test_published_check_values_stand_on_the_page_with_their_sources(alice, exponent, loads, lossless):
    send(alice, of("trial", added(alice, peukert=exponent, usable_percent="50")), TIMES)
    words = text_of(alice)

    assert "150 W, 12 V: 12.5 A" in words
    assert words.count("2.5 min; 0.521 Ah, 6.25 Wh") == 2
    assert loads in words
    assert ("38 without the loss at high currents" in words) is lossless
    if lossless:
        assert (
            "Peukert exponent 1.2: published (flooded lead-acid 1.2-1.3: table of typical exponents" in words
        )
        assert "50 % of it is used: common practice, no source (lead-acid batteries are planned" in words
        assert "Printed capacity holds for 20 hours: common practice, no source" in words
    else:
        assert "Peukert exponent 1: our choice" in words


def test_all_batteries_together_hold_so_many_times_more(alice):
    send(alice, of("trial", added(alice, batteries="2")), TIMES)

    assert "26 loads from one full battery, 52 from both" in text_of(alice)


def test_form_says_what_is_usual_with_mark_and_source(alice):
    words = text_of(alice, ADD)

    assert "AGM lead-acid, Peukert exponent: 1.15: published (AGM lead-acid 1.05-1.2" in words.replace(
        "Agm", "AGM"
    )
    assert "share used: 50 %: common practice, no source" in words
    assert "Lithium, Peukert exponent: 1: our choice" in words


# ---------- putting away ----------


def test_put_away_is_asked_first_and_stays_struck_through(alice):
    device = added(alice, name="pan with lead")
    assert alice.get(of("put-away", device)).status_code == 200
    device.refresh_from_db()
    assert device.put_away_at is None

    alice.post(of("put-away", device))
    page = alice.get(LIST).content.decode()

    assert re.search(r'class="voided">\s*<span>.*?pan with lead', page)
    assert of("edit", device) not in page


def test_put_away_heater_is_no_longer_noted_timed_or_put_away(alice):
    device = added(alice)
    alice.post(of("put-away", device))
    before = Device.objects.filter(pk=device.pk).values().get()

    for name, typed in (
        ("edit", PAN | {"watts": "9"}),
        ("trial", TIMES | {"tried_on": "today"}),
        ("put-away", {}),
    ):
        assert alice.get(of(name, device)).status_code == 302
        answer = alice.post(of(name, device), typed, follow=True)
        assert "was put away before. Nothing was changed." in answer.content.decode()
    assert Device.objects.filter(pk=device.pk).values().get() == before


# ---------- who, how many queries, and without a mouse ----------


def test_nobody_sees_or_changes_another_members_heater(cast, alice, client_for):
    device = added(alice, name="pan with lead")
    before = Device.objects.filter(pk=device.pk).values().get()

    for person in (cast.bob, cast.charlie, cast.dana, cast.adam, cast.zoe):
        other = client_for(person)
        assert "pan with lead" not in other.get(LIST).content.decode()
        for name in ("edit", "trial", "put-away"):
            assert other.get(of(name, device)).status_code == 404
            assert other.post(of(name, device), PAN | TIMES).status_code == 404
    assert Device.objects.filter(pk=device.pk).values().get() == before


def test_queries_do_not_grow_with_heaters(alice):
    asked = []
    for names in (("a",), ("b", "c", "d")):
        for name in names:
            send(alice, of("trial", added(alice, name=name)), TIMES)
        alice.get(LIST)  # messages are shown once
        with CaptureQueriesContext(connection) as queries:
            assert alice.get(LIST).status_code == 200
        asked.append(len(queries))
    assert asked[0] == asked[1]


def test_every_box_has_a_label_and_the_watch_stays_hidden_without_script(alice):
    for url in (ADD, of("trial", added(alice))):
        page = alice.get(url).content.decode()
        boxes = re.findall(r'<input type="text"[^>]* id="(\w+)"', page)
        assert len(boxes) >= 4
        for box in boxes:
            assert page.count(f'<label for="{box}"') == 1
    assert len(re.findall(r"data-watch=\"\w+\" hidden", page)) == 3


def test_account_menu_leads_to_the_list(alice):
    assert f'<a href="{LIST}">Heaters and batteries</a>' in alice.get("/").content.decode()


def test_heater_without_a_battery_shows_its_minutes_alone(alice):
    send(alice, ADD, GAS)
    send(alice, of("trial", Device.objects.get()), TIMES)
    words = text_of(alice)

    assert "First load 2.5 min Next loads 2.5 min Cooling 2 min Batteries none" in words
    assert "unknown:" not in words
