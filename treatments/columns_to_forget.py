"""What becomes of the columns of this app once a person is forgotten.

Doses and days stay, without a name. What a medicine record must hold is put under lock first
(`treatments.locking`), whole and in a place of its own; so everything that was typed goes from here at once.
"""

from apiaries.columns_to_forget import CHOICE
from apiaries.forgetting.registry import emptied, locked, registry, replaced, stays

UNIT = stays("a unit")
PUBLISHED = stays("a published table with its source")
LOCKED = locked("the record itself, until its day")


def list_columns() -> None:
    """Called once all models are known."""
    _given()
    _days()
    _medicines()


def _given() -> None:
    here = "yard__keeper"
    # What others wrote in their own medicine record is not touched, even where it names the person: free=False.
    record = emptied(here, free=False)
    registry.enter(
        "treatments.Treatment",
        {
            **dict.fromkeys(
                ("product", "batch", "registration", "supplier", "supplier_address", "proof", "vet"), record
            ),
            "given_by": record,
            "note": emptied(here, "recorded_by"),
            "cancelled_why": replaced(here, "cancelled_by"),
        },
    )
    of_round = "round__treatment__yard__keeper"
    registry.enter(
        "treatments.Dose",
        {
            "unit": UNIT,
            "ingredient": CHOICE,
            "why_above": emptied(of_round, "round__treatment__recorded_by"),
            "voided_why": replaced(of_round, "voided_by"),
        },
    )
    registry.enter(
        "treatments.Recount",
        {
            "kind": CHOICE,
            "reason": PUBLISHED,
            "source": PUBLISHED,
            "skipped_why": replaced("treatment__yard__keeper", "skipped_by"),
        },
    )
    registry.enter(
        "treatments.Application",
        dict.fromkeys(
            ("key", "english_name", "ingredient", "way", "jurisdiction", "dose_unit", "recount_kind"),
            PUBLISHED,
        )
        | {"recount_reason": PUBLISHED, "row": PUBLISHED},
    )
    registry.enter("treatments.YardOutlook", {"why_none": CHOICE})


def _days() -> None:
    registry.enter("treatments.Device", {"name": replaced("keeper", to="heater", free=False)})
    registry.enter("treatments.SheetHive", {"unit": UNIT})
    registry.enter(
        "treatments.SheetMark",
        {
            "step": CHOICE,
            "remark": emptied("hive__sheet__round__treatment__yard__keeper", "recorded_by"),
        },
    )


def _medicines() -> None:
    record = emptied("keeper", free=False)
    kept = {
        "product": replaced("keeper", free=False),
        "batch": record,
        "unit": UNIT,
        "note": emptied("keeper", "recorded_by", free=False),
        "voided_why": replaced("keeper", "voided_by", free=False),
    }
    registry.enter(
        "treatments.MedicinePurchase",
        kept | {"ingredient": CHOICE, "supplier": record, "supplier_address": record, "proof": record},
    )
    registry.enter("treatments.MedicineDisposal", kept | {"how": record, "place": record})
    digits = stays("a hash or a random number: it names nobody, and its salt goes with the entry")
    registry.enter(
        "treatments.MedicineLink",
        {"kind": CHOICE, "what": CHOICE, "digest": digits, "previous": digits, "hash": digits},
    )
    registry.enter("treatments.MedicineSalt", {"kind": CHOICE, "salt": digits})
    registry.enter(
        "treatments.LockedEntry",
        {"kind": CHOICE, "regime": CHOICE, "only_if": PUBLISHED, "source": PUBLISHED, "content": LOCKED},
    )
