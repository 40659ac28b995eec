"""What others see of me: held against what they are really shown when they look themselves."""

import datetime as dt
import re
from collections.abc import Callable
from decimal import Decimal
from html import unescape
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from apiaries.actions import change_role, edit_yard, end_helper, end_membership, set_sharing
from apiaries.models import Person, Yard, anybody
from apiaries.permissions import Role
from reports.models import Suspension
from reports.seen_of_me import Seen, seen_of, yards_seen
from tests.access.world import World, make_world
from tests.cast import Cast

Opens = Callable[[Person | None], Client]
PLACE = ("52.51234", "13.45678")
URL = "/me/seen/"
OF_ROLE = {
    "charlie": "Every other member",
    "dana": "Coordinators",
    "ivan": "Inspectors of other regions",
    "adam": "Administrators",
    "zoe": "Anybody outside the club",
}
NAMED = {"bob": "Bob", "ines": "Ines"}


@pytest.fixture
def world(cast: Cast, reference: None) -> World:
    """Alice's yard with an exact place, counts, a treatment, a purchase and a disposal."""
    edit_yard(
        yard=cast.alice_yard,
        name="Home yard",
        region=cast.north,
        latitude=Decimal(PLACE[0]),
        longitude=Decimal(PLACE[1]),
        by=cast.alice,
    )
    return make_world(cast)


def _part(seen: list[Seen], name: str) -> Seen:
    (found,) = (one for one in seen if one.title == (OF_ROLE | NAMED)[name])
    return found


def _text(client: Client, url: str) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]*>", " ", client.get(url).content.decode())))


@pytest.mark.parametrize("shares", [False, True])
@pytest.mark.parametrize("name", [*OF_ROLE, *NAMED])
def test_each_is_told_to_see_what_they_see(world: World, client_for: Opens, name: str, shares: bool) -> None:
    """Row by row of what the page says, beside the pages that this person really gets."""
    cast = world.cast
    set_sharing(membership=cast.alice.membership, shares_counts=shares, by=cast.alice)
    part = _part(seen_of(Person.objects.get(pk=cast.alice.pk)), name)
    theirs = client_for(Person.objects.get(pk=getattr(cast, name).pk))
    told = {row.yard.pk for row in part.yards}

    detail = reverse("apiaries:yard-detail", args=[cast.alice_yard.pk])
    assert (theirs.get(detail).status_code == 200) == (cast.alice_yard.pk in told)
    assert ("Home yard" in _text(theirs, "/yards/")) == bool(told)
    place = part.yards[0].place if part.yards else None
    assert (PLACE[0] in _text(theirs, detail)) == (place == (Decimal(PLACE[0]), Decimal(PLACE[1])))
    counts = part.yards[0].counts if part.yards else 0
    rows = theirs.get("/counts/").context["page"].object_list
    assert counts == sum(1 for one in rows if one.yard_id == cast.alice_yard.pk and one.voided_at is None)
    given = part.yards[0].treatments if part.yards else 0
    treatments = theirs.get("/treatments/").context["page"].object_list
    assert given == sum(1 for one in treatments if one.yard_id == cast.alice_yard.pk)
    facts = dict(part.facts)
    listed = "You in the list of members" in facts
    members = theirs.get("/members/")
    assert (
        ("alice@example.org" in members.content.decode())
        == listed
        == (members.status_code == 200 and name != "zoe")
    )
    record = theirs.get("/records/", {"keeper": cast.alice.pk, "year": 2026}).context["record"]
    seen = record is not None and record.keeper == cast.alice and len(record.purchases) == 1
    assert ("Medicines you bought" in facts) == ("Medicines you disposed of" in facts) == seen


@pytest.mark.parametrize(
    ("name", "shares", "yards"),
    [
        ("charlie", True, 0),
        ("dana", False, 0),
        ("dana", True, 1),
        ("ivan", True, 0),
        ("adam", True, 0),
        ("zoe", True, 0),
    ],
)
def test_expected_by_hand(world: World, name: str, shares: bool, yards: int) -> None:
    """Written down without the code's help: a mistake shared by page and pages would show here."""
    cast = world.cast
    set_sharing(membership=cast.alice.membership, shares_counts=shares, by=cast.alice)

    part = _part(seen_of(Person.objects.get(pk=cast.alice.pk)), name)

    assert len(part.yards) == yards
    assert all(row.place is None and not row.may_place for row in part.yards)
    assert part.nothing == (name in ("charlie", "ivan", "zoe"))


def test_page_of_a_keeper(world: World, client_for: Opens) -> None:
    text = _text(client_for(world.cast.alice), URL)

    assert "You did not say that coordinators may see your yards and counts, so they do not ." in text
    bob = text.split("Bob Helps in Home yard.")[1].split("Ines Inspector of North.")[0]
    assert "Home yard North 52.51234, 13.45678 6 3, newest 12 Aug 2026 2" in bob
    assert "Medicines you bought 1 entry" in bob and "Medicines you disposed of 1 entry" in bob
    everybody = text.split("Every other member")[1].split("Coordinators")[0]
    assert "Nothing of you." in everybody
    coordinators = text.split("Coordinators At present Dana.")[1].split("Inspectors of other regions")[0]
    assert "None of your yards, counts or treatments." in coordinators
    assert "Alice, alice@example.org, member" in coordinators
    assert PLACE[0] not in text.split("Every other member")[1]
    assert "your calendar address sees" in text


def test_sharing_shows_the_yard_but_not_its_place(world: World, client_for: Opens) -> None:
    cast = world.cast
    set_sharing(membership=cast.alice.membership, shares_counts=True, by=cast.alice)

    text = _text(client_for(Person.objects.get(pk=cast.alice.pk)), URL)

    coordinators = text.split("Coordinators At present Dana.")[1].split("Inspectors of other regions")[0]
    assert "Home yard North not shown 6 3, newest 12 Aug 2026 2" in coordinators
    assert "You said that coordinators may see your yards and counts ." in text


def test_page_of_a_helper(world: World) -> None:
    """Bob is seen by Alice as her helper, and by name on what he logged there, also by Ines."""
    seen = seen_of(world.cast.bob)
    by_title = {one.title: dict(one.facts) for one in seen}

    assert by_title["Alice"]["You among the helpers of their yards"] == "Bob, bob@example.org"
    assert by_title["Alice"]["Your name on counts that you logged in other yards"] == "1 count"
    assert "Ines" not in by_title
    assert by_title["Every other member"] == {}


def test_name_on_count_weeks_is_seen_by_all_members(world: World) -> None:
    seen = {one.title: dict(one.facts) for one in seen_of(world.cast.dana)}

    assert seen["Every other member"] == {"Your name on count weeks that you set or cancelled": "1 week"}
    assert seen["Anybody outside the club"] == {}


def test_reasons_end_with_help_role_and_region(world: World) -> None:
    cast = world.cast
    end_helper(helper=world.helper, at=timezone.now(), by=cast.alice)
    change_role(membership=cast.ines.membership, role=Role.INSPECTOR, regions=[cast.south], by=cast.adam)

    assert {one.title for one in seen_of(cast.alice)} == set(OF_ROLE.values())


def test_area_is_told_where_only_that_is_kept(world: World, client_for: Opens) -> None:
    yard = world.cast.alice_yard
    place = {"latitude": yard.latitude, "longitude": yard.longitude, "area_only": True}
    edit_yard(yard=yard, name=yard.name, region=yard.region, **place, by=world.cast.alice)

    text = _text(client_for(world.cast.alice), URL)

    assert text.count("Home yard North only its area 6") == 2  # Bob and Ines
    assert PLACE[0] not in text


def test_who_left_the_club_is_still_seen_by_its_inspector(world: World) -> None:
    cast = world.cast
    end_membership(membership=cast.alice.membership, at=timezone.now(), by=cast.adam)
    gone = Person.objects.get(pk=cast.alice.pk)

    seen = {one.title: one for one in seen_of(gone)}

    assert [row.yard for row in seen["Ines"].yards] == [cast.alice_yard]
    assert seen["Coordinators"].nothing


def test_unreached_by_mail_is_told(world: World) -> None:
    cast = world.cast
    Suspension.objects.create(person=cast.alice, email=cast.alice.email, why="550", since=timezone.now())

    facts = dict(_part(seen_of(cast.alice), "dana").facts)

    assert "550" not in str(facts) and "That no mail reaches you" in facts


def test_nobody_in_particular_sees_what_members_of_the_role_see(world: World) -> None:
    cast = world.cast
    set_sharing(membership=cast.alice.membership, shares_counts=True, by=cast.alice)
    real = {Role.MEMBER: cast.charlie, Role.COORDINATOR: cast.dana, Role.ADMINISTRATOR: cast.adam}

    for role, person in real.items():
        assert yards_seen(cast.alice, anybody(cast.club, role)) == yards_seen(cast.alice, person), role
    assert not Yard.objects.visible_to(anybody(cast.club, Role.INSPECTOR)).exists()
    assert not Yard.objects.visible_to(anybody(None)).exists()


def test_everybody_has_the_page(world: World, client_for: Opens) -> None:
    cast: Any = world.cast
    for name in ("alice", "bob", "charlie", "dana", "ines", "ivan", "adam", "zoe"):
        page = client_for(getattr(cast, name)).get(URL)
        assert page.status_code == 200
        assert all(
            row.yard.keeper_id == getattr(cast, name).pk for one in page.context["seen"] for row in one.yards
        )


def test_queries_do_not_grow_with_yards(world: World, django_assert_max_num_queries: Any) -> None:
    cast = world.cast
    with django_assert_max_num_queries(110) as queries:
        seen_of(cast.alice)
    before = len(queries)
    for number in range(5):
        edit = {"name": f"Yard {number}", "latitude": None, "longitude": None}
        Yard.objects.create(club=cast.club, keeper=cast.alice, region=cast.north, time_zone="UTC", **edit)
    assert dt.date(2026, 8, 12) in {row.counted_on for one in seen_of(cast.alice) for row in one.yards}
    with django_assert_max_num_queries(before):
        seen_of(cast.alice)
