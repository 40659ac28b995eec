"""Reads the ways of treating from fixtures/ into the database."""

import datetime as dt
from decimal import Decimal

from django.db import transaction

from counts.reference import rows_of
from treatments.models import Application

WHOLE = ("days_between_rounds", "withdrawal_days")
WHOLE_WITH_DEFAULT = {"rounds_default": 1, "stays_in_days": 0}
RECOUNT_DAYS = ("recount_earliest_days", "recount_ideal_days", "recount_latest_days")
TEXT = ("ingredient", "way", "jurisdiction", "dose_unit", "recount_kind", "recount_reason")


@transaction.atomic
def load_applications() -> int:
    """Bring the table up to date with the file; how many ways of treating it has.

    One that is gone from the file stays while treatments refer to it.
    """
    rows = rows_of("applications.csv")
    for row in rows:
        Application.objects.update_or_create(key=row["key"], defaults=_fields_of(row))
    gone = Application.objects.exclude(key__in=[row["key"] for row in rows])
    gone.filter(treatments=None).delete()
    return len(rows)


def _fields_of(row: dict[str, str]) -> dict[str, object]:
    fields: dict[str, object] = {"english_name": row["name"], **{name: row[name] for name in TEXT}}
    fields |= {name: int(row[name]) if row[name] else None for name in WHOLE}
    fields |= {name: int(row[name]) if row[name] else value for name, value in WHOLE_WITH_DEFAULT.items()}
    fields |= {name: int(row[name]) for name in RECOUNT_DAYS}
    fields |= {
        name: dt.date.fromisoformat(row[name]) if row[name] else None for name in ("valid_from", "valid_to")
    }
    fields["dose_amount"] = Decimal(row["dose_amount"]) if row["dose_amount"] else None
    fields["is_synthetic"] = row["is_synthetic"].lower() in ("true", "yes", "1")
    return fields | {"row": row}
