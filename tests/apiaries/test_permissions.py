"""What each role includes, and whom it may invite."""

import pytest

from apiaries.permissions import (
    ROLE_PERMISSIONS,
    ROLE_WORDS,
    Permission,
    Role,
    has_permission,
    roles_invitable_by,
)


def test_every_role_has_permissions_and_words() -> None:
    assert set(ROLE_PERMISSIONS) == set(ROLE_WORDS) == set(Role)


def test_every_permission_belongs_to_somebody() -> None:
    assert {permission for kept in ROLE_PERMISSIONS.values() for permission in kept} == set(Permission)


def test_inspector_keeps_no_yards_and_invites_nobody() -> None:
    assert not has_permission(Role.INSPECTOR, Permission.YARD_CREATE)
    assert roles_invitable_by(Role.INSPECTOR) == ()


def test_nobody_without_a_role_has_a_permission() -> None:
    assert not any(has_permission(None, permission) for permission in Permission)
    assert roles_invitable_by(None) == ()


def test_unknown_role_is_a_mistake() -> None:
    with pytest.raises(ValueError, match="queen"):
        has_permission("queen", Permission.REGION_VIEW)


def test_coordinator_lifts_nobody_above_member() -> None:
    assert roles_invitable_by(Role.COORDINATOR) == (Role.MEMBER,)


def test_administrator_hands_out_every_role() -> None:
    assert set(roles_invitable_by(Role.ADMINISTRATOR)) == set(Role)


@pytest.mark.parametrize("role", [role for role in Role if role is not Role.ADMINISTRATOR])
def test_only_administrators_change_the_club(role: Role) -> None:
    assert not has_permission(role, Permission.CLUB_EDIT)
    assert has_permission(Role.ADMINISTRATOR, Permission.CLUB_EDIT)
