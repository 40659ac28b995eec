"""The page "Who can see what" says what the querysets do, and the line of a yard is true for that yard."""

from decimal import Decimal
from typing import Any

import pytest
from django.utils import timezone

from apiaries.actions import add_helper, edit_yard, end_membership, set_sharing
from apiaries.models import Yard
from apiaries.permissions import ROLE_PERMISSIONS, Permission, Role
from apiaries.who_sees import PERMISSION_WORDS, ROW_RULES, role_table, who_sees_yard

# The rules of ROW_RULES, in order, as questions to the querysets; the one about single counts is asked in
# tests/counts.
ASKED = {
    0: "visible_to",
    1: "exact_place_visible_to",
    2: "recordable_by",
    4: "editable_by",
    5: "exact_place_visible_to",
}


@pytest.mark.parametrize("number", ASKED)
def test_rules_of_a_yard_say_what_the_querysets_do(cast: Any, number: int) -> None:
    set_sharing(membership=cast.alice.membership, shares_counts=True, by=cast.alice)
    rule, ask = ROW_RULES[number], getattr(Yard.objects, ASKED[number])

    has = {name for name in vars(cast) if hasattr(getattr(cast, name), "email")}
    has = {name for name in has if cast.alice_yard in ask(getattr(cast, name))}

    named = {"alice": rule.keeper, "bob": rule.helper, "ines": rule.inspector_here, "dana": rule.coordinator}
    assert has == {name for name, yes in named.items() if yes}


def test_role_table_is_the_list_the_service_asks() -> None:
    for permission, row in zip(Permission, role_table(), strict=True):
        assert row.words == PERMISSION_WORDS[permission]
        assert dict(row.cells) == {
            role.value.capitalize(): permission in ROLE_PERMISSIONS[role] for role in Role
        }


def test_line_names_helper_and_inspector_by_number(cast: Any) -> None:
    assert who_sees_yard(cast.alice_yard, viewer=cast.alice) == (
        "Seen by you, 1 helper and 1 inspector of North. Nobody else."
        " Coordinators see only figures of the whole region."
    )


def test_line_names_the_keeper_to_others(cast: Any) -> None:
    add_helper(yard=cast.alice_yard, person=cast.charlie, by=cast.alice)

    assert who_sees_yard(cast.alice_yard, viewer=cast.bob).startswith(
        "Seen by Alice, 2 helpers and 1 inspector"
    )


def test_line_says_when_coordinators_see_it(cast: Any) -> None:
    set_sharing(membership=cast.alice.membership, shares_counts=True, by=cast.alice)

    assert who_sees_yard(cast.alice_yard, viewer=cast.alice) == (
        "Seen by you, 1 helper, 1 inspector of North and the club's coordinators, but not the exact place."
        " Nobody else."
    )


def test_line_follows_region_and_membership(cast: Any) -> None:
    end_membership(membership=cast.bob.membership, at=timezone.now(), by=cast.adam)
    end_membership(membership=cast.ivan.membership, at=timezone.now(), by=cast.adam)
    edit_yard(
        yard=cast.alice_yard,
        name="Home",
        region=cast.south,
        latitude=Decimal("1"),
        longitude=Decimal("2"),
        by=cast.alice,
    )

    assert who_sees_yard(cast.alice_yard, viewer=cast.alice).startswith("Seen by you. Nobody else.")
