"""Tables of what was done: treatments with rounds and doses, recounts, sheets of the day, medicines, heaters."""

from __future__ import annotations

from collections.abc import Iterator

from django.utils.translation import override

from reports.export.cells import CellKind, Value
from reports.export.tables import (
    Column,
    Scope,
    Table,
    colony,
    day,
    instant,
    key,
    number,
    own,
    recorded,
    text,
    voided,
    who,
    whole,
    yard,
)
from treatments.models import (
    DaySheet,
    Dose,
    MedicineDisposal,
    MedicinePurchase,
    Recount,
    Round,
    SheetHive,
    SheetMark,
    Treatment,
)
from treatments.record_changes import changes_of

CHANGES_AT_ONCE = 200


def _device(scope: Scope, pk: int | None) -> int | None:
    return scope.devices.get(pk) if pk is not None else None


def _of_round(path: str) -> tuple[Column, Column]:
    return (
        key("treatment", "The key of the treatment.", f"{path}treatment__entry_key"),
        whole("round", "Which of its rounds.", f"{path}number"),
    )


TREATMENTS = Table(
    "treatments",
    "Treatments, planned, given or cancelled.",
    (
        key("entry_key", "The key of the treatment."),
        *yard("yard", "The yard in which it was planned or given.", "yard"),
        text("way", "The way of treating, by its key in the table of ways.", "application__key"),
        text("way_name", "Its name.", "application__english_name", back=False),
        text("ingredient", "Its active ingredient.", "application__ingredient", back=False),
        text("product", "What the pack says."),
        text("batch", "Batch number."),
        text("registration", "Registration number on the pack."),
        text("supplier", "Who sold it."),
        text("supplier_address", "The seller's address."),
        text("proof", "Which bill, and where it is."),
        text("vet", "Who prescribed it, if anybody did."),
        text("given_by", "Who gave it, if not the one who noted it."),
        whole("withdrawal_days", "The label's withdrawal period; empty where nobody entered it."),
        text("note", "What was noted."),
        *recorded(),
        *voided("cancelled"),
    ),
    rows=lambda scope: Treatment.objects.visible_to(scope.person).order_by("pk"),
)
ROUNDS = Table(
    "rounds",
    "Rounds of these treatments.",
    (
        *_of_round(""),
        day("planned_on", "The day it was planned for."),
        day("given_on", "The day it was given; empty while planned."),
        day("out_on", "The day on which what stays in the hive was taken out."),
        day("out_by", "The day on which it is to be out by the keeper's label."),
    ),
    rows=lambda scope: Round.objects.filter(
        treatment__in=Treatment.objects.visible_to(scope.person).values("pk")
    ).order_by("treatment_id", "number"),
)
DOSES = Table(
    "doses",
    "What each colony got in a round, voided doses among them.",
    (
        *_of_round("round__"),
        *colony("colony", "The label code of the colony.", "colony"),
        text("ingredient", "The active ingredient.", back=False),
        number("amount", "How much.", 3),
        text("unit", "Of what."),
        text("why_above", "The reason for more than the published limit."),
        *voided(),
    ),
    rows=lambda scope: Dose.objects.filter(
        round__treatment__in=Treatment.objects.visible_to(scope.person).values("pk")
    ).order_by("pk"),
)
RECOUNTS = Table(
    "recounts",
    "The recount that each treatment owes.",
    (
        key("treatment", "The key of the treatment.", "treatment__entry_key"),
        day("earliest_on", "First day on which it tells the truth."),
        day("ideal_on", "Best day."),
        day("latest_on", "Last day."),
        text("kind", "What kind of count it is to be: wash, roll, board, drone_brood, jar, either."),
        text("reason", "Why these days."),
        text("source", "Who says so."),
        *voided("skipped"),
    ),
    rows=lambda scope: Recount.objects.visible_to(scope.person).order_by("pk"),
)
SHEETS = Table(
    "sheets",
    "How a round was to be worked.",
    (
        *_of_round("round__"),
        Column("starts_at", CellKind.CLOCK, "When work starts, on the yard's clock.", ("starts_at",)),
        whole("people", "How many work."),
        Column("heater", CellKind.WHOLE, "The heater's number in this file.", ("device_id",), _device),
        whole("heaters", "How many of them."),
        number("wait_minutes", "Minutes from the end of heating to drawing the heater.", 2),
        number("sealed_minutes", "Minutes a hive stays shut after the last vapour.", 2),
        *recorded(),
        instant("began_at", "When work really began."),
        instant("ended_at", "When it ended."),
    ),
    rows=lambda scope: DaySheet.objects.filter(
        round__treatment__in=Treatment.objects.visible_to(scope.person).values("pk")
    ).order_by("pk"),
)
SHEET_HIVES = Table(
    "sheet_hives",
    "The hives of these sheets in the order walked.",
    (
        *_of_round("sheet__round__"),
        whole("position", "Place in the order."),
        *colony("colony", "The label code of the colony.", "colony"),
        whole("loads", "In how many loads."),
        number("amount", "How much it is to get.", 3),
        text("unit", "Of what."),
    ),
    rows=lambda scope: SheetHive.objects.filter(
        sheet__round__treatment__in=Treatment.objects.visible_to(scope.person).values("pk")
    ).order_by("sheet_id", "position"),
)
TICKS = Table(
    "ticks",
    "What was ticked on these sheets while working, undone ticks among them.",
    (
        key("entry_key", "The key of the tick."),
        *_of_round("hive__sheet__round__"),
        whole("position", "The hive's place in the order.", "hive__position"),
        text("step", "started, drawn, opened, left_out."),
        instant("at", "When, on the phone's clock."),
        text("remark", "What was noted."),
        *recorded(),
        instant("undone_at", "When it was undone; empty while it stands."),
        who("undone_by", "Who undid it."),
    ),
    rows=lambda scope: SheetMark.objects.filter(
        hive__sheet__round__treatment__in=Treatment.objects.visible_to(scope.person).values("pk")
    ).order_by("pk"),
)


def _record_changes(scope: Scope) -> Iterator[tuple[Value, ...]]:
    """In portions, each with the same few queries."""
    treatments = Treatment.objects.visible_to(scope.person).select_related("yard").order_by("pk")
    last = 0
    while portion := list(treatments.filter(pk__gt=last)[:CHANGES_AT_ONCE]):
        last = portion[-1].pk
        with override("en"):
            found = changes_of(portion)
        for treatment in portion:
            for one in found.get(treatment.pk, []):
                yield treatment.entry_key, one.field, one.old, one.new, one.by, one.at, one.why


RECORD_CHANGES = Table(
    "record_changes",
    "What was filled in or corrected in the record of a treatment. It stays behind when the file comes back.",
    (
        Column("treatment", CellKind.KEY, "The key of the treatment.", ()),
        Column("what", CellKind.TEXT, "What was changed.", ()),
        Column("before", CellKind.TEXT, "What stood there.", ()),
        Column("after", CellKind.TEXT, "What stands there.", ()),
        Column("by", CellKind.TEXT, "Who changed it.", ()),
        Column("at", CellKind.INSTANT, "When.", ()),
        Column("why", CellKind.TEXT, "The reason that was given.", ()),
    ),
    lines=_record_changes,
    comes_back=False,
)


def _kept() -> tuple[Column, ...]:
    return (
        text("product", "What the pack says."),
        text("batch", "Batch number."),
        number("quantity", "How much.", 3),
        text("unit", "Of what."),
    )


def _kept_end() -> tuple[Column, ...]:
    return (
        text("note", "What was noted."),
        *recorded(),
        key("corrects", "The key of the entry in whose place this one stands.", "corrects__entry_key"),
        *voided(),
    )


PURCHASES = Table(
    "purchases",
    "Medicines that were bought, voided and corrected entries among them.",
    (
        key("entry_key", "The key of the entry."),
        own(),
        who("keeper", "For whom."),
        day("bought_on", "The day."),
        *_kept(),
        text("ingredient", "The active ingredient, if it was chosen."),
        text("supplier", "Who sold it."),
        text("supplier_address", "The seller's address."),
        text("proof", "Which bill, and where it is."),
        whole("withdrawal_days", "The label's withdrawal period; empty where nobody entered it."),
        day("expires_on", "Use by."),
        *_kept_end(),
    ),
    rows=lambda scope: MedicinePurchase.objects.visible_to(scope.person).order_by("pk"),
)
DISPOSALS = Table(
    "disposals",
    "Medicines that were disposed of, voided and corrected entries among them.",
    (
        key("entry_key", "The key of the entry."),
        own(),
        who("keeper", "For whom."),
        day("disposed_on", "The day."),
        *_kept(),
        text("how", "How."),
        text("place", "Where."),
        *_kept_end(),
    ),
    rows=lambda scope: MedicineDisposal.objects.visible_to(scope.person).order_by("pk"),
)


def _device_number(scope: Scope, pk: int) -> int:
    return scope.devices[pk]


DEVICES = Table(
    "heaters",
    "Your heaters and batteries, those put away among them.",
    (
        Column("heater", CellKind.WHOLE, "Its number in this file.", ("pk",), _device_number),
        text("name", "What you call it."),
        whole("number", "How many such heaters."),
        number("grams_per_load", "Grams in one load.", 2),
        number("watts", "Power.", 2),
        number("amps", "Current.", 2),
        number("volts", "Voltage.", 2),
        day("tried_on", "Day of your timed trial."),
        number("first_minutes", "Minutes of the first load of a cold heater.", 2),
        number("following_minutes", "Minutes of each load after it.", 2),
        number("cool_minutes", "Minutes to cool.", 2),
        whole("batteries", "How many batteries."),
        number("battery_ah", "Ampere-hours of each.", 2),
        number("rated_hours", "Hours of its rating.", 1),
        number("usable_share", "Share of it that may be used.", 3),
        number("peukert", "Peukert exponent.", 3),
        instant("put_away_at", "When it was put away; empty while in use."),
        *recorded(),
    ),
    rows=Scope.device_rows,
)
