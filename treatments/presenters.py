"""What the pages show of treatments, fetched with a number of queries that does not depend on how many there are."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from django.db.models import prefetch_related_objects
from django.urls import reverse

from apiaries.language import mark, say
from apiaries.lineage import Ancestor, ancestors_for
from apiaries.models import Person, Yard
from apiaries.on_page import ColonyOnPage, YardOnPage
from apiaries.panels import Panel
from apiaries.views.asking import today_in
from treatments.around import around_of, whole
from treatments.models import Dose, Round, Treatment
from treatments.on_page import PANEL_ROWS, around_for, listed, treatments_for
from treatments.record_changes import changes_of
from treatments.recount_rules import RecountStatus
from treatments.results import Result, results_for, results_of
from treatments.status import TreatmentStatus, out_due_on
from treatments.ways import cautions_for

PANEL_ORDER = 20  # after counts
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
    return _rows(results_for(treatments, on), on)


def rows_filled(treatments: Iterable[Treatment], on: dt.date, *, yards: Iterable[Yard]) -> list[TreatmentRow]:
    """The same of treatments that were read alone, in yards that are known with their club and keeper."""
    found, known = list(treatments), {yard.pk: yard for yard in yards}
    for treatment in found:
        if treatment.yard_id in known:
            treatment.yard = known[treatment.yard_id]
    prefetch_related_objects([one for one in found if one.yard_id not in known], "yard__club", "yard__keeper")
    prefetch_related_objects(found, "application", "recount", "rounds")
    return _rows(results_of(around_of(found, on), on), on)


def _rows(results: Mapping[int, Result], on: dt.date) -> list[TreatmentRow]:
    return [row_of(result, on) for result in results.values()]


def row_of(result: Result, on: dt.date) -> TreatmentRow:
    treatment = result.treatment
    status = treatment.status(on)
    dates = treatment.round_dates()
    first = min((one.given_on or one.planned_on for one in dates), default=None)
    return TreatmentRow(treatment, result, status, say(STATUS_WORDS[status]), first, treatment.finished_on())


def yard_panel(person: Person, page: YardOnPage) -> Panel:
    """Treatments and recounts on a yard's page."""
    yard, on = page.yard, today_in(page.yard)
    found, around = page.once(treatments_for), page.once(around_for, on)
    shown = {treatment.pk: around[treatment.pk] for treatment in found[:PANEL_ROWS]}
    context = {
        "rows": _rows(results_of(shown, on), on),
        "more": len(found) > PANEL_ROWS,
        "may_treat": page.recordable,
        "has_colonies": bool(page.living),
        "record_url": record_address(yard.keeper_id, on, yard.pk),
    }
    return Panel("treatments/_yard_panel.html", PANEL_ORDER, context)


def colony_panel(person: Person, page: ColonyOnPage) -> Panel:
    """Treatments that gave this colony a dose."""
    dosed = Dose.objects.filter(colony=page.colony).values("round__treatment")
    mine = Treatment.objects.visible_to(person).filter(pk__in=dosed)
    found = list(whole(listed(mine))[: PANEL_ROWS + 1])
    on = today_in(page.colony.yard)
    context = {
        "rows": _rows(results_of(around_of(found[:PANEL_ROWS], on), on), on),
        "more": len(found) > PANEL_ROWS,
        "before": _of_ancestors(page),
    }
    return Panel("treatments/_colony_panel.html", PANEL_ORDER, context)


def _of_ancestors(page: ColonyOnPage) -> list[tuple[Ancestor, list[Dose]]]:
    """The newest doses of each colony it was split from, up to the day of the split, that the person may see."""
    visible = Dose.objects.filter(
        voided_at=None, round__treatment__in=Treatment.objects.visible_to(page.person).values("pk")
    ).select_related("round__treatment__application")
    found = [
        (
            one,
            list(
                visible.filter(colony=one.colony, round__given_on__lte=one.until).order_by("-round__given_on")
            ),
        )
        for one in page.once(ancestors_for)
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
