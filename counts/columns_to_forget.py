"""What becomes of the columns of this app once a person is forgotten. Counts themselves stay, without a name."""

from apiaries.columns_to_forget import CHOICE
from apiaries.forgetting.registry import emptied, registry, replaced, stays

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
    registry.enter("counts.EstimateBasis", {"version": PUBLISHED, "constants": PUBLISHED})
    registry.enter(
        "counts.ActionLevel",
        dict.fromkeys(("key", "issuer", "issuer_name", "region", "kind", "unit", "row"), PUBLISHED),
    )
