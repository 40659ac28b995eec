"""Write the page of licences from what the pinned packages say themselves.

.venv/bin/python docs/reference/make_licences.py            writes the page
.venv/bin/python docs/reference/make_licences.py --check    exits 1 if it is stale
"""

from __future__ import annotations

import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parents[1])]

from make_tables import Columns, Row, run, table  # noqa: E402

from tests.supply.licences import ALLOWED, lines  # noqa: E402

NOTE = "<!-- Written by make_licences.py from the packages' own metadata: edit tests/supply/licences.py. -->"
ABOUT = f"""\
Every package that is installed for Recount, development included, with the licence that it names itself; nobody read
the texts of all. Allowed without a word: {", ".join(sorted(ALLOWED))}. Every other one has a reason beside it.
`make check` fails where a package names another licence than it did."""
COLUMNS: Columns = {
    "Package": lambda row: row["name"],
    "Licence": lambda row: row["says"],
    "Why nevertheless": lambda row: row["why"],
}


def rows() -> list[Row]:
    """One line for each package."""
    return [{"name": one.name, "says": one.says, "why": one.why} for one in lines()]


def page() -> str:
    """The whole page."""
    return "\n\n".join(["# Licences of what Recount stands on", NOTE, ABOUT, table(COLUMNS, rows())]) + "\n"


PAGES = {"licences.md": page}

if __name__ == "__main__":
    sys.exit(run(PAGES, sys.argv[1:], script="make_licences.py"))
