"""Gates: what one cannot see is not there (404), what one can see but not change is refused (403)."""

from collections.abc import Callable
from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.utils import timezone

from apiaries.access import (
    club_for,
    colony_for,
    editable_colony_for,
    editable_yard_for,
    helper_for,
    invitation_for,
    invitation_with,
    member_for,
    membership_of,
    recordable_colony_for,
    recordable_yard_for,
    yard_for,
)
from apiaries.actions import end_helper, end_membership, invite, set_sharing
from apiaries.models import Person, Yard
from apiaries.permissions import Permission, Role

SEEN, REFUSED, ABSENT = "seen", "refused", "absent"


def answer(gate: Callable[..., Any], *args: Any) -> str:
    """What a gate says, as a word."""
    try:
        gate(*args)
    except PermissionDenied:
        return REFUSED
    except Http404:
        return ABSENT
    return SEEN


@pytest.mark.parametrize(
    ("name", "sees", "records", "edits"),
    [
        ("alice", SEEN, SEEN, SEEN),
        ("bob", SEEN, SEEN, REFUSED),
        ("ines", SEEN, REFUSED, REFUSED),
        ("charlie", ABSENT, ABSENT, ABSENT),
        ("dana", ABSENT, ABSENT, ABSENT),
        ("ivan", ABSENT, ABSENT, ABSENT),
        ("adam", ABSENT, ABSENT, ABSENT),
        ("zoe", ABSENT, ABSENT, ABSENT),
    ],
)
def test_gates_of_alices_yard(cast: Any, name: str, sees: str, records: str, edits: str) -> None:
    person, yard, colony = getattr(cast, name), cast.alice_yard.pk, cast.colony.pk

    yards = [answer(gate, person, yard) for gate in (yard_for, recordable_yard_for, editable_yard_for)]
    colonies = [
        answer(gate, person, colony) for gate in (colony_for, recordable_colony_for, editable_colony_for)
    ]

    assert yards == colonies == [sees, records, edits]


def test_coordinator_sees_a_sharing_keepers_yard_but_not_its_place(cast: Any) -> None:
    set_sharing(membership=cast.alice.membership, shares_counts=True, by=cast.alice)

    assert answer(yard_for, cast.dana, cast.alice_yard.pk) == SEEN
    assert answer(recordable_yard_for, cast.dana, cast.alice_yard.pk) == REFUSED
    assert not Yard.objects.exact_place_visible_to(cast.dana).exists()


@pytest.mark.parametrize("name", ["alice", "bob", "ines"])
def test_exact_place_seen_by_keeper_helper_and_inspector(cast: Any, name: str) -> None:
    assert cast.alice_yard in Yard.objects.exact_place_visible_to(getattr(cast, name))


@pytest.mark.parametrize("name", ["charlie", "dana", "ivan", "adam", "zoe"])
def test_exact_place_hidden_from_others(cast: Any, name: str) -> None:
    assert cast.alice_yard not in Yard.objects.exact_place_visible_to(getattr(cast, name))


def test_helper_whose_help_ended_sees_nothing(cast: Any) -> None:
    end_helper(helper=cast.alice_yard.helpers.get(), at=timezone.now(), by=cast.alice)

    assert answer(yard_for, cast.bob, cast.alice_yard.pk) == ABSENT


def test_helper_who_left_the_club_sees_nothing(cast: Any) -> None:
    end_membership(membership=cast.bob.membership, at=timezone.now(), by=cast.adam)
    del cast.bob.membership

    assert answer(yard_for, cast.bob, cast.alice_yard.pk) == ABSENT
    assert answer(membership_of, cast.bob) == ABSENT


def test_visible_yards_are_listed_once(cast: Any) -> None:
    cast.ines.membership.regions.set([cast.north, cast.south])

    assert list(Yard.objects.visible_to(cast.ines)) == [cast.alice_yard, cast.charlie_yard]


@pytest.mark.parametrize(
    ("name", "said"),
    [("adam", SEEN), ("dana", REFUSED), ("alice", REFUSED), ("ines", REFUSED), ("zoe", ABSENT)],
)
def test_member_gate(cast: Any, name: str, said: str) -> None:
    member = cast.charlie.membership

    assert answer(member_for, getattr(cast, name), member.pk, Permission.CLUB_EDIT) == said


@pytest.mark.parametrize(
    ("name", "said"), [("adam", SEEN), ("dana", SEEN), ("alice", REFUSED), ("ines", REFUSED), ("zoe", ABSENT)]
)
def test_invitation_gate(cast: Any, name: str, said: str) -> None:
    invitation = invite(
        club=cast.club, email="new@example.org", role=Role.MEMBER, at=timezone.now(), by=cast.dana
    )

    assert answer(invitation_for, getattr(cast, name), invitation.pk) == said
    assert invitation_with(invitation.token) == invitation


def test_unknown_invitation_is_absent(cast: Any) -> None:
    assert answer(invitation_with, "nonsense") == ABSENT


def test_helper_gate_knows_the_yard_and_the_end(cast: Any) -> None:
    helper = cast.alice_yard.helpers.get()

    assert answer(helper_for, cast.charlie_yard, helper.pk) == ABSENT
    assert answer(helper_for, cast.alice_yard, helper.pk) == SEEN
    end_helper(helper=helper, at=timezone.now(), by=cast.alice)
    assert answer(helper_for, cast.alice_yard, helper.pk) == ABSENT


def test_club_gate_follows_the_role(cast: Any) -> None:
    assert club_for(cast.adam, Permission.CLUB_EDIT) == cast.club
    assert answer(club_for, cast.dana, Permission.CLUB_EDIT) == REFUSED


def test_who_left_the_club_still_reads_their_yard_but_writes_no_more(cast: Any) -> None:
    alice = cast.alice
    end_membership(membership=alice.memberships.get(), at=timezone.now(), by=cast.adam)
    alice = Person.objects.get(pk=alice.pk)

    assert list(Yard.objects.visible_to(alice)) == [cast.alice_yard]
    assert not Yard.objects.editable_by(alice).exists()
    assert not Yard.objects.recordable_by(alice).exists()
