"""Actions: what they write, what they refuse, and that they leave who did it in the history."""

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from django.apps import apps
from django.core.exceptions import ValidationError
from django.utils import timezone

from apiaries.actions import (
    AlreadyEnded,
    AlreadyMember,
    InvitationClosed,
    LastAdministrator,
    LeftMeanwhile,
    MayNotInvite,
    NameTaken,
    NeedsRegion,
    NotAMember,
    OtherAddress,
    OwnYard,
    SameYard,
    TooMany,
    accept_invitation,
    add_colonies,
    add_helper,
    add_numbered_colonies,
    add_person,
    add_yard,
    change_role,
    describe_colony,
    edit_yard,
    end_colony,
    end_membership,
    invite,
    move_colony,
    set_sharing,
    set_up_yard,
    sign_up,
    withdraw_invitation,
)
from apiaries.models import Brood, Colony, Invitation, Person, Yard
from apiaries.permissions import Role

AT = dt.datetime(2026, 8, 12, 9, tzinfo=dt.UTC)
ON = dt.date(2026, 8, 12)


def invited(cast: Any, email: str = "new@example.org", **changed: Any) -> Invitation:
    return invite(
        **{"club": cast.club, "email": email, "role": Role.MEMBER, "at": AT, "by": cast.dana} | changed
    )


# ---------- people


def test_invitation_is_good_for_fourteen_days(cast: Any) -> None:
    invitation = invited(cast, " New@Example.org ")

    assert invitation.email == "new@example.org"
    assert invitation.is_open(AT + dt.timedelta(days=14, seconds=-1))
    assert not invitation.is_open(AT + dt.timedelta(days=14))


def test_second_invitation_closes_the_first(cast: Any) -> None:
    first, second = invited(cast), invited(cast)

    first.refresh_from_db()
    assert first.withdrawn_by == cast.dana
    assert second.is_open(AT)


@pytest.mark.parametrize("role", [Role.COORDINATOR, Role.INSPECTOR, Role.ADMINISTRATOR])
def test_coordinator_invites_members_only(cast: Any, role: Role) -> None:
    with pytest.raises(MayNotInvite):
        invited(cast, role=role)


@pytest.mark.parametrize("name", ["alice", "ines", "zoe"])
def test_others_invite_nobody(cast: Any, name: str) -> None:
    with pytest.raises(MayNotInvite):
        invited(cast, by=getattr(cast, name))


def test_member_cannot_be_invited_again(cast: Any) -> None:
    with pytest.raises(AlreadyMember):
        invited(cast, "ALICE@example.org")


def test_membership_elsewhere_is_told_to_nobody_but_the_invited(cast: Any) -> None:
    invitation = invited(cast, "ZOE@example.org")

    with pytest.raises(AlreadyMember):
        accept_invitation(invitation=invitation, at=AT, by=cast.zoe)


def test_sign_up_makes_person_and_membership(cast: Any) -> None:
    invitation = invited(cast, role=Role.INSPECTOR, regions=[cast.south], by=cast.adam)

    person = sign_up(invitation=invitation, email="NEW@example.org", name="Nia", password="pw", at=AT)

    assert (person.email, person.name, person.time_zone) == ("new@example.org", "Nia", "Europe/Berlin")
    assert person.membership.role == Role.INSPECTOR
    assert list(person.membership.regions.all()) == [cast.south]
    invitation.refresh_from_db()
    assert invitation.accepted_by == person


def test_sign_up_twice_makes_one_person(cast: Any) -> None:
    invitation = invited(cast)
    sign_up(invitation=invitation, email="new@example.org", name="Nia", password="pw", at=AT)

    with pytest.raises(InvitationClosed):
        sign_up(invitation=invitation, email="new@example.org", name="Nia", password="pw", at=AT)

    assert Person.objects.filter(email="new@example.org").count() == 1


def test_sign_up_with_another_address_leaves_nothing(cast: Any) -> None:
    invitation = invited(cast)

    with pytest.raises(OtherAddress):
        sign_up(invitation=invitation, email="other@example.org", name="Nia", password="pw", at=AT)

    invitation.refresh_from_db()
    assert invitation.is_open(AT)
    assert not Person.objects.filter(email="other@example.org").exists()


@pytest.mark.parametrize("close", ["withdrawn", "expired"])
def test_closed_invitation_is_not_accepted(cast: Any, close: str) -> None:
    invitation, nia = invited(cast), add_person(email="new@example.org", name="Nia")
    if close == "withdrawn":
        withdraw_invitation(invitation=invitation, at=AT, by=cast.dana)

    with pytest.raises(InvitationClosed):
        accept_invitation(invitation=invitation, at=AT + dt.timedelta(days=14), by=nia)

    assert nia.membership is None


def test_accepted_invitation_is_not_withdrawn(cast: Any) -> None:
    invitation = invited(cast)
    accept_invitation(invitation=invitation, at=AT, by=add_person(email="new@example.org", name="Nia"))
    invitation.refresh_from_db()

    assert withdraw_invitation(invitation=invitation, at=AT, by=cast.dana).withdrawn_at is None


def test_member_accepts_no_second_invitation(cast: Any) -> None:
    invitation = invited(cast)

    with pytest.raises(AlreadyMember):
        accept_invitation(invitation=invitation, at=AT, by=cast.zoe)


def test_last_administrator_stays(cast: Any) -> None:
    with pytest.raises(LastAdministrator):
        end_membership(membership=cast.adam.membership, at=AT, by=cast.adam)

    assert cast.club.memberships.current().filter(person=cast.adam).exists()


def test_regions_of_another_club_are_refused(cast: Any) -> None:
    foreign = cast.zoe.membership.club.regions.create(name="Far")

    with pytest.raises(ValueError, match="another club"):
        change_role(membership=cast.ines.membership, role=Role.INSPECTOR, regions=[foreign], by=cast.adam)


def test_role_is_changed_and_the_history_says_by_whom(cast: Any) -> None:
    charlie = cast.charlie.membership

    assert change_role(membership=charlie, role=Role.COORDINATOR, by=cast.adam)

    event = (
        apps.get_model("apiaries", "MembershipEvent").objects.filter(pgh_obj_id=charlie.pk).latest("pgh_id")
    )
    assert event.role == Role.COORDINATOR
    assert event.pgh_context.metadata == {"by": cast.adam.pk, "verb": "change_role"}
    assert not change_role(membership=charlie, role=Role.COORDINATOR, by=cast.adam)


def test_regions_of_an_inspector_stay_in_the_history(cast: Any) -> None:
    ines = cast.ines.membership

    change_role(membership=ines, role=Role.INSPECTOR, regions=[cast.south], by=cast.adam)
    change_role(membership=ines, role=Role.MEMBER, regions=[cast.south], by=cast.adam)

    assert not ines.regions.exists()
    events = apps.get_model("apiaries", "MembershipRegionEvent").objects.filter(membership=ines)
    assert sorted(events.values_list("pgh_label", "region__name")) == [
        ("delete", "North"),
        ("delete", "South"),
        ("insert", "North"),
        ("insert", "South"),
    ]
    assert events.latest("pgh_id").pgh_context.metadata["by"] == cast.adam.pk


def test_role_that_cannot_be_is_refused(cast: Any) -> None:
    with pytest.raises(NeedsRegion):
        change_role(membership=cast.charlie.membership, role=Role.INSPECTOR, by=cast.adam)
    with pytest.raises(LastAdministrator):
        change_role(membership=cast.adam.membership, role=Role.MEMBER, by=cast.adam)
    gone = cast.charlie.memberships.get()
    end_membership(membership=gone, at=AT, by=cast.adam)
    with pytest.raises(LeftMeanwhile):
        change_role(membership=gone, role=Role.COORDINATOR, by=cast.adam)

    assert cast.club.memberships.current().filter(role=Role.ADMINISTRATOR).count() == 1


def test_only_the_member_says_who_sees_their_counts(cast: Any) -> None:
    with pytest.raises(ValueError, match="Only the member"):
        set_sharing(membership=cast.alice.membership, shares_counts=True, by=cast.dana)


# ---------- yards


def test_yard_gets_its_coarse_cell_from_the_exact_place(cast: Any) -> None:
    # H3 cell of resolution 5 for this point, computed with the h3 library 4 on its own.
    yard = edit_yard(
        yard=cast.alice_yard,
        name="Home",
        region=cast.north,
        latitude=Decimal("52.52"),
        longitude=Decimal("13.405"),
        by=cast.alice,
    )
    assert yard.cell == "851f1d4bfffffff"

    edit_yard(yard=yard, name="Home", region=cast.north, latitude=None, longitude=None, by=cast.alice)
    assert yard.cell == ""


def test_of_a_place_only_its_area_is_kept(cast: Any) -> None:
    home = {"yard": cast.alice_yard, "name": "Home", "region": cast.north, "by": cast.alice}

    edit_yard(**home, latitude=Decimal("52.52"), longitude=Decimal("13.405"), area_only=True)
    kept = Yard.objects.get(pk=cast.alice_yard.pk)
    assert (kept.cell, kept.latitude, kept.longitude) == ("851f1d4bfffffff", None, None)

    edit_yard(**home, latitude=None, longitude=None, area_only=True)
    assert Yard.objects.get(pk=kept.pk).cell == "851f1d4bfffffff"

    edit_yard(**home, latitude=None, longitude=None)
    assert Yard.objects.get(pk=kept.pk).cell == ""


def test_place_that_is_not_kept_is_in_no_history(cast: Any) -> None:
    yard = add_yard(
        keeper=cast.alice,
        region=cast.north,
        name="Hidden",
        latitude=Decimal("52.52"),
        longitude=Decimal("13.405"),
        area_only=True,
        by=cast.alice,
    )

    (event,) = Yard.pgh_event_model.objects.filter(pgh_obj_id=yard.pk)
    assert (event.cell, event.latitude, event.longitude) == ("851f1d4bfffffff", None, None)


def test_yard_stays_in_its_own_club(cast: Any) -> None:
    with pytest.raises(NotAMember):
        add_yard(keeper=cast.zoe, region=cast.north, name="Far", by=cast.zoe)
    with pytest.raises(NotAMember):
        add_helper(yard=cast.alice_yard, person=cast.zoe, by=cast.alice)


def test_set_up_yard_is_all_or_nothing(cast: Any) -> None:
    with pytest.raises(NameTaken):
        set_up_yard(
            keeper=cast.alice,
            region=cast.north,
            name="New yard",
            latitude=None,
            longitude=None,
            colonies=["1", "1"],
            started_on=ON,
            by=cast.alice,
        )

    assert not Yard.objects.filter(name="New yard").exists()


def test_keeper_is_no_helper_and_a_helper_is_one_once(cast: Any) -> None:
    with pytest.raises(OwnYard):
        add_helper(yard=cast.alice_yard, person=cast.alice, by=cast.alice)

    again = add_helper(yard=cast.alice_yard, person=cast.bob, by=cast.alice)

    assert cast.alice_yard.helpers.get() == again


# ---------- colonies


def test_numbered_colonies_are_read_in_order(cast: Any) -> None:
    add_numbered_colonies(yard=cast.alice_yard, first=9, last=11, started_on=ON, by=cast.alice)
    add_colonies(yard=cast.alice_yard, names=["Blue"], started_on=ON, by=cast.alice)

    names = [colony.name for colony in cast.alice_yard.colonies.in_reading_order()]
    assert names == ["1", "2", "3", "4", "5", "6", "9", "10", "11", "Blue"]


def test_taken_names_add_no_colony_at_all(cast: Any) -> None:
    with pytest.raises(NameTaken) as caught:
        add_numbered_colonies(yard=cast.alice_yard, first=5, last=9, started_on=ON, by=cast.alice)

    assert caught.value.names == ("5", "6")
    assert cast.alice_yard.colonies.count() == 6


@pytest.mark.parametrize(("first", "last"), [(5, 4), (-1, 3), (1, 201)])
def test_ranges_that_cannot_be_are_refused(cast: Any, first: int, last: int) -> None:
    with pytest.raises(TooMany):
        add_numbered_colonies(yard=cast.alice_yard, first=first, last=last, started_on=ON, by=cast.alice)


def test_described_brood_needs_its_day(cast: Any) -> None:
    seen = {"name": "1", "brood_boxes": 2, "supers_on": True, "by": cast.alice}
    with pytest.raises(ValidationError):
        describe_colony(colony=cast.colony, brood=Brood.NONE, brood_seen_on=None, **seen)

    colony = describe_colony(colony=cast.colony, brood=Brood.UNKNOWN, brood_seen_on=ON, **seen)
    assert colony.brood_seen_on is None


def test_move_keeps_where_it_came_from(cast: Any) -> None:
    other = add_yard(keeper=cast.alice, region=cast.south, name="Other", by=cast.alice)

    move = move_colony(colony=cast.colony, to_yard=other, moved_on=ON, by=cast.alice)

    assert (move.from_yard, move.to_yard) == (cast.alice_yard, other)
    assert Colony.objects.get(pk=cast.colony.pk).yard == other


def test_move_is_refused_within_a_yard_or_onto_a_name(cast: Any) -> None:
    other = add_yard(keeper=cast.alice, region=cast.south, name="Other", by=cast.alice)
    add_colonies(yard=other, names=["1"], started_on=ON, by=cast.alice)

    with pytest.raises(NameTaken):
        move_colony(colony=cast.colony, to_yard=other, moved_on=ON, by=cast.alice)
    with pytest.raises(SameYard):
        move_colony(colony=cast.colony, to_yard=cast.alice_yard, moved_on=ON, by=cast.alice)


def test_colony_that_is_gone_frees_its_name_and_stays_put(cast: Any) -> None:
    other = add_yard(keeper=cast.alice, region=cast.south, name="Other", by=cast.alice)
    end_colony(colony=cast.colony, ended_on=ON, why=" sold ", by=cast.alice)

    add_colonies(yard=cast.alice_yard, names=["1"], started_on=ON, by=cast.alice)

    assert cast.colony.ended_why == "sold"
    with pytest.raises(AlreadyEnded):
        end_colony(colony=cast.colony, ended_on=ON, why="again", by=cast.alice)
    with pytest.raises(AlreadyEnded):
        move_colony(colony=cast.colony, to_yard=other, moved_on=ON, by=cast.alice)


# ---------- history


def test_history_keeps_who_changed_a_yard_and_how(cast: Any) -> None:
    events = apps.get_model("apiaries", "YardEvent").objects

    edit_yard(
        yard=cast.alice_yard, name="Renamed", region=cast.north, latitude=None, longitude=None, by=cast.alice
    )

    event = events.filter(pgh_obj_id=cast.alice_yard.pk).latest("pgh_id")
    assert event.name == "Renamed"
    assert event.pgh_context.metadata == {"by": cast.alice.pk, "verb": "edit_yard"}
    assert event.pgh_created_at <= timezone.now()
