"""How treatments and what belongs to them are told when somebody asks what changed. Registered by `treatments.apps`."""

from typing import Any

from apiaries.language import mark, say, say_many
from apiaries.models import Colony
from apiaries.telling import Field, Named, Reader, Row, Told
from apiaries.templatetags.recount_words import plain
from apiaries.told import NAMES_THE_ROW, NEVER_CHANGES, SAID_BY_THE_LINE, in_unit
from treatments.day_actions import FINISHED
from treatments.dose import unit_words
from treatments.models import (
    Application,
    DaySheet,
    Device,
    Dose,
    MedicineDisposal,
    MedicinePurchase,
    Recount,
    Round,
    SheetHive,
    Treatment,
)
from treatments.record_changes import FIELD_WORDS
from treatments.way_words import INGREDIENT_WORDS

FORM_KEY = "made by the form so that one send makes one entry; it says nothing of the treatment"
ONE_STORY = "an entry and its corrections are told as one story"
KIND_WORDS = {
    "jar": mark("wash or roll"),
    "board": mark("board"),
    "either": mark("wash, roll or board"),
}
NAMES: dict[type, Named] = {
    # Reference data, kept in English and said in the reader's language; heaters are named only on what is the reader's
    # to see: a sheet, or their own list.
    Application: Named(
        lambda person, keys: [(one.pk, one.name) for one in Application.objects.filter(pk__in=keys)],
        mark("a way of treating that is no longer kept"),
    ),
    Device: Named(
        lambda person, keys: Device.objects.filter(pk__in=keys, keeper=person).values_list("pk", "name"),
        mark("a heater of somebody else"),
    ),
    Round: Named(
        lambda person, keys: [
            (pk, str(number)) for pk, number in Round.objects.filter(pk__in=keys).values_list("pk", "number")
        ],
        mark("a round"),
    ),
}


def _of_colony(row: Row, reader: Reader) -> str:
    return reader.name(Colony, row["colony_id"])


def _amount(value: Any, row: Row, reader: Reader) -> str:
    return f"{plain(value)} {unit_words(row['unit'])}"


def _days(value: int | None, row: Row, reader: Reader) -> str:
    return "" if value is None else say_many("{n} day", "{n} days", value)


def _minutes(value: Any, row: Row, reader: Reader) -> str:
    return "" if value is None else say("{n} min", n=plain(value))


def _share(value: Any, row: Row, reader: Reader) -> str:
    return "" if value is None else say("{n} %", n=plain(value * 100))


def _said(value: str, row: Row, reader: Reader) -> str:
    """What was kept from the reference data is English; the reader gets it in their language."""
    return say(value)


def own_reason(why: str) -> str:
    """The reason that the service itself gives, in the reader's language."""
    return say(why) if why == FINISHED else why


TREATMENT = Told(
    Treatment,
    fields={
        "yard": Field(mark("Yard")),
        "application": Field(mark("Way of treating")),
        **{
            name: Field(words, _days if name == "withdrawal_days" else None)
            for name, words in FIELD_WORDS.items()
        },
        "note": Field(mark("Note")),
        "cancelled_at": Field(mark("Cancelled")),
        "cancelled_by": Field(mark("Cancelled by")),
    },
    left_out={
        "entry_key": FORM_KEY,
        "recorded_at": SAID_BY_THE_LINE,
        "recorded_by": SAID_BY_THE_LINE,
    },
    why=("cancelled_why",),
)
ROUND = Told(
    Round,
    heading=mark("Round"),
    named=lambda row, reader: str(row["number"]),
    fields={
        "planned_on": Field(mark("Planned for")),
        "given_on": Field(mark("Given")),
        "out_on": Field(mark("Taken out")),
        "out_by": Field(mark("To be taken out by the label")),
    },
    left_out={"treatment": NEVER_CHANGES, "number": NAMES_THE_ROW},
)
DOSE = Told(
    Dose,
    heading=mark("Dose for colony"),
    named=_of_colony,
    fields={
        "round": Field(mark("Round")),
        "amount": Field(mark("Amount"), _amount, also=("unit",)),
        "why_above": Field(mark("Reason for more than the published limit")),
        "in_hive": Field(mark("In the hive")),
        "voided_at": Field(mark("Voided")),
        "voided_by": Field(mark("Voided by")),
    },
    left_out={"colony": NAMES_THE_ROW, "ingredient": "the treatment's, repeated for a rule of the database"},
    why=("voided_why",),
)
RECOUNT = Told(
    Recount,
    heading=mark("Recount"),
    fields={
        "earliest_on": Field(mark("Not before")),
        "ideal_on": Field(mark("Best day")),
        "latest_on": Field(mark("Not after")),
        "kind": Field(mark("Kind of count"), lambda value, row, reader: say(KIND_WORDS.get(value) or value)),
        "reason": Field(mark("Why then"), _said),
        "source": Field(mark("Source")),
        "skipped_at": Field(mark("Skipped")),
        "skipped_by": Field(mark("Skipped by")),
    },
    left_out={"treatment": NEVER_CHANGES},
    why=("skipped_why",),
)
SHEET = Told(
    DaySheet,
    heading=mark("Sheet of the day"),
    fields={
        "round": Field(mark("Round")),
        "starts_at": Field(mark("Starts at")),
        "people": Field(mark("People")),
        "device": Field(mark("Heater")),
        "heaters": Field(mark("Heaters")),
        "wait_minutes": Field(mark("Wait before the heater is drawn"), _minutes),
        "sealed_minutes": Field(mark("Hive stays shut"), _minutes),
        "began_at": Field(mark("Work began")),
        "ended_at": Field(mark("Work ended")),
    },
    left_out={"recorded_at": SAID_BY_THE_LINE, "recorded_by": SAID_BY_THE_LINE},
)
HIVE = Told(
    SheetHive,
    heading=mark("On the sheet: colony"),
    named=_of_colony,
    fields={
        "position": Field(mark("Place in the walk")),
        "loads": Field(mark("Loads")),
        "amount": Field(mark("Amount"), _amount, also=("unit",)),
    },
    left_out={"sheet": NEVER_CHANGES, "colony": NAMES_THE_ROW},
    # A sheet that is planned anew is written anew: its hives are the same hives.
    story=("sheet_id", "colony_id"),
)
_KEPT = {
    "product": Field(mark("Product")),
    "batch": Field(mark("Batch number")),
    "quantity": Field(mark("Quantity"), _amount, also=("unit",)),
    "note": Field(mark("Note")),
    "voided_at": Field(mark("Voided")),
    "voided_by": Field(mark("Voided by")),
}
_KEPT_LEFT_OUT = {
    "keeper": NEVER_CHANGES,
    "entry_key": FORM_KEY,
    "recorded_at": SAID_BY_THE_LINE,
    "recorded_by": SAID_BY_THE_LINE,
    "corrects": ONE_STORY,
}
PURCHASE = Told(
    MedicinePurchase,
    fields={
        "bought_on": Field(mark("Bought")),
        "ingredient": Field(
            mark("Active ingredient"), lambda value, row, reader: say(INGREDIENT_WORDS.get(value) or value)
        ),
        "supplier": Field(mark("Supplier")),
        "supplier_address": Field(mark("Supplier's address")),
        "proof": Field(mark("Proof of purchase")),
        "withdrawal_days": Field(mark("Withdrawal period"), _days),
        "expires_on": Field(mark("Use by")),
        **_KEPT,
    },
    left_out=_KEPT_LEFT_OUT,
    why=("voided_why",),
    story=(),
)
DISPOSAL = Told(
    MedicineDisposal,
    fields={
        "disposed_on": Field(mark("Disposed of")),
        "how": Field(mark("How it was disposed of")),
        "place": Field(mark("Where it was disposed of")),
        **_KEPT,
    },
    left_out=_KEPT_LEFT_OUT,
    why=("voided_why",),
    story=(),
)
DEVICE = Told(
    Device,
    fields={
        "name": Field(mark("Name")),
        "number": Field(mark("How many such heaters")),
        "grams_per_load": Field(mark("Grams that one load holds"), in_unit("g")),
        "watts": Field(mark("Watts"), in_unit("W")),
        "amps": Field(mark("Amps"), in_unit("A")),
        "volts": Field(mark("Volts"), in_unit("V")),
        "tried_on": Field(mark("Day of the trial")),
        "first_minutes": Field(mark("First load"), _minutes),
        "following_minutes": Field(mark("Next loads"), _minutes),
        "cool_minutes": Field(mark("Cooling"), _minutes),
        "batteries": Field(mark("Batteries")),
        "battery_ah": Field(mark("Capacity printed on one battery"), in_unit("Ah")),
        "rated_hours": Field(mark("Hours for which the printed capacity holds"), in_unit("h")),
        "usable_share": Field(mark("Share of it that you use"), _share),
        "peukert": Field(mark("Peukert exponent")),
        "put_away_at": Field(mark("Put away")),
    },
    left_out={"keeper": NEVER_CHANGES, "recorded_at": SAID_BY_THE_LINE, "recorded_by": SAID_BY_THE_LINE},
)
TABLES = (TREATMENT, ROUND, DOSE, RECOUNT, SHEET, HIVE, PURCHASE, DISPOSAL, DEVICE)
VERBS = {
    "record_treatment": mark("Treatment noted"),
    "plan_day": mark("Treatment day planned"),
    "give_round": mark("Round given"),
    "take_out": mark("Taken out of the hive"),
    "set_out_by": mark("The label's day entered"),
    "cancel_treatment": mark("Treatment cancelled"),
    "skip_recount": mark("Recount skipped"),
    "complete_record": mark("Record completed"),
    "set_sheet": mark("Day planned anew"),
    "finish_round": mark("Treatment day finished"),
    "record_purchase": mark("Purchase noted"),
    "correct_purchase": mark("Purchase corrected"),
    "void_purchase": mark("Purchase voided"),
    "record_disposal": mark("Disposal noted"),
    "correct_disposal": mark("Disposal corrected"),
    "void_disposal": mark("Disposal voided"),
    "add_device": mark("Heater added"),
    "keep_device": mark("Heater noted anew"),
    "put_away_device": mark("Heater put away"),
    "bring_back_treatments": mark("Brought back from a file"),
    "bring_back_medicines": mark("Brought back from a file"),
}
"""What the actions of this app are called; those that write nothing of these facts have no words."""
