"""Write the page of who may do what from the lists that the service itself asks.

.venv/bin/python docs/reference/make_permissions.py            writes the page
.venv/bin/python docs/reference/make_permissions.py --check    exits 1 if it is stale
"""

from __future__ import annotations

import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parents[1])]

import django  # noqa: E402

from config.entry import prepare  # noqa: E402

prepare("check")  # names the settings; needs no database
django.setup()

from make_tables import Columns, Row, run, table  # noqa: E402

from apiaries.permissions import ROLE_PERMISSIONS, ROLE_WORDS, Permission, Role, roles_invitable_by  # noqa: E402
from apiaries.who_sees import PERMISSION_WORDS, ROW_RULES, RowRule  # noqa: E402

NOTE = "<!-- Written by make_permissions.py from apiaries/permissions.py and apiaries/who_sees.py: edit those. -->"
ABOUT = """\
A person has one role in one club at a time. The role gives the rights of the first table. Rights over a single yard
come from being its keeper or its helper, and are in the last table.

Every page is closed to somebody who is not signed in, unless it is opened by name (the sign-in pages, an invitation's
link, a calendar's address, the health page, and the links in a mail: `/recount/` saves the counts of one recount,
`/mail/later/` puts one thing off, `/mail/stop/` stops one kind of mail; each for one person, and nothing else; and
`/published/`, a club's published months, where an administrator chose to show them outside; and the description of the
interface for programs, which names no data). Programs come in with a person's token and see what that person sees, or
less ([the interface](api.md)).
What a person cannot see does not exist for them (404). What they see but may not change is refused (403).

Beside the roles there is the operator, who runs the server. `manage.py make_operator` at its console says who that is;
no page does. An operator sees which mails of all clubs wait or failed, with the e-mail addresses of those they are for,
and may send one again. They see no yard, count or treatment by it. For everybody else, administrators too, these pages
do not exist."""
COORDINATOR = "A coordinator has the last column only for keepers who said on *Me* that they may be seen."


def yes(has: bool) -> str:
    """A mark in words: a cell must be readable without its colour or shape."""
    return "yes" if has else ""


def role_rows() -> list[Row]:
    """One line for each role."""
    return [
        {"role": role, "for": ROLE_WORDS[role], "invites": ", ".join(roles_invitable_by(role))}
        for role in Role
    ]


def permission_rows() -> list[Row]:
    """One line for each permission, with a cell for each role."""
    return [
        {"permission": one, "words": PERMISSION_WORDS[one]}
        | {role: yes(one in ROLE_PERMISSIONS[role]) for role in Role}
        for one in Permission
    ]


def yard_rows() -> list[Row]:
    """One line for each right over a yard."""
    return [rule_row(rule) for rule in ROW_RULES]


def rule_row(rule: RowRule) -> Row:
    """One right over a yard; a note stands with the helper, whom it is about."""
    return {
        "what": rule.what,
        "keeper": yes(rule.keeper),
        "helper": f"yes: {rule.note}" if rule.helper and rule.note else yes(rule.helper),
        "inspector": yes(rule.inspector_here),
        "coordinator": yes(rule.coordinator),
    }


ROLES: Columns = {
    "Role": lambda row: row["role"],
    "What for": lambda row: row["for"],
    "May invite": lambda row: row["invites"],
}
PERMISSIONS: Columns = {
    "Permission": lambda row: f"`{row['permission']}`",
    "In words": lambda row: row["words"],
} | {role.value.capitalize(): (lambda row, role=role: row[role]) for role in Role}
YARDS: Columns = {
    "Right": lambda row: row["what"],
    "Keeper": lambda row: row["keeper"],
    "Helper": lambda row: row["helper"],
    "Inspector of the region": lambda row: row["inspector"],
    "Coordinator": lambda row: row["coordinator"],
}


def permissions() -> str:
    """The whole page."""
    return (
        "\n\n".join(
            [
                *(NOTE, "# Who may do what", ABOUT),
                *("## Roles", table(ROLES, role_rows())),
                *("## What a role includes", table(PERMISSIONS, permission_rows())),
                *("## Rights over one yard", COORDINATOR, table(YARDS, yard_rows())),
            ]
        )
        + "\n"
    )


PAGES = {"permissions.md": permissions}

if __name__ == "__main__":
    sys.exit(run(PAGES, sys.argv[1:], script="make_permissions.py"))
