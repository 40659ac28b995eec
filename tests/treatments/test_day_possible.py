"""What is possible in a yard on a day, as the page tells it."""

import datetime as dt
import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from apiaries.models import Brood, Colony
from tests.treatments.making import treat
from treatments.models import Application
from treatments.possible import BroodNeed, Stand
from treatments.possible_page import limits_for, ways_on, yard_on

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("reference")]
ON = dt.date(2026, 8, 12)


@pytest.fixture(autouse=True)
def _in_august(cast, reference, time_machine):
    time_machine.move_to(dt.datetime(2026, 8, 12, 9, tzinfo=dt.UTC), tick=False)
    cast.club.jurisdiction = "GB"
    cast.club.save()
    cast.alice_yard.club.refresh_from_db()


@pytest.fixture
def page(cast, client_for):
    alice = client_for(cast.alice)

    def get(**query):
        response = alice.get(reverse("treatments:day-possible", args=[cast.alice_yard.pk]), query)
        assert response.status_code == 200
        return response

    return get


def note(cast, **facts):
    Colony.objects.filter(yard=cast.alice_yard).update(**facts)


def stand_of(response, key):
    (row,) = [
        one for one in (*response.context["rows"], *response.context["past_rows"]) if one.way.key == key
    ]
    return row


def test_every_way_of_the_clubs_labels_is_shown_and_none_of_another_country(page):
    keys = {row.way.key for row in page().context["rows"]}

    assert keys == set(
        Application.objects.filter(jurisdiction__in=["GB", "any"]).values_list("key", flat=True)
    )


def test_supers_stand_in_the_way_of_what_they_must_be_off_for(cast, page):
    note(cast, supers_on=True)
    response = page()
    row = stand_of(response, "oxalic_trickle_gb")

    assert row.stand is Stand.IN_THE_WAY and "supers" in row.in_short
    assert "On 6 of the colonies, and they must be off." in response.content.decode()


def test_brood_seen_lately_counts_and_longer_ago_is_not_known(cast, page):
    note(cast, brood=Brood.NONE, brood_seen_on=ON - dt.timedelta(days=14))
    assert stand_of(page(), "oxalic_trickle_gb").stand is Stand.FREE

    note(cast, brood=Brood.NONE, brood_seen_on=ON - dt.timedelta(days=15))
    assert stand_of(page(), "oxalic_trickle_gb").stand is Stand.FIND_OUT

    note(cast, brood=Brood.SOME, brood_seen_on=ON)
    assert stand_of(page(), "oxalic_trickle_gb").stand is Stand.IN_THE_WAY


# UK pack text, formic acid 68.2 g strip: 10 to 29.5 C on the day of giving (facts.md test check 4)
@pytest.mark.parametrize(
    ("typed", "scale", "stand"),
    [
        ("30", "c", Stand.IN_THE_WAY),
        ("29,4", "c", Stand.FREE),
        ("29.5 °C", "c", Stand.FREE),
        ("85", "f", Stand.FREE),
        ("86", "f", Stand.IN_THE_WAY),
        ("\N{MINUS SIGN}2", "c", Stand.IN_THE_WAY),
    ],
)
def test_high_is_read_as_typed_with_comma_or_degrees(page, typed, scale, stand):
    mild = "70" if scale == "f" else "20"
    response = page(on="12 Aug 2026", scale=scale, high_0=typed, high_1=mild, high_2=mild)

    assert not response.context["form"].errors
    assert stand_of(response, "formic_gel_strip_gb").stand is stand


@pytest.mark.parametrize(
    ("sent", "field", "words"),
    [
        ({"high_0": "warm"}, "high_0", "such as 24 or 24.5"),
        ({"high_0": "nan"}, "high_0", "such as 24 or 24.5"),
        ({"high_3": "200"}, "high_3", "No yard is that cold or warm"),
        ({"on": "1 Aug 2026"}, "on", "This day is past"),
        ({"on": "1 Aug 2062"}, "on", "more than a year ahead"),
        ({"on": "soon"}, "on", "date"),
        ({"scale": "k"}, "scale", "Choose °C or °F."),
        ({"supers_next_on": "1 Aug 2026"}, "supers_next_on", "This day is past"),
    ],
)
def test_odd_entry_is_told_at_its_box_and_keeps_what_was_typed(page, sent, field, words):
    response = page(**({"on": "12 Aug 2026", "scale": "c"} | sent))

    assert words in str(response.context["form"].errors[field])
    assert str(sent[field]) in response.content.decode()
    assert response.context["rows"]  # the rest of the page still answers


def test_supering_before_the_clear_date_stands_in_the_way(page):
    early = page(on="12 Aug 2026", scale="c", supers_next_on="15 Aug 2026")
    late = page(on="12 Aug 2026", scale="c", supers_next_on="19 Aug 2026")

    assert "clear date" in stand_of(early, "formic_gel_strip_gb").in_short
    assert "clear date" not in stand_of(late, "formic_gel_strip_gb").in_short


def test_dose_before_is_told_with_its_gap(cast):
    treat(
        cast.colonies[:2],
        ON - dt.timedelta(days=20),
        way="formic_gel_strip_gb",
        out_on=ON - dt.timedelta(days=13),
    )
    rows = {row.way.key: row for row in ways_on(cast.alice_yard, yard_on(cast.alice_yard, ON))}

    assert "last dose" in rows["formic_gel_strip_gb"].in_short
    assert any("20 days before; at least 30" in check.words for check in rows["formic_gel_strip_gb"].checks)


def test_strips_nobody_took_out_are_still_in(cast):
    treat(cast.colonies[:2], ON - dt.timedelta(days=20), way="formic_gel_strip_gb")
    rows = {row.way.key: row for row in ways_on(cast.alice_yard, yard_on(cast.alice_yard, ON))}

    assert "still in the hives" in rows["formic_gel_strip_gb"].in_short
    assert "still in the hives" in rows["oxalic_trickle_gb"].in_short


def test_limits_are_those_of_the_reference_data():
    formic = limits_for(Application.objects.get(key="formic_gel_strip_gb"))
    amitraz = limits_for(Application.objects.get(key="amitraz_strip_us"))

    assert (formic.min_temp_c, formic.max_temp_c, formic.max_first_days_c) == (10.0, 29.5, 33.0)
    assert (formic.days_between, formic.stays_in_days, formic.withdrawal_days) == (30, 7, 0)
    assert (amitraz.stays_in_days, amitraz.withdrawal_days) == (
        42,
        14,
    )  # supers 14 days after the strips come out
    for way in Application.objects.all():
        assert limits_for(way).brood in BroodNeed


def test_queries_do_not_grow_with_doses_and_colonies(cast):
    asked = []
    for colonies in (cast.colonies[:1], cast.colonies[1:]):
        for colony in colonies:
            treat([colony], ON - dt.timedelta(days=60), way="thymol_gel_gb")
        with CaptureQueriesContext(connection) as queries:
            ways_on(cast.alice_yard, yard_on(cast.alice_yard, ON))
        asked.append(len(queries))
    assert asked[0] == asked[1]


def test_labels_no_longer_in_force_are_folded_away(cast, page):
    cast.club.jurisdiction = "US"
    cast.club.save()
    words = " ".join(re.sub(r"<[^>]+>", " ", page().content.decode()).split())
    now, past = words.split("Labels no longer in force")
    assert "label: US, until 22 Feb 2021" in past and "label: US, until 22 Feb 2021" not in now
    assert "No limit is stated." in now and "none stated" not in words
    assert "2.8 °C (37 °F)" in now and "Off, as noted" not in words
    assert "No supers are noted. Make sure that they are off." in words
