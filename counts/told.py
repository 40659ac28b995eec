"""How counts and count weeks are told when somebody asks what changed. Registered by `counts.apps`."""

from django.urls import reverse

from apiaries.language import figure, mark, say
from apiaries.models import Person
from apiaries.row_history import chain_of
from apiaries.telling import FactKind, Field, Part, Reader, Row, Told
from apiaries.templatetags.recount_words import day
from apiaries.told import NEVER_CHANGES, SAID_BY_THE_LINE, in_seen_yard
from counts.access import sample_for, week_for
from counts.models import CountWeek, MiteSample, SampleRestored
from counts.samples import BeesBy

FOLLOWS = "follows from the count; its own page shows it with its range"
BEES = {
    BeesBy.COUNTED.value: mark("{bees}, counted"),
    BeesBy.VOLUME.value: mark("{bees}, by a measure"),
    BeesBy.NOMINAL.value: mark("{bees}, taken as this number"),
}


def _bees(value: int | None, row: Row, reader: Reader) -> str:
    if value is None:
        return ""
    return say(BEES.get(row["bees_by"], "{bees}"), bees=figure(f"{value:,}"))


SAMPLE = Told(
    MiteSample,
    fields={
        "colony": Field(mark("Colony")),
        "yard": Field(mark("Yard")),
        "method": Field(mark("Method")),
        "sampled_on": Field(mark("Day")),
        "mites": Field(mark("Mites")),
        "bees": Field(mark("Bees"), _bees, also=("bees_by",)),
        "board_days": Field(mark("Days of the board")),
        "cells_counted": Field(mark("Cells counted")),
        "cells_total": Field(mark("Cells of the board")),
        "treatment_in_hive": Field(mark("Treatment in the hive")),
        "brood": Field(mark("Brood")),
        "note": Field(mark("Note")),
        "voided_at": Field(mark("Voided")),
        "voided_by": Field(mark("Voided by")),
    },
    left_out={
        "rate": FOLLOWS,
        "low": FOLLOWS,
        "high": FOLLOWS,
        "exposure": FOLLOWS,
        "squared_cv": FOLLOWS,
        "refusal": FOLLOWS,
        "basis": FOLLOWS,
        "entry_key": "made by the form so that one send makes one count; it says nothing of the bees",
        "recorded_at": SAID_BY_THE_LINE,
        "recorded_by": SAID_BY_THE_LINE,
        "visit": "the report of the visit names its counts; who sees a count need not see the visit",
        "corrects": "a count and its corrections are told as one story",
    },
    why=("voided_why",),
    story=(),
    seen=in_seen_yard,
)
RESTORED = Told(
    SampleRestored,
    fields={},
    left_out={
        "sample": NEVER_CHANGES,
        "voided_at": "said where the count was voided",
        "voided_by": "said where the count was voided",
        "voided_why": "said where the count was voided",
        "restored_at": SAID_BY_THE_LINE,
        "restored_by": SAID_BY_THE_LINE,
    },
    why=("restored_why",),
)
WEEK = Told(
    CountWeek,
    fields={
        "first_on": Field(mark("First day")),
        "last_on": Field(mark("Last day")),
        "cancelled_at": Field(mark("Cancelled")),
        "cancelled_by": Field(mark("Cancelled by")),
    },
    left_out={"club": NEVER_CHANGES, "set_at": SAID_BY_THE_LINE, "set_by": SAID_BY_THE_LINE},
    why=("cancelled_why",),
)
TABLES = (SAMPLE, RESTORED, WEEK)


def _sample_parts(sample: MiteSample, person: Person) -> list[Part]:
    keys = chain_of(MiteSample, sample.pk)
    return [Part(SAMPLE, {"pk__in": keys}), Part(RESTORED, {"sample_id__in": keys})]


KINDS = (
    FactKind(
        "count",
        sample_for,
        _sample_parts,
        lambda sample, person: say(
            "Count of {day}, colony {name}", day=day(sample.sampled_on), name=sample.colony.name
        ),
        lambda sample, person: reverse("counts:sample-detail", args=[sample.pk]),
    ),
    FactKind(
        "week",
        week_for,
        lambda week, person: [Part(WEEK, {"pk": week.pk})],
        lambda week, person: say("Count week from {day}", day=day(week.first_on)),
        lambda week, person: reverse("counts:count-week-list"),
    ),
)
VERBS = {
    "record_sample": mark("Count noted"),
    "record_samples": mark("Counts noted"),
    "correct_sample": mark("Count corrected"),
    "void_sample": mark("Count voided"),
    "restore_sample": mark("Count restored"),
    "set_count_week": mark("Count week set"),
    "cancel_count_week": mark("Count week cancelled"),
    "bring_in_sheet": mark("Brought in from a sheet"),
    "undo_sheet": mark("Sheet undone"),
    "set_up_missing": mark("Colonies added for a sheet"),
    "bring_back_counts": mark("Brought back from a file"),
}
"""What the actions of this app are called; those that write nothing of these facts have no words."""
