"""Purchases and disposals with their past, from a file into the medicine record of whoever brings it."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Mapping, Sequence

from django.db.models import Q

from apiaries.bringing_back import (
    CannotBringBack,
    FileRow,
    People,
    by_key,
    fresh_keys,
    keep_all,
    refuse_circles,
    refuse_known,
)
from apiaries.history import action
from apiaries.language import say
from apiaries.models import Person
from treatments.chain import What
from treatments.chain_actions import note
from treatments.chain_texts import kept_standing
from treatments.models import MedicineDisposal, MedicinePurchase

SHARED = ("entry_key", "product", "batch", "quantity", "unit", "note")
BOUGHT = (
    "bought_on",
    "ingredient",
    "supplier",
    "supplier_address",
    "proof",
    "withdrawal_days",
    "expires_on",
)


@action
def bring_back_medicines(
    *,
    keeper: Person,
    purchases: Sequence[FileRow],
    disposals: Sequence[FileRow],
    people: People,
    at: dt.datetime,
    by: Person,
) -> None:
    """Write what was bought and disposed of as it was entered, voided and corrected entries too.

    Errors: CannotBringBack.
    """
    _kept(MedicinePurchase, purchases, BOUGHT, keeper, people)
    _kept(MedicineDisposal, disposals, ("disposed_on", "how", "place"), keeper, people)
    keys = [row["entry_key"] for row in (*purchases, *disposals)]
    note(keeper.pk, kept_standing(Q(entry_key__in=keys)), what=What.BROUGHT_BACK)


def _kept(
    model: type[MedicinePurchase] | type[MedicineDisposal],
    rows: Sequence[FileRow],
    facts: Sequence[str],
    keeper: Person,
    people: People,
) -> None:
    known = by_key(rows, "entry_key")
    refuse_known(model, known)
    refuse_circles(known)
    keys = dict(zip(known, fresh_keys(model, len(rows)), strict=True))

    def made(row: FileRow) -> MedicinePurchase | MedicineDisposal:
        return model(
            pk=keys[row["entry_key"]],
            keeper=keeper,
            corrects_id=_corrected(row, keys),
            **row.only(*SHARED, *facts),
            **people.by(row, "recorded", "voided"),
        )

    keep_all(rows, made)


def _corrected(row: FileRow, keys: Mapping[uuid.UUID, int]) -> int | None:
    if row["corrects"] is None:
        return None
    if row["corrects"] not in keys:
        raise CannotBringBack(row, say("No row of this file that is yours has this key."), "corrects")
    return keys[row["corrects"]]
