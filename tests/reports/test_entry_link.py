"""The button of the mail: opens exactly one recount's form, saves that count, and tells and changes nothing else."""

import datetime as dt
import re
from dataclasses import replace
from html import unescape

import pytest
from django.conf import settings as django_settings
from django.core import signing
from django.core.cache import cache
from django.test import Client

from apiaries.actions import add_yard, end_colony, end_membership, move_colony
from apiaries.models import Membership
from apiaries.permissions import Role
from counts.actions import NewCount, record_sample
from counts.models import MiteSample
from counts.samples import BeesBy, Method
from reports.actions import LinkShut, count_by_link
from reports.entry_access import Entry, Shut, entry_with
from reports.entry_form import ANOTHER, ODD
from reports.links import ENTRY_SALT, STOP_SALT, address_mark, entry_url
from reports.models import Digest, DigestState, Notice, Suspension
from reports.planner import plan_notices
from reports.sender import Outcome, send_due
from tests.access.facts import number_of_rows
from tests.access.odd import boxes_of
from tests.cast import make_person
from tests.flows.forms import fields_of
from tests.reports.counting import count
from tests.reports.post_office import open_post_office
from tests.reports.treating import at, treated
from treatments.actions import cancel_treatment, skip_recount

pytestmark = pytest.mark.usefixtures("reference")
DUE = at("08-22", 8)
WASH = {"method": "alcohol_wash", "bees_how": "half_cup", "brood": "unknown", "sampled_on": "22 Aug 2026"}


@pytest.fixture
def recount(cast, time_machine):
    """Three of Alice's six colonies, treated on 6 Aug; it is 22 Aug, and the recount is due."""
    time_machine.move_to(DUE, tick=False)
    cache.clear()
    return treated(cast.colonies[:3])


@pytest.fixture
def link(cast, recount):
    return _path(entry_url(recount, cast.alice, at=DUE))


def _path(url):
    return url.removeprefix(django_settings.SITE_URL)


def _token(link):
    return link.split("/")[2]


def _send(link, client=None, **typed):
    """Open the form, type, send."""
    client = client or Client()
    _, fields = fields_of(client.get(link).content.decode())
    return client.post(link, fields | WASH | typed)


def _mites(colony, number):
    return {f"c{colony.pk}-mites": str(number)}


def test_from_the_mail_to_a_recount_that_is_done(cast, recount, settings):
    with open_post_office() as office:
        settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
        settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", office.port
        plan_notices(at=DUE)
        send_due(at=DUE)
        (mail,) = office.taken
        bodies = [mail.get_body((kind,)).get_content() for kind in ("plain", "html")]
        (url,) = {unescape(re.search(r"http\S*/recount/[^\"\s<]+", body)[0]) for body in bodies}

        answer = _send(_path(url), **_mites(cast.colonies[0], 4), **_mites(cast.colonies[1], 0))

        assert answer.status_code == 302
        assert "This recount is counted" in Client().get(answer["Location"]).content.decode()
        kept = MiteSample.objects.order_by("pk")
        assert [(one.colony, one.mites, one.bees, one.recorded_by) for one in kept] == [
            (cast.colonies[0], 4, 300, cast.alice),
            (cast.colonies[1], 0, 300, cast.alice),
        ]
        late = at("09-10", 8)
        assert plan_notices(at=late) == 0
        send_due(at=late)
        assert len(office.taken) == 1


def test_a_count_that_does_not_answer_is_saved_and_the_form_stays_open(cast, recount, link):
    board = {"method": "board", "board_days": "3", "treatment_in_hive": "yes"}
    answer = _send(link, **board, **_mites(cast.colonies[0], 4))

    page = Client().get(answer["Location"])
    assert (answer.status_code, page.status_code) == (302, 200)
    assert "What you sent is saved." in page.content.decode()
    assert "The recount is still open" in page.content.decode()
    assert (MiteSample.objects.get().method, MiteSample.objects.get().treatment_in_hive) == ("board", True)


def test_a_mail_still_waiting_is_withdrawn_by_the_count(cast, recount, link):
    plan_notices(at=DUE)
    _send(link, **_mites(cast.colonies[0], 4))

    assert send_due(at=at("08-23", 8)) == {Outcome.EMPTY: 1}
    assert Digest.objects.get().state == DigestState.EMPTY
    assert Notice.objects.get().withdrawn_at is not None


@pytest.mark.parametrize("name", ["nobody", "alice", "charlie", "zoe"])
def test_works_whoever_is_signed_in_and_counts_for_the_keeper(cast, link, client_for, name):
    client = client_for(None if name == "nobody" else getattr(cast, name))

    assert _send(link, client, **_mites(cast.colonies[0], 4)).status_code == 302
    assert MiteSample.objects.get().recorded_by == cast.alice


def test_signs_nobody_in(cast, link):
    client = Client()
    _send(link, client, **_mites(cast.colonies[0], 4))

    assert "sessionid" not in client.cookies and django_settings.SESSION_COOKIE_NAME not in client.cookies
    assert client.get("/yards/").status_code == 302


@pytest.mark.parametrize("verb", ["get", "head"])
def test_looking_changes_nothing(cast, recount, link, verb):
    before = number_of_rows()
    for _ in range(3):
        assert getattr(Client(), verb)(link).status_code == 200
    assert number_of_rows() == before


def test_other_verbs_are_refused(link):
    assert {getattr(Client(), verb)(link).status_code for verb in ("put", "patch", "delete")} == {405}


def test_sending_wants_the_forms_token(cast, link):
    client = Client(enforce_csrf_checks=True)
    _, fields = fields_of(client.get(link).content.decode())
    typed = fields | WASH | _mites(cast.colonies[0], 4)
    without = {name: value for name, value in typed.items() if name != "csrfmiddlewaretoken"}

    assert client.post(link, without).status_code == 403
    assert not MiteSample.objects.exists()
    assert client.post(link, typed).status_code == 302


def test_form_has_the_treated_colonies_and_suiting_methods_only(cast, recount, link):
    end_colony(colony=cast.colonies[2], ended_on=DUE.date(), why="died", by=cast.alice)
    boxes = boxes_of(Client().get(link).content.decode())

    assert {name for name in boxes if name.endswith("-mites")} == {
        f"c{colony.pk}-mites" for colony in cast.colonies[:2]
    }


def test_methods_follow_the_counts_before(cast, recount, link):
    count(cast.colonies[0], dt.date(2026, 8, 5), 30)
    page = Client().get(link).content.decode()
    offered = set(re.findall(r'name="method" value="(\w+)"', page))
    everything = {"alcohol_wash", "soap_wash", "sugar_roll", "co2", "board"}
    assert {"alcohol_wash", "soap_wash"} <= offered <= everything
    for colony in cast.colonies[1:3]:
        count(colony, dt.date(2026, 8, 5), 30)

    page = Client().get(link).content.decode()

    assert set(re.findall(r'name="method" value="(\w+)"', page)) == {"alcohol_wash", "soap_wash"}
    answer = _send(link, method="sugar_roll", **_mites(cast.colonies[0], 4))
    assert answer.status_code == 200 and "Choose how you counted." in answer.content.decode()
    assert MiteSample.objects.count() == 3


def test_other_colonies_cannot_be_counted(cast, recount, link):
    others = [cast.colonies[4], *cast.charlie_yard.colonies.all()]
    typed = {name: value for colony in others for name, value in _mites(colony, 4).items()}

    answer = _send(link, **typed)

    assert answer.status_code == 200 and "Nothing is typed yet" in answer.content.decode()
    assert _send(link, **typed, **_mites(cast.colonies[0], 4), person=cast.bob.pk).status_code == 302
    assert [(one.colony, one.recorded_by) for one in MiteSample.objects.all()] == [
        (cast.colonies[0], cast.alice)
    ]


@pytest.mark.parametrize(
    ("on", "words"),
    [
        ("19 Aug 2026", "This recount counts from 20 Aug 2026 on."),
        ("23 Aug 2026", "still to come"),
        ("22 Aug 2025", "This recount counts from 20 Aug 2026 on."),
    ],
)
def test_other_days_cannot_be_counted(cast, link, on, words):
    answer = _send(link, sampled_on=on, **_mites(cast.colonies[0], 4))

    assert answer.status_code == 200 and words in answer.content.decode()
    assert not MiteSample.objects.exists()


def test_colony_that_stood_elsewhere_that_day_is_not_counted_here(cast, recount, link):
    other = add_yard(keeper=cast.alice, region=cast.north, name="Secret meadow", by=cast.alice)
    for yard, on in ((other, dt.date(2026, 8, 18)), (cast.alice_yard, dt.date(2026, 8, 22))):
        cast.colonies[0].refresh_from_db()
        move_colony(colony=cast.colonies[0], to_yard=yard, moved_on=on, by=cast.alice)

    answer = _send(link, sampled_on="21 Aug 2026", **_mites(cast.colonies[0], 4)).content.decode()

    assert "On that day it did not stand in this yard" in answer and "Secret meadow" not in answer
    assert not MiteSample.objects.exists()


def test_the_action_refuses_what_the_form_would_not_send(cast, recount, link):
    entry = entry_with(_token(link), at=DUE)
    assert isinstance(entry, Entry)
    wrong = [
        _new(cast.colonies[4]),
        _new(cast.colonies[0], sampled_on=dt.date(2026, 8, 19)),
        _new(cast.colonies[0], sampled_on=dt.date(2026, 8, 23)),
        _new(cast.colonies[0], method="drone_brood"),
    ]
    for new in wrong:
        with pytest.raises(LinkShut):
            count_by_link(token=_token(link), entry=entry, counts=[new], at=DUE, by=cast.alice)
    assert not MiteSample.objects.exists()
    count_by_link(token=_token(link), entry=entry, counts=[_new(cast.colonies[0])], at=DUE, by=cast.alice)
    with pytest.raises(LinkShut):  # a second form that was open meanwhile
        count_by_link(token=_token(link), entry=entry, counts=[_new(cast.colonies[1])], at=DUE, by=cast.alice)
    assert MiteSample.objects.count() == 1


def _new(colony, method="alcohol_wash", sampled_on=dt.date(2026, 8, 22)):
    return NewCount(colony, Method(method), sampled_on, 4, bees=300, bees_by=BeesBy.VOLUME)


def test_same_form_sent_twice_counts_once(cast, recount, link):
    client = Client()
    _, fields = fields_of(client.get(link).content.decode())
    typed = fields | WASH | _mites(cast.colonies[0], 4)

    assert client.post(link, typed).status_code == 302
    again = client.post(link, typed)

    assert (again.status_code, "This recount is counted" in again.content.decode()) == (200, True)
    assert MiteSample.objects.count() == 1


def test_odd_numbers_are_asked_once(cast, link):
    answer = _send(link, **_mites(cast.colonies[0], 250))
    assert answer.status_code == 200 and "Please look again" in answer.content.decode()
    assert not MiteSample.objects.exists()
    row = answer.context["form"].rows[0]
    _, fields = fields_of(answer.content.decode())

    answer = Client().post(link, fields | {row.sure_name: row.sure_value})

    assert answer.status_code == 302
    assert MiteSample.objects.get().mites == 250


def test_questions_tell_nothing_of_other_counts(cast, recount, link):
    """Who has the mail need not be the keeper: 71 mites before, and 67 today under another treatment."""
    for colony in cast.colonies[:3]:
        count(colony, dt.date(2026, 8, 5), 71)
    for colony in cast.colonies[3:]:
        count(colony, dt.date(2026, 8, 20), 1)
    today = replace(_new(cast.colonies[0]), mites=67, treatment_in_hive=True)
    record_sample(count=today, at=DUE, by=cast.alice)
    page = Client().get(link).content.decode()
    answer = _send(link, **_mites(cast.colonies[0], 290)).content.decode()

    assert ANOTHER in answer and ODD in answer
    for told in (page, answer):
        assert not re.search(r"\b(71|67)\b", re.sub(r"<[^>]*>", " ", told))


def test_page_shows_nothing_else(cast, recount, link, client_for):
    page = client_for(cast.alice).get(link).content.decode()
    links = set(re.findall(r'href="([^"#][^"]*)"', page))

    assert {one for one in links if not one.startswith("/static/")} == {"/", "/language/"}
    for word in (
        "Orchard",
        "Test club",
        "Alice",
        "alice@example.org",
        "North",
        "Dana",
        "Sign out",
        "queue.js",
    ):
        assert word not in page, word
    assert "Home yard" in page


def test_headers(cast, recount, link):
    for url, referrer in ((link, "same-origin"), ("/recount/nonsense/", "no-referrer")):
        answer = Client().get(url)
        assert "no-store" in answer["Cache-Control"]
        assert answer["Referrer-Policy"] == referrer
        assert answer["X-Robots-Tag"] == "noindex"


def _cancel(cast, recount):
    cancel_treatment(treatment=recount.treatment, why="wrong yard", at=DUE, by=cast.alice)


def _skip(cast, recount):
    skip_recount(recount=recount, why="no time", at=DUE, by=cast.alice)


def _leave(cast, recount):
    end_membership(membership=cast.alice.memberships.get(), at=DUE, by=cast.adam)


def _shut_out(cast, recount):
    type(cast.alice).objects.filter(pk=cast.alice.pk).update(is_active=False)


def _suspend(cast, recount):
    Suspension.objects.create(person=cast.alice, email=cast.alice.email, why="550", since=DUE)


def _other_address(cast, recount):
    type(cast.alice).objects.filter(pk=cast.alice.pk).update(email="alice2@example.org")


def _other_keeper(cast, recount):
    keeper = make_person("Kim")
    Membership.objects.create(club=cast.club, person=keeper, role=Role.MEMBER)
    type(cast.alice_yard).objects.filter(pk=cast.alice_yard.pk).update(keeper=keeper)


def _all_gone(cast, recount):
    for colony in cast.colonies[:3]:
        end_colony(colony=colony, ended_on=DUE.date(), why="died", by=cast.alice)


def _moved_ahead(cast, recount):
    type(recount).objects.filter(pk=recount.pk).update(
        earliest_on="2026-09-01", ideal_on="2026-09-01", latest_on="2026-09-10"
    )


@pytest.mark.parametrize(
    "happened",
    [_cancel, _skip, _leave, _shut_out, _suspend, _other_address, _other_keeper, _all_gone, _moved_ahead],
)
def test_link_is_over_when_what_it_stands_on_is(cast, recount, link, happened):
    _, fields = fields_of(Client().get(link).content.decode())
    happened(cast, recount)
    before = number_of_rows()

    answers = [Client().get(link), Client().post(link, fields | WASH | _mites(cast.colonies[0], 4))]

    for answer in answers:
        assert (answer.status_code, "This link is over" in answer.content.decode()) == (410, True)
        assert "Home yard" not in answer.content.decode()
    assert number_of_rows() == before


@pytest.mark.parametrize(
    ("moment", "status"),
    # Latest day 3 Sep, a count serves 28 days more: until midnight after 1 Oct in Berlin.
    [(at("10-01", 21, 59), 200), (at("10-01", 22), 410)],
)
def test_link_ends_with_the_last_day_of_use(link, time_machine, moment, status):
    time_machine.move_to(moment, tick=False)
    assert Client().get(link).status_code == status


def test_link_ends_after_45_days_at_most(cast, recount, link, time_machine):
    type(recount).objects.filter(pk=recount.pk).update(latest_on="2026-12-01")
    time_machine.move_to(DUE + dt.timedelta(days=45, seconds=-1), tick=False)
    assert Client().get(link).status_code == 200
    time_machine.move_to(DUE + dt.timedelta(days=45), tick=False)
    assert Client().get(link).status_code == 410


def _forgeries(cast, recount, link):
    token = _token(link)
    payload, _, signature = token.partition(":")
    word = [recount.pk, cast.alice.pk, int(DUE.timestamp()), "0" * 16]
    other = signing.Signer(salt=ENTRY_SALT).sign_object([recount.pk + 1, *word[1:]]).partition(":")[0]
    return [
        token[:-1],
        token[:-1] + ("a" if token[-1] != "a" else "b"),
        f"{other}:{signature}",
        payload,
        f"{payload}:",
        signing.dumps(word, salt=STOP_SALT),
        signing.dumps(word),
        signing.Signer(salt=ENTRY_SALT, key="another key").sign_object(word),
        "nonsense",
        "%00",
        "ü:ß",
        "x" * 6000,
    ]


def test_forged_links_are_answered_like_any_nonsense(cast, recount, link):
    before, pages = number_of_rows(), set()
    for token in _forgeries(cast, recount, link):
        for answer in (Client().get(f"/recount/{token}/"), Client().post(f"/recount/{token}/", WASH)):
            assert answer.status_code == 404, token
            pages.add(re.sub(rb'nonce="[^"]*"', b"", answer.content))
    assert len(pages) == 1
    assert number_of_rows() == before


def test_link_of_a_recount_that_is_no_more_is_over(cast, recount):
    word = [recount.pk + 999, cast.alice.pk, int(DUE.timestamp()), "0" * 16]
    token = signing.Signer(salt=ENTRY_SALT).sign_object(word)
    assert entry_with(token, at=DUE) is Shut.OVER


def test_link_of_somebody_else_is_over(cast, recount):
    word = [recount.pk, cast.bob.pk, int(DUE.timestamp()), address_mark(cast.alice)]
    token = signing.Signer(salt=ENTRY_SALT).sign_object(word)
    assert entry_with(token, at=DUE) is Shut.OVER


def test_sending_is_limited(link, settings):
    settings.ACCOUNT_RATE_LIMITS = {"entry_link": "2/h/ip"}
    cache.clear()
    assert [Client().post(link, WASH).status_code for _ in range(3)] == [200, 200, 429]
    assert Client().get(link).status_code == 200
