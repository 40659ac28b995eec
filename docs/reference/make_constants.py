"""Write the page of the tuning constants from the modules that hold them.

.venv/bin/python docs/reference/make_constants.py            writes the page
.venv/bin/python docs/reference/make_constants.py --check    exits 1 if it is stale
"""

from __future__ import annotations

import sys
from collections.abc import Iterable
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parents[1])]

from make_tables import Columns, Row, field, run, table  # noqa: E402

import counts.constants  # noqa: E402
import reports.constants  # noqa: E402
import treatments.constants  # noqa: E402
import treatments.ingredients  # noqa: E402
from counts.constants import Constant  # noqa: E402

NOTE = "<!-- Written by make_constants.py from the modules named here: edit those, then run it again. -->"
ABOUT = """\
What the sums use beside your own numbers. Every value has a mark that says how far to trust it:

- *source*: read in the source named beside it, often only in the abstract;
- *computed*: worked out from the values named beside it;
- *common practice, no source*: many do it so, and we found nobody who published why;
- *from memory*: remembered and not looked up again;
- *our choice*: ours alone, most often tried out in simulations.

A value with ± has a standard deviation of its own, in the same unit. A CV is a standard deviation as a share of the
mean; *c2* is a squared CV. What an estimate was made with is kept with it, so an old page does not change when a
default does. The *method* is the name that is kept; it is raised whenever a shown number would change."""
MODULES = {
    "Counts": counts.constants,
    "Treatments and outcomes": treatments.constants,
    "Region figures": reports.constants,
}
SINGLE = {
    "recovery_sugar_untrained": counts.constants.RECOVERY_SUGAR_UNTRAINED,
    "oxalic_molar_mass": treatments.ingredients.OXALIC_MOLAR_MASS,
    "oxalic_dihydrate_molar_mass": treatments.ingredients.OXALIC_DIHYDRATE_MOLAR_MASS,
}
COLUMNS: Columns = {
    "Name": lambda row: f"`{row['name']}`",
    "Value": field("value"),
    "Mark": field("mark"),
    "Source or note": field("source"),
}


def lines_of(named: Iterable[tuple[str, Constant]]) -> list[Row]:
    """One line for each constant, in the order of the module."""
    return [
        {
            "name": name,
            "value": f"{one.value:g}" + (f" ± {one.sd:g}" if one.sd else ""),
            "mark": str(one.mark),
            "source": one.source,
        }
        for name, one in named
    ]


def constants() -> str:
    """The whole page."""
    parts = [NOTE, "# Constants of the sums", ABOUT]
    for heading, module in MODULES.items():
        where = f"`{module.__name__}`, method `{module.METHOD_VERSION}`"
        parts += [f"## {heading}", where, table(COLUMNS, lines_of(module.DEFAULTS.named()))]
    parts += ["## Single values", table(COLUMNS, lines_of(SINGLE.items()))]
    return "\n\n".join(parts) + "\n"


PAGES = {"constants.md": constants}

if __name__ == "__main__":
    sys.exit(run(PAGES, sys.argv[1:], script="make_constants.py"))
