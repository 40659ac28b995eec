"""Counts with their past, voided and corrected ones among them, from a file into the yards of whoever brings it."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Mapping, Sequence
from typing import Any

from apiaries.actions.bringing_back import Places
from apiaries.bringing_back import (
    CannotBringBack,
    FileRow,
    People,
    by_key,
    found_in,
    fresh_keys,
    keep_all,
    refuse_circles,
    refuse_known,
)
from apiaries.history import action
from apiaries.language import say
from apiaries.models import Person, Yard
from counts.actions import estimate_sample, sample_problems, tell_changed
from counts.adding import basis_for
from counts.constants import DEFAULTS
from counts.models import MiteSample, SampleRestored
from counts.sentences import PROBLEM_SENTENCES

FACTS = (
    "entry_key",
    "method",
    "sampled_on",
    "mites",
    "bees",
    "bees_by",
    "board_days",
    "cells_counted",
    "cells_total",
    "treatment_in_hive",
    "brood",
    "note",
)


@action
def bring_back_counts(
    *,
    rows: Sequence[FileRow],
    restored: Sequence[FileRow],
    places: Places,
    people: People,
    at: dt.datetime,
    by: Person,
) -> list[MiteSample]:
    """Write counts as they were made, with who, when and why. Their estimates are worked out anew from the facts.

    Errors: CannotBringBack.
    """
    Yard.objects.hold(yard.pk for yard in places.yards.values())
    known = by_key(rows, "entry_key")
    refuse_known(MiteSample, known)
    refuse_circles(known)
    keys = dict(zip(known, fresh_keys(MiteSample, len(rows)), strict=True))
    basis = basis_for(DEFAULTS)

    def made(row: FileRow) -> MiteSample:
        sample = MiteSample(
            pk=keys[row["entry_key"]],
            colony=found_in(places.colonies, row, "colony"),
            yard=found_in(places.yards, row, "yard"),
            corrects_id=_corrected(row, keys),
            **row.only(*FACTS),
            **people.by(row, "recorded", "voided"),
        )
        _refuse_impossible(sample, row)
        estimate_sample(sample, basis)
        return sample

    samples = keep_all(rows, made)
    by_entry = {sample.entry_key: sample for sample in samples}
    keep_all(
        restored,
        lambda row: SampleRestored(
            sample=found_in(by_entry, row, "count"), **people.by(row, "voided", "restored")
        ),
    )
    tell_changed(samples, held=True)
    return samples


def _corrected(row: FileRow, keys: Mapping[uuid.UUID, int]) -> int | None:
    if row["corrects"] is None:
        return None
    if row["corrects"] not in keys or row["corrects"] == row["entry_key"]:
        raise CannotBringBack(row, say("No row of this file that is yours has this key."), "corrects")
    return keys[row["corrects"]]


def _refuse_impossible(sample: MiteSample, row: FileRow) -> None:
    """What no form would have kept."""
    missing: Any = next((name for name in ("sampled_on", "mites", "recorded_at") if row[name] is None), None)
    if missing:
        raise CannotBringBack(row, say("This cell is empty."), missing)
    try:
        problems = sample_problems(sample, sample.recorded_at)
    except ValueError as error:  # a method or a way of measuring that does not exist
        raise CannotBringBack(
            row, say("There is no such method, or bees were not measured so."), "method"
        ) from error
    if problems:
        raise CannotBringBack(row, say(PROBLEM_SENTENCES[problems[0]]), "mites")
