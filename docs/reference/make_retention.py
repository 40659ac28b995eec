"""Write the page of what is kept how long from the lists that the sweep goes through.

.venv/bin/python docs/reference/make_retention.py            writes the page
.venv/bin/python docs/reference/make_retention.py --check    exits 1 if it is stale
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parents[1])]

from make_tables import Columns, Row, field, run, table  # noqa: E402

NOTE = "<!-- Written by make_retention.py from APP/sweeping.py: edit those, then run it again. -->"
ABOUT = """\
What is kept for a time only goes by itself: every hour, in portions, by the worker or by `manage.py sweep`. A second
run does no harm, several at once neither. The days are our choice where no rule is named."""
STAYS = """\
## What stays

Counts, treatments, visits, the medicine record and its chain, and the history of their changes: until the person is
[forgotten](../explanation/what-stays.md), and what names nobody longer. Sheets that were brought: who, when, which
file, how many counts. Bulletins and published months. Tokens of programs that were revoked or ran out, without their
secret word: their owner sees them. Times in which no mail could leave, and tries to back up. The
[erasure journal](../how-to/be-forgotten.md#for-whoever-runs-the-server).

Not in Recount's hands: backups and logs. Whoever runs the server ends them; a restored backup brings back what was
swept since, and the next hour sweeps it again. People who were forgotten since are forgotten again by
`manage.py replay_erasures`."""
COLUMNS: Columns = {
    "What": field("what"),
    "Kept": field("long"),
    "Why so": field("why"),
    "Swept as": field("name"),
    "By": lambda row: row["code"],
}


def rows() -> list[Row]:
    """One line for each kind of thing that is swept, in the order of a sweep."""
    from reports.sweep import ALL

    return [
        {
            "what": one.what,
            "long": one.how_long,
            "why": one.why,
            "name": f"`{one.name}`",
            "code": f"`{one.portion.__module__}.{one.portion.__name__}`",
        }
        for one in ALL
    ]


def page() -> str:
    """The whole page."""
    return "\n\n".join(["# What is kept how long", NOTE, ABOUT, table(COLUMNS, rows()), STAYS]) + "\n"


PAGES = {"retention.md": page}

if __name__ == "__main__":
    import django

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    django.setup()
    sys.exit(run(PAGES, sys.argv[1:], script="make_retention.py"))
