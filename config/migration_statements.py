"""SQL as a migration runs it, taken apart into statements that rules can be held against."""

import re

_QUIET = re.compile(r"--[^\n]*|/\*.*?\*/|'(?:[^']|'')*'|\$(\w*)\$.*?\$\1\$", re.DOTALL)
_NAME = r'(?:"?\w+"?\.)?"?(\w+)"?'
_TABLE = re.compile(
    rf"""(?:ALTER\ TABLE\ (?:IF\ EXISTS\ )?(?:ONLY\ )?
    |DROP\ TABLE\ (?:IF\ EXISTS\ )?
    |CREATE\ (?:UNIQUE\ )?INDEX\ .*?\ ON\ (?:ONLY\ )?
    |UPDATE\ (?:ONLY\ )?
    |DELETE\ FROM\ (?:ONLY\ )?
    |INSERT\ INTO[ ]
    |LOCK\ (?:TABLE\ )?(?:ONLY\ )?
    |CLUSTER\ |VACUUM\ (?:FULL\ )?|REINDEX\ TABLE\ (?:CONCURRENTLY\ )?){_NAME}""",
    re.IGNORECASE | re.VERBOSE,
)


def statements(sql: str) -> list[str]:
    """Single statements with single blanks; comments are gone, literals and bodies of functions are emptied."""

    def quiet(found: re.Match[str]) -> str:
        return " " if found.group().startswith(("--", "/*")) else "''"

    return [" ".join(one.split()) for one in _QUIET.sub(quiet, sql).split(";") if one.strip()]


def table_of(statement: str) -> str:
    """The table that a statement is about; empty where it is about none, or is not read here."""
    found = _TABLE.match(statement)
    return found.group(1) if found else ""
