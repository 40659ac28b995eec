"""Who is out is out: of the club, of a yard, of a role; by page, program and calendar, from the next request on."""

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest
from django.db import transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from apiaries.actions import end_helper, end_membership
from apiaries.models import Membership, Person, Visit
from apiaries.permissions import Role
from counts.models import MiteSample
from reports.actions import close_public_page, make_calendar_feed, revoke_calendar_feed
from reports.models import CalendarFeed
from tests.access.answers import told
from tests.access.policy import PEOPLE, rows
from tests.access.world import World
from tests.api_asking import Program
from tests.cast import join, make_person

Opens = Callable[[Person | None], Client]
SHUT = {"404", "403"}
LEAVERS = [name for name in PEOPLE if name not in ("stranger", "zoe", "alice")]


@pytest.fixture
def world(made: World, db: Any) -> World:
    return made


def _status(world: World, client: Client, program: Program, row: tuple[str, str, str, Any]) -> str:
    name, words, verb, _ = row
    url = reverse(name, kwargs=world.arguments(words))
    with transaction.atomic():
        if name.startswith("api:"):
            answer = program.ask(url, verb, None if verb == "GET" else {})
        else:
            answer = client.generic(verb, url)
        transaction.set_rollback(True)
    return str(answer.status_code)


@pytest.mark.parametrize("person", LEAVERS)
def test_who_left_the_club_gets_no_more_than_another_club(
    world: World, client_for: Opens, person: str
) -> None:
    """What Zoe of another club does not find, they do not find; what only a role opened is shut."""
    join(world.cast.club, make_person("Ada"), Role.ADMINISTRATOR)  # the last one could not leave
    who = getattr(world.cast, person)
    client, program = client_for(who), Program(who)
    keyed = [
        row for row in rows() if row[3]["zoe"] == "404" and row[1] and not row[1].startswith("past of c")
    ]
    by_role = [
        row for row in rows() if not row[1] and row[3]["charlie"] in SHUT and row[3][person] not in SHUT
    ]
    lost = [row[:2] for row in keyed if _status(world, client, program, row) not in SHUT]

    end_membership(membership=who.memberships.get(ended_at=None), at=timezone.now(), by=world.cast.adam)

    for row in keyed:
        assert _status(world, client, program, row) == "404", row[:3]
    for row in by_role:
        assert _status(world, client, program, row) in SHUT, row[:3]
    assert len(lost) > 5 or person in ("charlie", "ivan"), lost
    assert program.ask("yards/").json()["items"] == [] or person == "charlie"


def test_who_no_longer_helps_finds_nothing_of_the_yard(world: World, client_for: Opens) -> None:
    bob = world.cast.bob
    client, program = client_for(bob), Program(bob)
    hidden = [row for row in rows() if row[3]["charlie"] == "404" and row[1]]
    assert sum(_status(world, client, program, row) == "200" for row in hidden) > 20

    end_helper(helper=world.helper, at=timezone.now(), by=world.cast.alice)

    for row in hidden:
        assert _status(world, client, program, row) == "404", row[:3]
    assert b"Home yard" not in program.ask("yards/").content


def _leaves(world: World) -> None:
    end_membership(membership=world.cast.bob.memberships.get(), at=timezone.now(), by=world.cast.adam)


def _stops_helping(world: World) -> None:
    end_helper(helper=world.helper, at=timezone.now(), by=world.cast.alice)


@pytest.mark.parametrize("ends", [_leaves, _stops_helping])
def test_calendars_forget_a_yard_that_is_out_of_reach(world: World, ends: Callable[[World], None]) -> None:
    """What they tell of it is known by the key of the treatment: a helper's calendar names no yard."""
    bob, key = world.cast.bob, str(world.treatment.entry_key).encode()
    urls = [
        reverse(
            "reports:calendar-feed",
            args=[make_calendar_feed(person=bob, yard=yard, at=timezone.now(), by=bob)],
        )
        for yard in (world.cast.alice_yard, None)
    ]
    never = reverse("reports:calendar-feed", args=["nonsense"])
    assert all(key in Client().get(url).content for url in urls)

    ends(world)

    one, every = (Client().get(url) for url in urls)
    assert told(one, urls[0]) == told(Client().get(never), never)
    assert every.status_code == 200 and key not in every.content


def test_a_revoked_calendar_and_a_closed_page_are_as_what_never_was(world: World) -> None:
    feed = reverse("reports:calendar-feed", args=[world.calendar_word])
    page = reverse("reports:region-outside", args=[world.public.word])
    assert [Client().get(url).status_code for url in (feed, page)] == [200, 200]

    revoke_calendar_feed(
        feed=CalendarFeed.objects.get(pk=world.calendar.pk), at=timezone.now(), by=world.cast.alice
    )
    close_public_page(club=world.cast.club, at=timezone.now(), by=world.cast.adam)

    for url, name in ((feed, "reports:calendar-feed"), (page, "reports:region-outside")):
        never = reverse(name, args=["nonsense"])
        assert told(Client().get(url), url) == told(Client().get(never), never)


@pytest.mark.parametrize("address", ["reports:visit-correct", "reports:visit-void"])
def test_an_inspector_of_another_region_changes_no_report(
    world: World, client_for: Opens, address: str
) -> None:
    """Ines recorded it; the region is no longer hers."""
    membership = world.cast.ines.memberships.get()
    client, url = client_for(world.cast.ines), reverse(address, kwargs={"pk": world.visit.pk})
    assert client.get(url).status_code == 200

    membership.regions.set([world.cast.south])

    client = client_for(Person.objects.get(pk=world.cast.ines.pk))
    for answer in (client.get(url), client.post(url, {"why": "misread"})):
        assert answer.status_code == 404
    world.visit.refresh_from_db()
    assert world.visit.voided_at is None
    assert not Visit.objects.editable_by(Person.objects.get(pk=world.cast.ines.pk)).exists()


def test_a_count_of_a_visit_is_not_the_keepers_to_change(world: World, client_for: Opens) -> None:
    sample = world.visit.samples.get()
    for address in ("counts:sample-correct", "counts:sample-void", "counts:sample-restore"):
        url = reverse(address, kwargs={"pk": sample.pk})
        assert client_for(world.cast.alice).post(url, {"why": "misread", "mites": "1"}).status_code == 403
    assert MiteSample.objects.get(pk=sample.pk).voided_at is None


def test_an_ended_membership_gives_no_right(world: World) -> None:
    """Also one that ends a moment before another in the same club begins: the role is the new one's."""
    dana = world.cast.dana
    end_membership(
        membership=dana.memberships.get(), at=timezone.now() - dt.timedelta(days=1), by=world.cast.adam
    )
    Membership.objects.create(club=world.cast.club, person=dana, role=Role.MEMBER)

    assert Program(Person.objects.get(pk=dana.pk)).ask("me/").json()["club"]["role"] == "member"
