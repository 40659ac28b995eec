"""Calendar feeds, read by two parsers: R15. RFC 5545 and RFC 7986, from memory."""

import datetime as dt
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import icalendar
import pytest
import time_machine
import vobject
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from apiaries.actions import add_numbered_colonies, add_yard, edit_yard, end_helper, end_membership
from apiaries.models import Person, Yard
from counts.actions import NewCount, record_sample
from counts.samples import BeesBy, Method
from reports.actions import make_calendar_feed, revoke_calendar_feed
from reports.calendar_text import FeedEvent, calendar_text
from reports.models import CalendarFeed
from tests.access.odd import ODD
from tests.cast import STARTED, Cast
from tests.reports.treating import GIVEN, at, treated
from treatments.actions import (
    NewDose,
    NewRound,
    NewTreatment,
    cancel_treatment,
    give_round,
    record_treatment,
    skip_recount,
    take_out,
)
from treatments.models import Application

NOW = at("08-20", 5)
DAY = dt.timedelta(days=1)
Opens = Callable[[Person | None], Client]


@pytest.fixture(autouse=True)
def clock(reference: None) -> Any:
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


def _feed(person: Person, yard: Yard | None = None) -> str:
    word = make_calendar_feed(person=person, yard=yard, at=NOW, by=person)
    return reverse("reports:calendar-feed", args=[word])


def _events(url: str) -> dict[str, Any]:
    """By the part of the UID that names the thing; read by the first parser."""
    body = Client().get(url).content
    return {str(one["uid"]).split("-")[0]: one for one in icalendar.Calendar.from_ical(body).walk("VEVENT")}


def _planned(cast: Cast, rounds: int = 2, way: str = "formic_gel_strip_us") -> Any:
    """A treatment that is all ahead."""
    new = NewTreatment(
        yard=cast.alice_yard,
        application=Application.objects.get(key=way),
        rounds=tuple(NewRound(planned_on=dt.date(2026, 9, 1) + 10 * DAY * n) for n in range(rounds)),
        withdrawal_days=3,
    )
    return record_treatment(new=new, at=NOW, by=cast.alice)


def test_two_parsers_read_the_same_days(cast: Cast) -> None:
    treated(cast.colonies)
    _planned(cast)
    body = Client().get(_feed(cast.alice)).content

    first = {str(e["uid"]): (e["dtstart"].dt, e["dtend"].dt, str(e["summary"]))
             for e in icalendar.Calendar.from_ical(body).walk("VEVENT")}  # fmt: skip
    second = {e.uid.value: (e.dtstart.value, e.dtend.value, e.summary.value)
              for e in vobject.readOne(body.decode()).vevent_list}  # fmt: skip

    assert first == second
    assert len(first) == 6  # a recount and a clear date of each, and two rounds
    assert all(type(start) is dt.date and end == start + DAY for start, end, _ in first.values())


def test_text_is_folded_and_ends_its_lines_as_the_standard_says(cast: Cast) -> None:
    Yard.objects.filter(pk=cast.alice_yard.pk).update(name="Bärenheide; unter den Linden, " + "ü" * 45)
    treated(cast.colonies)

    body = Client().get(_feed(cast.alice)).content

    assert body.endswith(b"END:VCALENDAR\r\n")
    assert b"\n" not in body.replace(b"\r\n", b"")
    assert max(len(line) for line in body.split(b"\r\n")) <= 75
    assert b"DTSTART;VALUE=DATE:20260820\r\nDTEND;VALUE=DATE:20260821\r\n" in body
    assert b"REFRESH-INTERVAL;VALUE=DURATION:PT12H\r\n" in body
    assert b"X-PUBLISHED-TTL:PT12H\r\n" in body
    summary = vobject.readOne(body.decode()).vevent_list[0].summary.value
    assert "Bärenheide; unter den Linden, " + "ü" * 45 in summary


@pytest.mark.parametrize(
    "zone",
    ["Europe/Berlin", "Australia/Lord_Howe", "Pacific/Chatham", "Antarctica/Troll", "Asia/Tokyo",
     "Pacific/Kiritimati", "America/Phoenix", "UTC"],
)  # fmt: skip
def test_a_day_is_the_same_day_in_every_zone(cast: Cast, zone: str) -> None:
    Person.objects.update(time_zone=zone)
    Yard.objects.update(time_zone=zone)
    treated(cast.colonies)

    recount = _events(_feed(cast.alice))["recount"]

    assert (recount["dtstart"].dt, recount["dtend"].dt) == (GIVEN + 14 * DAY, GIVEN + 15 * DAY)
    assert recount["dtstamp"].dt.utcoffset() == dt.timedelta(0)


@pytest.mark.parametrize(
    "on", [dt.date(2027, 3, 28), dt.date(2026, 10, 25), dt.date(2026, 12, 31), dt.date(2028, 2, 28)]
)
def test_an_event_ends_on_the_day_after_on_odd_days_too(on: dt.date) -> None:
    event = FeedEvent(
        uid="a@b", on=on, summary="s", description="d", url="https://example.org", ended=False,
        sequence=1, changed_at=NOW,
    )  # fmt: skip

    (read,) = icalendar.Calendar.from_ical(calendar_text([event], name="n")).walk("VEVENT")

    assert (read["dtstart"].dt, read["dtend"].dt) == (on, on + DAY)


def test_changes_keep_the_uid_and_raise_the_sequence(cast: Cast) -> None:
    treatment, url = _planned(cast, rounds=1), _feed(cast.alice)
    round_ = treatment.rounds.get()
    seen = [_events(url)]
    later = dt.datetime(2026, 9, 3, 10, tzinfo=dt.UTC)

    with time_machine.travel(later, tick=False):
        doses = tuple(NewDose(colony, Decimal(1)) for colony in cast.colonies)
        give_round(round_=round_, given_on=dt.date(2026, 9, 3), doses=doses, at=later, by=cast.alice)
        seen.append(_events(url))
        place = {"region": cast.north, "latitude": None, "longitude": None}
        edit_yard(yard=cast.alice_yard, name="Heath", **place, by=cast.alice)
        seen.append(_events(url))
        cancel_treatment(treatment=treatment, why="spilt 12 mites at 51.5", at=later, by=cast.alice)
        seen.append(_events(url))

    assert len({str(one["recount"]["uid"]) for one in seen}) == 1
    sequences = [one["recount"]["sequence"] for one in seen]
    assert sequences == sorted(set(sequences))
    assert seen[1]["recount"]["dtstart"].dt == seen[0]["recount"]["dtstart"].dt + 2 * DAY
    assert (seen[0]["round"].get("status"), seen[1]["round"]["status"]) == (None, "CANCELLED")
    assert str(seen[1]["round"]["summary"]).startswith("Done: ")
    assert str(seen[2]["recount"]["summary"]) == "Recount, Heath"
    assert {str(one["status"]) for one in seen[3].values()} == {"CANCELLED"}
    assert "spilt" not in str(seen[3])


def test_cancelled_is_kept_thirty_days(cast: Cast, clock: Any) -> None:
    treatment, url = _planned(cast), _feed(cast.alice)
    cancel_treatment(treatment=treatment, why="rain", at=NOW, by=cast.alice)

    clock.move_to(NOW + 30 * DAY)
    assert "recount" in _events(url)
    clock.move_to(NOW + 31 * DAY)
    assert _events(url) == {}


def test_skipped_and_done_recounts_are_marked(cast: Cast) -> None:
    url = _feed(cast.alice)
    recount = treated(cast.colonies)
    before = _events(url)["recount"]
    for colony in cast.colonies:
        for on, mites in ((GIVEN - DAY, 9), (GIVEN + 14 * DAY, 1)):
            new = NewCount(colony, Method.ALCOHOL_WASH, on, mites, bees=300, bees_by=BeesBy.VOLUME)
            record_sample(count=new, at=NOW, by=cast.alice)

    done = _events(url)["recount"]
    assert str(done["summary"]) == "Done: recount, Home yard"
    assert done["sequence"] > before["sequence"] and done["uid"] == before["uid"]

    skip_recount(recount=recount, why="sold", at=NOW, by=cast.alice)
    assert str(_events(url)["recount"]["summary"]) == "Skipped: recount, Home yard"


def test_what_stays_in_is_told_until_it_is_out(cast: Cast) -> None:
    url = _feed(cast.alice)
    way = Application.objects.filter(stays_in_days__gt=20).first()
    recount = treated(cast.colonies, way=way.key)
    out = _events(url)["out"]
    assert out["dtstart"].dt == GIVEN + way.stays_in_days * DAY and "status" not in out

    take_out(round_=recount.treatment.rounds.get(), out_on=NOW.date(), at=NOW, by=cast.alice)

    assert str(_events(url)["out"]["status"]) == "CANCELLED"


def test_etag_stays_while_nothing_changes(cast: Cast, clock: Any) -> None:
    treatment, url = _planned(cast), _feed(cast.alice)
    first = Client().get(url)
    clock.move_to(NOW + dt.timedelta(hours=40))

    again = Client().get(url, headers={"If-None-Match": f'"x", W/{first["ETag"]}'})
    assert (again.status_code, again.content, again["ETag"]) == (304, b"", first["ETag"])
    assert Client().get(url).content == first.content

    cancel_treatment(treatment=treatment, why="rain", at=NOW, by=cast.alice)
    changed = Client().get(url, headers={"If-None-Match": first["ETag"]})
    assert changed.status_code == 200 and changed["ETag"] != first["ETag"]
    assert first["Content-Type"] == "text/calendar; charset=utf-8"
    assert "private" in first["Cache-Control"] and first["Referrer-Policy"] == "no-referrer"


def test_no_counts_and_no_places(cast: Cast) -> None:
    Yard.objects.update(latitude="54.12345", longitude="10.54321")
    treated(cast.colonies)
    new = NewCount(cast.colony, Method.ALCOHOL_WASH, GIVEN, 77, bees=300, bees_by=BeesBy.VOLUME)
    record_sample(count=new, at=NOW, by=cast.alice)

    calendar = vobject.readOne(Client().get(_feed(cast.alice)).content.decode())
    body = " ".join(f"{one.summary.value} {one.description.value}" for one in calendar.vevent_list)

    assert {name for one in calendar.vevent_list for name in one.contents} == {
        "uid", "dtstamp", "last-modified", "sequence", "dtstart", "dtend", "summary", "description", "url",
        "transp", "class",
    }  # fmt: skip
    assert "Recount" in body
    for secret in ("54.12", "10.54", "77", "300", "mites per"):
        assert secret not in body, secret


def test_only_ones_own_yards_and_those_one_helps_in(cast: Cast) -> None:
    treated(cast.colonies)
    treated(list(cast.charlie_yard.colonies.all()))

    assert [str(one["summary"]) for one in _events(_feed(cast.alice)).values()][0].endswith("Home yard")
    bobs = Client().get(_feed(cast.bob)).content
    assert b"a yard you help in" in bobs and b"Home yard" not in bobs and b"Orchard" not in bobs
    for other in (cast.dana, cast.ines, cast.zoe):
        assert _events(_feed(other)) == {}


def test_a_yards_feed_tells_of_that_yard_alone(cast: Cast) -> None:
    heath = add_yard(keeper=cast.alice, region=cast.north, name="Heath", by=cast.alice)
    colonies = add_numbered_colonies(yard=heath, first=1, last=1, started_on=STARTED, by=cast.alice)
    treated(cast.colonies)
    treated(colonies)

    body = Client().get(_feed(cast.alice, heath)).content
    assert b"Heath" in body and b"Home yard" not in body
    assert Client().get(_feed(cast.alice)).content.count(b"BEGIN:VEVENT") == 4


def test_helper_who_stopped_and_member_who_left(cast: Cast) -> None:
    treated(cast.colonies)
    all_yards, one_yard, own = _feed(cast.bob), _feed(cast.bob, cast.alice_yard), _feed(cast.alice)
    end_helper(helper=cast.alice_yard.helpers.get(), at=NOW, by=cast.alice)
    end_membership(membership=cast.alice.memberships.get(), at=NOW, by=cast.adam)

    assert _events(all_yards) == {}
    assert Client().get(one_yard).status_code == 404
    assert "recount" in _events(own)  # who left still sees their own yards

    Person.objects.filter(pk=cast.alice.pk).update(is_active=False)
    assert Client().get(own).status_code == 404


def test_revoked_and_odd_words_are_not_there(cast: Cast) -> None:
    url = _feed(cast.alice)
    assert Client().get(url).status_code == 200
    feed = CalendarFeed.objects.get()
    assert revoke_calendar_feed(feed=feed, at=NOW, by=cast.alice)
    assert not revoke_calendar_feed(feed=feed, at=NOW + DAY, by=cast.alice)

    assert Client().get(url).status_code == 404
    for odd in (*ODD, feed.digest, "%00", "%ff%fe", "\udcff"):
        path = "/calendar/" + odd.encode(errors="replace").decode().replace("?", "").replace("#", "")[:3000]
        assert Client().get(path + ".ics").status_code == 404, odd[:40]
    assert Client().post(url).status_code == 405


def test_making_anew_ends_the_old_address_and_one_stands_at_a_time(cast: Cast) -> None:
    old, new = _feed(cast.alice), _feed(cast.alice)

    assert (Client().get(old).status_code, Client().get(new).status_code) == (404, 200)
    assert CalendarFeed.objects.standing().count() == 1
    for yard in (None, cast.alice_yard):
        _feed(cast.alice, yard)
        twin = CalendarFeed(person=cast.alice, yard=yard, digest="d" * 64, made_at=NOW, made_by=cast.alice)
        with pytest.raises(IntegrityError), transaction.atomic():
            twin.save()


def test_page_shows_an_address_once(cast: Cast, client_for: Opens) -> None:
    client, page = client_for(cast.alice), reverse("reports:calendar")
    form = {"key": client.get(page).context["key"]}
    make = reverse("reports:calendar-make-yard", args=[cast.alice_yard.pk])
    made = client.post(make, form)
    address = made.context["address"]

    assert address in made.content.decode()
    assert Client().get(address).status_code == 200
    assert not set(map(str, client.session.values())) & {
        address,
        address.rsplit("/")[-1].removesuffix(".ics"),
    }
    again = client.post(make, form, follow=True)  # the answer loaded again: the address just copied goes on
    assert "This address is made already" in again.content.decode()
    assert Client().get(address).status_code == 200 and CalendarFeed.objects.count() == 1
    assert address not in client.get(page).content.decode()
    assert client.get(make).status_code == 302
    assert address.rsplit("/")[-1].removesuffix(".ics") not in str(CalendarFeed.objects.values())

    client.post(reverse("reports:calendar-revoke", args=[CalendarFeed.objects.get().pk]))
    assert Client().get(address).status_code == 404
    assert CalendarFeed.objects.get().revoked_by == cast.alice


def test_too_many_requests_are_refused(cast: Cast, settings: Any) -> None:
    settings.ACCOUNT_RATE_LIMITS = settings.ACCOUNT_RATE_LIMITS | {"calendar": "2/m/ip"}
    url = _feed(cast.alice)

    assert [Client().get(url).status_code for _ in range(3)] == [200, 200, 429]


def test_queries_do_not_grow(cast: Cast) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as caught:
            assert Client().get(url).status_code == 200
        return len(caught)

    url = _feed(cast.alice)
    treated(cast.colonies)
    Client().get(url)
    few = queries()
    for name in ("Heath", "Moor", "Ridge"):
        yard = add_yard(keeper=cast.alice, region=cast.north, name=name, by=cast.alice)
        treated(add_numbered_colonies(yard=yard, first=1, last=5, started_on=STARTED, by=cast.alice))

    assert queries() == few
    assert Client().get(url).content.count(b"BEGIN:VEVENT") == 8
