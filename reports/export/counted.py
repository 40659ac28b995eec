"""Tables of what was counted."""

from __future__ import annotations

from counts.models import CountLeftOut, MiteSample, SampleRestored
from counts.samples import Kind, Method, kind_of
from reports.export.cells import CellKind
from reports.export.tables import (
    Column,
    Scope,
    Table,
    colony,
    day,
    instant,
    key,
    number,
    recorded,
    text,
    voided,
    who,
    whole,
    yard,
    yes_no,
)

RATE_PLACES = 4


def _per_100(scope: Scope, method: str, rate: float | None) -> float | None:
    is_board = kind_of(Method(method)) is Kind.BOARD
    return None if rate is None or is_board else round(rate * 100, RATE_PLACES)


def _per_day(scope: Scope, method: str, rate: float | None) -> float | None:
    is_board = kind_of(Method(method)) is Kind.BOARD
    return round(rate, RATE_PLACES) if rate is not None and is_board else None


def _estimate(name: str, says: str, column: str, of_board: bool) -> Column:
    make = _per_day if of_board else _per_100
    return Column(name, CellKind.NUMBER, says, ("method", column), make, comes_back=False, places=RATE_PLACES)


COUNTS = Table(
    "counts",
    "Mite counts, those that were voided or corrected among them.",
    (
        key("entry_key", "The key of the count."),
        *colony("colony", "The label code of the colony.", "colony"),
        *yard("yard", "The yard in which it stood then.", "yard"),
        text("method", "alcohol_wash, soap_wash, sugar_roll, co2, board, drone_brood."),
        day("sampled_on", "The day in the yard."),
        whole("mites", "Mites counted."),
        whole("bees", "Bees they were on; for a wash or roll."),
        text("bees_by", "How the bees were measured: counted, volume, nominal."),
        number("board_days", "Days the board lay in the hive.", 1),
        whole("cells_counted", "Cells of the board that were counted, or drone cells opened."),
        whole("cells_total", "Cells the board has."),
        yes_no("treatment_in_hive", "Whether a treatment was in the hive."),
        text("brood", "Brood at the count: unknown, none, some, plenty."),
        text("note", "What was noted."),
        *recorded(),
        key("corrects", "The key of the count in whose place this one stands.", "corrects__entry_key"),
        *voided(),
        _estimate("mites_per_100_bees", "Estimated mites on 100 bees; for a wash or roll.", "rate", False),
        _estimate("mites_per_100_bees_low", "Lower end of its range.", "low", False),
        _estimate("mites_per_100_bees_high", "Upper end of its range.", "high", False),
        _estimate("mites_per_day", "Estimated drop in a day; for a board.", "rate", True),
        _estimate("mites_per_day_low", "Lower end of its range.", "low", True),
        _estimate("mites_per_day_high", "Upper end of its range.", "high", True),
        text("why_no_estimate", "Why there is none.", "refusal", back=False),
        text("method_version", "Version of the sums behind the estimate.", "basis__version", back=False),
    ),
    rows=lambda scope: MiteSample.objects.visible_to(scope.person).order_by("pk"),
)
RESTORED = Table(
    "counts_restored",
    "Counts that were voided once and count again.",
    (
        key("count", "The key of the count.", "sample__entry_key"),
        *voided(),
        instant("restored_at", "When it was restored."),
        who("restored_by", "Who restored it."),
        text("restored_why", "The reason that was given."),
    ),
    rows=lambda scope: SampleRestored.objects.filter(
        sample__in=MiteSample.objects.visible_to(scope.person).values("pk")
    ).order_by("pk"),
)


def _asked(scope: Scope, subject: str) -> str:
    """What asked and for when; of a count week only that it was one, its key says nothing elsewhere."""
    kind, *parts = subject.split(":")
    return kind if kind == "week" or not parts else f"{kind} {parts[-1]}"


LEFT_OUT = Table(
    "counts_left_out",
    "Counts that were asked for in your yards and that somebody said would not be made.",
    (
        *yard("yard", "The yard's number in this file.", "yard"),
        Column("asked_for", CellKind.TEXT, "What asked, and for which day.", ("subject",), _asked),
        text("why", "The reason that was given."),
        instant("at", "When it was said."),
        who("by", "Who said it."),
    ),
    rows=lambda scope: CountLeftOut.objects.filter(yard__keeper=scope.person).order_by("pk"),
    comes_back=False,
)
