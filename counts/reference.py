"""Reads published action levels and bees per measure from fixtures/ into the database, or straight from the file."""

import csv
from functools import cache
from pathlib import Path
from typing import TypedDict

from django.conf import settings
from django.db import transaction

from counts.models import ActionLevel


class Measure(TypedDict):
    """One published statement of how many bees a measure holds."""

    key: str
    measure: str
    bees: int
    source: str


def rows_of(name: str) -> list[dict[str, str]]:
    """The lines of a file in fixtures/, as they stand."""
    with Path(settings.FIXTURES, name).open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


@transaction.atomic
def load_action_levels() -> int:
    """Bring the table up to date with the file; how many levels it has. A level gone from the file goes here too."""
    rows = rows_of("action_levels.csv")
    for row in rows:
        fields = {name: row[name] for name in ("issuer", "issuer_name", "region", "kind", "unit")}
        ActionLevel.objects.update_or_create(key=row["key"], defaults=fields | {"row": row})
    ActionLevel.objects.exclude(key__in=[row["key"] for row in rows]).delete()
    return len(rows)


@cache
def measures() -> tuple[Measure, ...]:
    """Published bees per measure, in the order of the file."""
    return tuple(
        Measure(key=row["key"], measure=row["measure"], bees=int(row["bees"]), source=row["source"])
        for row in rows_of("bees_per_measure.csv")
        if row["bees"].isdigit()
    )
