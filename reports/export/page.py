"""What the pages say of an export: its tables by name, and how much is in them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from apiaries.language import mark, say
from apiaries.models import Person
from counts.constants import METHOD_VERSION
from reports.export.catalogue import BACK, TABLES
from reports.export.reading import Package
from reports.export.returning import Brought, own_of
from reports.export.tables import Scope

TITLES = {
    "account": mark("Your account"),
    "yards": mark("Yards"),
    "helpers": mark("Who helps in your yards"),
    "colonies": mark("Colonies"),
    "moves": mark("Moves of colonies"),
    "life_events": mark("Splits, unions, requeenings, ends"),
    "counts": mark("Counts"),
    "counts_restored": mark("Counts that were restored"),
    "counts_left_out": mark("Counts that were not made, with the reason"),
    "heaters": mark("Heaters and batteries"),
    "treatments": mark("Treatments"),
    "rounds": mark("Rounds of treatments"),
    "doses": mark("Doses of colonies"),
    "recounts": mark("Recounts"),
    "sheets": mark("Sheets of treatment days"),
    "sheet_hives": mark("Hives of these sheets"),
    "ticks": mark("Ticks on these sheets"),
    "record_changes": mark("Changes of the medicine record"),
    "purchases": mark("Medicines bought"),
    "disposals": mark("Medicines disposed of"),
    "visits": mark("Visits of inspectors"),
    "visit_findings": mark("What they found in colonies"),
    "visit_suspicions": mark("What they suspected"),
    "lab_samples": mark("Samples sent to laboratories"),
    "visit_orders": mark("What they ordered"),
}


def title_of(table: str) -> str:
    """The name of a table for a reader."""
    return say(TITLES[table]) if table in TITLES else table


def what_it_holds(person: Person) -> list[dict[str, Any]]:
    """Each table of what the person may see: its name, and how many rows where that is known without reading them."""
    scope = Scope(person)
    return [
        {
            "title": title_of(table.name),
            "name": table.name,
            "rows": table.count(scope),
            "back": table.comes_back,
        }
        for table in TABLES
    ]


def told_of(package: Package, brought: Brought) -> dict[str, Any]:
    """What a file says of itself and what of it would be brought in, to be kept while its owner decides."""
    return {
        "form": package.form.value,
        "made_for": package.made_for,
        "made_at": package.made_at,
        "club": package.club,
        "older_method": package.method_version != METHOD_VERSION,
        "left_out": own_of(package).left_out,
        "relabelled": [colony.name for colony in brought.places.relabelled],
        "rows": {name: number for name, number in brought.rows.items() if number},
    }


def held(told: Mapping[str, Any]) -> list[tuple[str, int]]:
    """Names and numbers of rows for a reader, in the order of the file."""
    return [(title_of(name), told["rows"][name]) for name in BACK if name in told["rows"]]
