"""What the pages show of treatments, fetched with a number of queries that does not depend on how many there are."""

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from django.db.models import QuerySet
from django.urls import reverse

from apiaries.language import mark, say
from apiaries.lineage import Ancestor, ancestors_of
from apiaries.models import Colony, Person, Yard
from apiaries.panels import Panel
from apiaries.views.asking import today_in
from treatments.models import Dose, Round, Treatment
from treatments.record_changes import changes_of
from treatments.recount_rules import RecountStatus
from treatments.results import Result, results_for
from treatments.status import TreatmentStatus, out_due_on
from treatments.ways import cautions_for

PANEL_ORDER = 20  # after counts
PANEL_ROWS = 10
STATUS_WORDS = {
    TreatmentStatus.PLANNED: mark("Planned"),
    TreatmentStatus.IN_PROGRESS: mark("In progress"),
    TreatmentStatus.FINISHED: mark("Finished"),
    TreatmentStatus.CANCELLED: mark("Cancelled"),
}


@dataclass(frozen=True, slots=True)
class TreatmentRow:
    """One treatment as lists show it."""

    treatment: Treatment
    result: Result
    status: TreatmentStatus
    status_words: str
    first_on: dt.date | None
    last_on: dt.date | None

    @property
    def verdict(self) -> str:
        """Key of the verdict; empty for one that was cancelled or has not begun."""
        begun = self.status not in (TreatmentStatus.PLANNED, TreatmentStatus.CANCELLED)
        return self.result.outcome.verdict.value if begun else ""

    @property
    def waits(self) -> bool:
        """Whether its recount is still something to look at."""
        return self.status is not TreatmentStatus.CANCELLED


def rows_of(treatments: Iterable[Treatment], on: dt.date) -> list[TreatmentRow]:
    """A row for each treatment, in the order given."""
    return [row_of(result, on) for result in results_for(treatments, on).values()]


def row_of(result: Result, on: dt.date) -> TreatmentRow:
    treatment = result.treatment
    status = treatment.status(on)
    dates = treatment.round_dates()
    first = min((one.given_on or one.planned_on for one in dates), default=None)
    return TreatmentRow(treatment, result, status, say(STATUS_WORDS[status]), first, treatment.finished_on())


def listed(treatments: "QuerySet[Treatment]") -> "QuerySet[Treatment]":
    """Newest first."""
    return treatments.order_by("-recorded_at", "-pk")


def yard_panel(person: Person, yard: Yard) -> Panel:
    """Treatments and recounts on a yard's page."""
    found = list(listed(Treatment.objects.visible_to(person).filter(yard=yard))[: PANEL_ROWS + 1])
    context = {
        "rows": rows_of(found[:PANEL_ROWS], today_in(yard)),
        "more": len(found) > PANEL_ROWS,
        "may_treat": Yard.objects.recordable_by(person).filter(pk=yard.pk).exists(),
        "has_colonies": yard.colonies.living().exists(),
        "record_url": record_address(yard.keeper_id, today_in(yard), yard.pk),
    }
    return Panel("treatments/_yard_panel.html", PANEL_ORDER, context)


def colony_panel(person: Person, colony: Colony) -> Panel:
    """Treatments that gave this colony a dose."""
    mine = Treatment.objects.visible_to(person).filter(rounds__doses__colony=colony).distinct()
    found = list(listed(mine)[: PANEL_ROWS + 1])
    context = {
        "rows": rows_of(found[:PANEL_ROWS], today_in(colony.yard)),
        "more": len(found) > PANEL_ROWS,
        "before": _of_ancestors(person, colony),
    }
    return Panel("treatments/_colony_panel.html", PANEL_ORDER, context)


def _of_ancestors(person: Person, colony: Colony) -> list[tuple[Ancestor, list[Dose]]]:
    """The newest doses of each colony it was split from, up to the day of the split, that the person may see."""
    visible = Dose.objects.filter(
        voided_at=None, round__treatment__in=Treatment.objects.visible_to(person).values("pk")
    ).select_related("round__treatment__application")
    found = [
        (
            one,
            list(
                visible.filter(colony=one.colony, round__given_on__lte=one.until).order_by("-round__given_on")
            ),
        )
        for one in ancestors_of(colony)
    ]
    return [(one, doses[:PANEL_ROWS]) for one, doses in found if doses]


def record_address(keeper_pk: int, on: dt.date | None, yard_pk: int) -> str:
    """Where the medicine record of that yard and year stands."""
    asked = {"keeper": keeper_pk, "yard": yard_pk} | ({"year": on.year} if on else {})
    return f"{reverse('treatments:medicine-record')}?{urlencode(asked)}"


@dataclass(frozen=True, slots=True)
class RoundRow:
    """One round with its doses, and what can be done about it."""

    round: Round
    doses: Sequence[Any]
    out_due_on: dt.date | None
    may_give: bool
    may_take_out: bool


def detail_page(person: Person, treatment: Treatment, on: dt.date) -> dict[str, Any]:
    """Context of a treatment's page."""
    (row,) = rows_of([treatment], on)
    may_act = (
        row.status is not TreatmentStatus.CANCELLED
        and Yard.objects.recordable_by(person).filter(pk=treatment.yard_id).exists()
    )
    treatment = row.treatment
    found = treatment.rounds.select_related("sheet").prefetch_related("doses__colony", "doses__voided_by")
    rounds = list(found.order_by("number"))
    return {
        "row": row,
        "treatment": treatment,
        "recount": treatment.recount,
        "rounds": [
            RoundRow(
                round_,
                sorted(round_.doses.all(), key=lambda dose: (dose.colony.number or 0, dose.colony.name)),
                out_due_on(one),
                may_act and round_.given_on is None,
                may_act and one.is_in_hive(on),
            )
            for round_, one in zip(rounds, treatment.round_dates(), strict=True)
        ],
        "may_act": may_act,
        "count_now": may_act and row.result.recount_status in (RecountStatus.DUE, RecountStatus.LATE),
        "may_skip": may_act and treatment.recount.skipped_at is None and not row.result.done,
        "clear_on": treatment.clear_on(),
        "cautions": cautions_for(treatment.application),
        "changes": changes_of([treatment]).get(treatment.pk, []),
        "record_url": record_address(treatment.yard.keeper_id, row.first_on, treatment.yard_id),
    }
