"""Write the page of what an export holds, table by table and column by column, from the tables in the code.

.venv/bin/python docs/reference/make_exports.py            writes the page
.venv/bin/python docs/reference/make_exports.py --check    exits 1 if it is stale
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

from make_tables import Columns, run, table  # noqa: E402

from reports.export.catalogue import FILE, TABLES, VERSION  # noqa: E402
from reports.export.tables import Table  # noqa: E402

NOTE = "<!-- Written by make_exports.py from reports/export: edit that, then run it again. -->"
ABOUT = f"""\
What *Take everything with you* writes ([how to](../how-to/take-your-data-with-you.md)). The three forms hold the same
tables and columns; their names and order are stable.

| form | what it is |
|---|---|
| CSV | a zip of one file for each table; after RFC 4180, in UTF-8 with its mark, unless you say otherwise |
| XLSX | one workbook, a sheet for each table; numbers and days are such, all else is text, never a formula |
| JSON | one object, a list of objects for each table; the first line is the stamp |

The table `about` says what the file is: `file` is "{FILE}", `version` is {VERSION}, then `made_at`, `made_for`,
`club` and `method_version`. Everything else is the same, byte for byte, as long as the data is.

**Cells.** An empty cell is no value; of a text, no text. Days are 2026-05-31, instants 2026-05-31T09:30:00Z in UTC,
times of day 07:30:00, yes and no are `yes` and `no` (JSON: `true` and `false`), numbers have a point and no trailing
zeros.

**Texts in CSV** are guarded. A line of a text that a spreadsheet would run as a formula gets an apostrophe before it:
one whose first sign that is no blank is `= + - @`, their full-width forms or the minus sign U+2212; one with a tab
among its first blanks; the first line of a text that begins with a line break. A line that begins with an apostrophe
gets a second one. So the guard comes off by taking one apostrophe from the start of every line of a text, and nothing
else is lost. Numbers, days and keys are never guarded.

**Keys.** `entry_key` of counts, treatments, ticks, purchases and disposals and the label code of colonies mean the
same in every export and on every server. Yards and heaters have the number that they have in this file. People are
told by name, never by address; somebody else of your own name gets " (another)" behind it.

Columns *to read* follow from others or are names beside a key: a file that is brought back may leave them out. So may
it leave out tables *to read*."""
COLUMNS: Columns = {
    "Column": lambda row: row["name"],
    "Holds": lambda row: row["kind"],
    "Comes back": lambda row: row["back"],
    "What it says": lambda row: row["says"],
}


def section(one: Table) -> str:
    """One table of the export."""
    rows = [
        {
            "name": f"`{column.name}`",
            "kind": column.kind.value,
            "back": "yes" if one.comes_back and column.comes_back else "to read",
            "says": column.says,
        }
        for column in one.columns
    ]
    about = one.says if one.comes_back else f"{one.says} *To read.*"
    return f"## {one.name}\n\n{about}\n\n{table(COLUMNS, rows)}"


def page() -> str:
    """The whole page."""
    return "\n\n".join(["# Export files", NOTE, ABOUT, *map(section, TABLES)]) + "\n"


PAGES = {"export-files.md": page}

if __name__ == "__main__":
    sys.exit(run(PAGES, sys.argv[1:], script="make_exports.py"))
