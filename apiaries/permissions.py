"""What a role may do in its club, as plain lists, and its words. Pure.

Rights over single yards do not come from a role alone: the keeper and the helpers of a yard have theirs by being
that (see `apiaries.access`). An ADR explains every change here.
"""

from enum import StrEnum

from apiaries.language import mark, mark_as, say_as


class Role(StrEnum):
    """A person's place in a club."""

    MEMBER = "member"
    COORDINATOR = "coordinator"
    INSPECTOR = "inspector"
    ADMINISTRATOR = "administrator"


class Permission(StrEnum):
    """Object first, then the verb."""

    YARD_CREATE = "yard_create"
    YARD_VIEW_IN_REGION = "yard_view_in_region"
    SAMPLE_VIEW_SHARED = "sample_view_shared"
    REGION_VIEW = "region_view"
    REGION_VIEW_LIVE = "region_view_live"
    MEMBER_VIEW = "member_view"
    MEMBER_INVITE = "member_invite"
    CLUB_EDIT = "club_edit"
    COUNT_WEEK_SET = "count_week_set"
    BULLETIN_WRITE = "bulletin_write"
    VISIT_RECORD = "visit_record"


ROLE_PERMISSIONS: dict[Role, tuple[Permission, ...]] = {
    Role.MEMBER: (Permission.YARD_CREATE, Permission.REGION_VIEW),
    Role.COORDINATOR: (
        Permission.YARD_CREATE,
        Permission.SAMPLE_VIEW_SHARED,
        Permission.REGION_VIEW,
        Permission.REGION_VIEW_LIVE,
        Permission.MEMBER_VIEW,
        Permission.MEMBER_INVITE,
        Permission.COUNT_WEEK_SET,
        Permission.BULLETIN_WRITE,
    ),
    Role.INSPECTOR: (
        Permission.YARD_VIEW_IN_REGION,
        Permission.REGION_VIEW,
        Permission.REGION_VIEW_LIVE,
        Permission.VISIT_RECORD,
    ),
    Role.ADMINISTRATOR: (
        Permission.YARD_CREATE,
        Permission.REGION_VIEW,
        Permission.REGION_VIEW_LIVE,
        Permission.MEMBER_VIEW,
        Permission.MEMBER_INVITE,
        Permission.CLUB_EDIT,
        Permission.COUNT_WEEK_SET,
        Permission.BULLETIN_WRITE,
    ),
}

ROLE_WORDS: dict[Role, str] = {
    Role.MEMBER: mark("Keeps yards, logs counts and treatments, sees the months that are published."),
    Role.COORDINATOR: mark(
        "Also invites members, asks for counts, and sees those of members who said they may be seen."
    ),
    Role.INSPECTOR: mark(
        "Sees every yard in the regions assigned to them and records visits there, with the counts made at them; "
        "changes nothing else in a keeper's yard."
    ),
    Role.ADMINISTRATOR: mark("Also invites members with any role and sets the club up."),
}
"""What each role is for; said where it is shown."""
_NAMES: dict[Role, str] = {
    Role.MEMBER: mark_as("role", "Member"),
    Role.COORDINATOR: mark_as("role", "Coordinator"),
    Role.INSPECTOR: mark_as("role", "Inspector"),
    Role.ADMINISTRATOR: mark_as("role", "Administrator"),
}
_WORDS_WITHIN: dict[Role, str] = {
    Role.MEMBER: mark_as("role, within a sentence", "member"),
    Role.COORDINATOR: mark_as("role, within a sentence", "coordinator"),
    Role.INSPECTOR: mark_as("role, within a sentence", "inspector"),
    Role.ADMINISTRATOR: mark_as("role, within a sentence", "administrator"),
}


def role_name(role: str) -> str:
    """Coordinator: the role as it stands in a table or begins a line."""
    return say_as("role", _NAMES[Role(role)])


def role_within(role: str) -> str:
    """coordinator: the role as it stands within a sentence."""
    return say_as("role, within a sentence", _WORDS_WITHIN[Role(role)])


def has_permission(role: str | None, permission: Permission) -> bool:
    """Whether a role includes a permission; no role has none. An unknown role is a programmer's mistake."""
    if role is None:
        return False
    return permission in ROLE_PERMISSIONS[Role(role)]


def roles_invitable_by(role: str | None) -> tuple[Role, ...]:
    """The roles that somebody with `role` may hand out: nobody lifts a person above their own rights."""
    if not has_permission(role, Permission.MEMBER_INVITE):
        return ()
    return tuple(Role) if Role(role or "") is Role.ADMINISTRATOR else (Role.MEMBER,)
