"""A fact's past: who, when, what was, what is, why; and nothing that the fact's own page would not show."""

import datetime as dt
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from apiaries.actions import (
    add_helper,
    add_region,
    add_yard,
    change_role,
    describe_colony,
    edit_club,
    edit_yard,
    end_colony,
    end_helper,
    move_colony,
    requeen_colony,
    set_sharing,
    undo_change,
)
from apiaries.history import action
from apiaries.models import Brood, Colony, ColonyChange, Person, Region, Yard
from apiaries.permissions import Role
from apiaries.row_history import event_model
from apiaries.what_changed import Change, FieldChange, Past, past_of_fact
from tests.cast import Cast

AT = dt.datetime(2026, 8, 12, 10, tzinfo=dt.UTC)
ON = dt.date(2026, 8, 12)
Opens = Callable[[Person | None], Client]


def edit(yard: Yard, by: Person, **changed: Any) -> Yard:
    fresh = Yard.objects.get(pk=yard.pk)
    facts = {
        "name": fresh.name,
        "region": fresh.region,
        "latitude": fresh.latitude,
        "longitude": fresh.longitude,
    }
    return edit_yard(yard=fresh, by=by, **facts | changed)


def describe(colony: Colony, by: Person, **changed: Any) -> Colony:
    fresh = Colony.objects.get(pk=colony.pk)
    facts = {"name": fresh.name, "brood_boxes": 1, "supers_on": False, "brood": Brood.UNKNOWN}
    return describe_colony(colony=fresh, by=by, **{"brood_seen_on": None} | facts | changed)


def fields(change: Change) -> list[FieldChange]:
    return [one for row in change.rows for one in row.fields]


def text(past: Past) -> str:
    return repr(past)


def test_last_change_stands_first_with_who_and_what(cast: Cast) -> None:
    edit(cast.alice_yard, cast.alice, name="Garden", region=cast.south)

    last, first = past_of_fact("yard", cast.alice_yard, cast.bob).changes

    assert (last.by, last.verb, last.why) == ("Alice", "Yard changed", "")
    assert fields(last) == [
        FieldChange("Name", "Home yard", "Garden"),
        FieldChange("Region", "North", "South"),
    ]
    assert (first.by, first.verb) == ("Alice", "Yard added")
    assert FieldChange("Name", None, "Home yard") in fields(first)


def test_moment_and_reason_of_the_action_are_told_on_the_readers_clock(cast: Cast) -> None:
    change = requeen_colony(colony=cast.colony, requeened_on=ON, note="own breeding", by=cast.alice)
    undo_change(change=change, why="wrong hive", at=AT, by=cast.alice)

    undone = next(
        one for one in past_of_fact("colony", cast.colony, cast.bob).changes if one.verb == "Undone"
    )

    assert (undone.by, undone.why) == ("Alice", "wrong hive")
    assert undone.at is not None and undone.at.isoformat() == "2026-08-12T12:00:00+02:00"
    assert fields(undone) == [
        FieldChange("Undone", "nothing", "12 Aug 2026, 12:00"),
        FieldChange("Undone by", "nothing", "Alice"),
    ]


def test_saving_without_a_change_is_no_change(cast: Cast) -> None:
    before = past_of_fact("yard", cast.alice_yard, cast.alice)

    edit(cast.alice_yard, cast.alice)

    assert past_of_fact("yard", cast.alice_yard, cast.alice) == before


def test_outer_action_is_what_the_person_did(cast: Cast) -> None:
    @action
    def tidy_up(*, by: Person) -> None:
        describe(cast.colony, by, brood_boxes=2)

    tidy_up(by=cast.alice)

    event = event_model(Colony).objects.filter(pgh_obj=cast.colony.pk).latest("pgh_id")
    assert event.pgh_context.metadata == {"by": cast.alice.pk, "verb": "tidy_up"}
    describe(cast.colony, cast.alice, brood_boxes=3)
    event = event_model(Colony).objects.filter(pgh_obj=cast.colony.pk).latest("pgh_id")
    assert event.pgh_context.metadata["verb"] == "describe_colony"


def test_exact_place_is_told_to_its_keeper_and_never_where_it_was_to_others(cast: Cast) -> None:
    edit(cast.alice_yard, cast.alice, latitude=Decimal("52.52001"), longitude=Decimal("13.40495"))
    edit(cast.alice_yard, cast.alice, latitude=Decimal("48.13743"), longitude=Decimal("11.57549"))
    edit(cast.alice_yard, cast.alice, latitude=None, longitude=None, area_only=True)
    set_sharing(membership=cast.alice.memberships.get(), shares_counts=True, by=cast.alice)

    own = past_of_fact("yard", cast.alice_yard, cast.alice)
    moved = [fields(change) for change in own.changes if change.verb == "Yard changed"]
    assert moved == [
        [FieldChange("Exact place", "48.13743, 11.57549", "only its area")],
        [FieldChange("Exact place", "52.52001, 13.40495", "48.13743, 11.57549")],
        [FieldChange("Exact place", "nothing", "52.52001, 13.40495")],
    ]
    for other in (cast.bob, cast.ines):
        told = past_of_fact("yard", cast.alice_yard, other)
        assert "52.52" not in text(told) and "48.13" not in text(told)
        assert [fields(change) for change in told.changes if change.verb == "Yard changed"] == [
            [FieldChange("Exact place", "given", "only its area")],
            [FieldChange("Exact place", "given", "another one, which is not shown")],
            [FieldChange("Exact place", "nothing", "given")],
        ]
    # A coordinator does not see whether there is a place at all.
    coordinators = past_of_fact("yard", cast.alice_yard, cast.dana)
    assert "Exact place" not in text(coordinators)
    assert [change.verb for change in coordinators.changes] == ["Yard added"]


def test_helpers_are_told_to_the_keeper_alone(cast: Cast) -> None:
    end_helper(helper=cast.alice_yard.helpers.get(), at=AT, by=cast.alice)
    add_helper(yard=cast.alice_yard, person=cast.charlie, by=cast.alice)

    assert "Bob" in text(past_of_fact("yard", cast.alice_yard, cast.alice))
    assert "Bob" not in text(past_of_fact("yard", cast.alice_yard, cast.ines))
    assert "Bob" not in text(past_of_fact("yard", cast.alice_yard, cast.charlie))


def test_old_yard_of_a_moved_colony_is_not_named_to_who_cannot_see_it(cast: Cast) -> None:
    old = add_yard(keeper=cast.alice, region=cast.south, name="Secret meadow", by=cast.alice)
    colony = Colony.objects.create(yard=old, name="77", started_on=ON)
    describe(colony, cast.alice, brood_boxes=3)
    describe(colony, cast.alice, brood_boxes=4)
    move_colony(colony=colony, to_yard=cast.alice_yard, moved_on=ON, by=cast.alice)
    describe(colony, cast.alice, brood_boxes=5)
    colony.refresh_from_db()

    helpers = past_of_fact("colony", colony, cast.bob)
    keepers = past_of_fact("colony", colony, cast.alice)

    assert "Secret meadow" not in text(helpers) and helpers.withheld
    assert "'3'" not in text(helpers), "what was noted in a yard that the helper cannot see"
    assert FieldChange("Yard", "a yard you cannot see", "Home yard") in [
        one for change in helpers.changes for one in fields(change)
    ]
    assert [fields(change) for change in helpers.changes if change.verb == "Colony described anew"]
    assert "Secret meadow" in text(keepers) and not keepers.withheld


def test_membership_tells_no_address_and_not_what_is_shared_to_others(cast: Cast) -> None:
    membership = cast.charlie.memberships.get()
    cast.charlie.email = "new-address@example.org"
    cast.charlie.save()
    set_sharing(membership=membership, shares_counts=True, by=cast.charlie)
    change_role(membership=membership, role=Role.INSPECTOR, regions=[cast.north], by=cast.adam)

    admins = past_of_fact("membership", membership, cast.adam)
    own = past_of_fact("membership", membership, cast.charlie)

    assert "example.org" not in text(admins) + text(own)
    assert "Coordinators may see" not in text(admins)
    assert FieldChange("Coordinators may see the counts", "no", "yes") in fields(own.changes[1])
    assert (admins.changes[0].by, admins.changes[0].verb) == ("Adam", "Role or regions changed")
    assert fields(admins.changes[0]) == [FieldChange("Role", "Member", "Inspector")]
    assert [(row.heading, row.named, row.how) for row in admins.changes[0].rows] == [
        ("", (), "changed"),
        ("Region", ("North",), "added"),
    ]


def test_row_older_than_its_history_says_so(cast: Cast) -> None:
    events = event_model(Region)
    events.objects.filter(pgh_obj=cast.north.pk).delete()

    (only,) = past_of_fact("region", cast.north, cast.adam).changes

    assert (only.at, only.by, only.verb) == (None, "", "Noted before changes were kept")
    assert fields(only) == [FieldChange("Name", None, "North")]


def test_first_change_of_an_older_row_does_not_pretend_to_know_what_was(cast: Cast) -> None:
    event_model(Yard).objects.filter(pgh_obj=cast.alice_yard.pk).delete()
    edit(cast.alice_yard, cast.alice, name="Garden")

    changed, before = past_of_fact("yard", cast.alice_yard, cast.bob).changes

    assert before.verb == "Noted before changes were kept" and not fields(before)
    assert FieldChange("Name", "not kept", "Garden") in fields(changed)


def test_what_no_person_did_is_told_as_such(transactional_db: Any, cast: Cast) -> None:
    Region.objects.filter(pk=cast.north.pk).update(name="Far north")
    region = add_region(club=cast.club, name="East", by=None)

    itself = past_of_fact("region", cast.north, cast.adam).changes[0]
    command = past_of_fact("region", region, cast.adam).changes[0]

    assert (itself.by, itself.verb) == ("Recount itself", "Changed")
    assert command.by == "a command of the operator"


def test_club_tells_settings_in_words(cast: Cast) -> None:
    edit_club(
        club=cast.club,
        name=cast.club.name,
        time_zone="Europe/Berlin",
        jurisdiction="DE",
        action_level_issuer="",
        bees_per_half_cup=400,
        by=cast.adam,
    )

    changes = past_of_fact("club", cast.club, cast.adam).changes
    changed = next(change for change in changes if change.verb == "Settings changed")
    said = {one.label: (one.was, one.now) for one in fields(changed)}

    assert said["Whose labels apply"] == ("None in particular", "Germany")
    assert said["Bees taken as one level half cup"] == ("300", "400")
    assert said["Whose action levels counts are compared with"][1] == "nothing"


@pytest.mark.parametrize("kind", ["yard", "colony"])
def test_queries_do_not_grow_with_changes(cast: Cast, kind: str) -> None:
    fact = cast.alice_yard if kind == "yard" else cast.colony

    def number() -> int:
        with CaptureQueriesContext(
            connection,
        ) as found:
            past_of_fact(kind, type(fact).objects.select_related().get(pk=fact.pk), cast.alice)
        return len(found)

    requeen_colony(colony=cast.colony, requeened_on=ON, by=cast.alice)
    first = number()
    for n in range(2, 6):
        edit(cast.alice_yard, cast.alice, name=f"Garden {n}", region=cast.south if n % 2 else cast.north)
        describe(cast.colony, cast.alice, brood_boxes=n)
        undo_change(
            change=requeen_colony(colony=cast.colony, requeened_on=ON, by=cast.alice),
            why="slip",
            at=AT,
            by=cast.alice,
        )

    assert number() == first


def test_page_shows_was_and_is_in_words_and_marks(cast: Cast, client_for: Opens) -> None:
    describe(cast.colony, cast.alice, supers_on=True, brood=Brood.SOME, brood_seen_on=ON)
    end_colony(colony=cast.colony, ended_on=ON, why="<b>sold</b>", by=cast.alice)

    client = client_for(cast.bob)
    page = client.get(reverse("apiaries:history", args=["colony", cast.colony.pk])).content.decode()

    assert "was <del>off</del>, now <ins>on</ins>" in page
    assert "Why: &lt;b&gt;sold&lt;/b&gt;" in page and "<b>sold" not in page
    assert "was <del>nothing</del>, now <ins>12 Aug 2026</ins>" in page
    way = reverse("apiaries:history", args=["colony", cast.colony.pk])
    assert way in client.get(reverse("apiaries:colony-detail", args=[cast.colony.pk])).content.decode()


def test_long_past_has_pages(cast: Cast, client_for: Opens) -> None:
    for n in range(60):
        describe(cast.colony, cast.alice, brood_boxes=1 + n % 2, name=f"1-{n}")

    url = reverse("apiaries:history", args=["colony", cast.colony.pk])
    first = client_for(cast.alice).get(url)
    second = client_for(cast.alice).get(url, {"page": "2"})

    assert (len(first.context["page"]), len(second.context["page"])) == (50, 11)
    assert "Page 1 of 2" in first.content.decode()


def test_undone_change_is_of_this_colony(cast: Cast) -> None:
    requeen_colony(colony=cast.colonies[1], requeened_on=ON, by=cast.alice)

    assert ColonyChange.objects.count() == 1
    assert "Another queen noted" not in text(past_of_fact("colony", cast.colony, cast.alice))
    assert "Another queen noted" in text(past_of_fact("colony", cast.colonies[1], cast.alice))
