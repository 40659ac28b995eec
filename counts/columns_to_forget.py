"""What becomes of the columns of this app once a person is forgotten. Counts themselves stay, without a name."""

from apiaries.columns_to_forget import CHOICE
from apiaries.forgetting.registry import emptied, gone, others_words, registry, replaced, stays

PUBLISHED = stays("a published table with its source")


def list_columns() -> None:
    """Called once all models are known."""
    here = "yard__keeper"
    registry.enter(
        "counts.MiteSample",
        {
            "method": CHOICE,
            "bees_by": CHOICE,
            "brood": CHOICE,
            "note": emptied(here, "recorded_by"),
            "refusal": CHOICE,
            "voided_why": replaced(here, "voided_by"),
        },
    )
    registry.enter(
        "counts.SampleRestored",
        {
            "voided_why": replaced("sample__yard__keeper", "voided_by"),
            "restored_why": replaced("sample__yard__keeper", "restored_by"),
        },
    )
    registry.enter(
        "counts.CountLeftOut",
        {"subject": stays("what was asked for, in a word of ours"), "why": replaced(here, "by")},
    )
    registry.enter("counts.CountWeek", {"cancelled_why": replaced("cancelled_by")})
    _imports()
    registry.enter("counts.EstimateBasis", {"version": PUBLISHED, "constants": PUBLISHED})
    registry.enter(
        "counts.ActionLevel",
        dict.fromkeys(("key", "issuer", "issuer_name", "region", "kind", "unit", "row"), PUBLISHED),
    )


def _imports() -> None:
    """Sheets that the person brought or that were brought for them; open ones with anything of theirs went before."""
    theirs = ("by", "keeper")
    registry.enter(
        "counts.ImportBatch",
        {
            "file_name": replaced(*theirs, to="sheet"),
            "sha256": emptied(*theirs, free=False),
            "choices": emptied(*theirs, to={}),
            "taken_for": emptied(*theirs, to={}),
            "state": CHOICE,
            "refusal": emptied(*theirs, to=None),
            "world": stays("a hash of keys"),
            "undone_why": replaced(*theirs, "undone_by"),
        },
    )
    of_batch = ("batch__by", "batch__keeper")
    registry.enter("counts.ImportWork", {"data": gone(*of_batch)})
    # One of the whole club that is being brought in may have rows of theirs, and of others.
    row = emptied(*of_batch, "yard__keeper", to=[])
    registry.enter(
        "counts.ImportRow",
        dict.fromkeys(("status", "kinds", "open", "method", "bees_by", "brood", "refusal"), CHOICE)
        | {"cells": row, "reasons": row, "note": emptied(*of_batch, "yard__keeper")},
    )
    registry.enter(
        "counts.KnownHeading",
        {"heading": others_words("a heading of the club's sheets"), "column": CHOICE},
    )
