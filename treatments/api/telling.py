"""Treatments as other programs get them: the rows of the pages, with their figures not yet in words."""

import datetime as dt
import math
from collections import defaultdict
from collections.abc import Iterable
from functools import cache
from typing import Any

from django.db.models import QuerySet, prefetch_related_objects

from apiaries.models import Person
from apiaries.views.asking import today_in
from counts.api.telling import estimate_of_count, made_by, mean_made_by, mean_told, seen_of, void_told
from counts.constants import Constants as CountConstants
from counts.samples import Kind, Method
from counts.spread import constants_of_club
from counts.standing import Published
from counts.yards import mean_of
from treatments._verdicts import Drop, Outcome
from treatments.choosing import Counted, mites_of
from treatments.constants import DEFAULTS, METHOD_VERSION
from treatments.models import Round, Treatment
from treatments.outcome_page import outcome_sentence_of
from treatments.presenters import TreatmentRow, rows_of
from treatments.results import Result
from treatments.status import out_due_on

_USED = (
    "level",
    "target_synthetic",
    "target_other",
    "floor_below_target",
    "jar_c2",
    "between_colonies_c2",
    "between_colonies_weight",
    "learn_from_after",
    "mites_before_min",
    "jar_bees_min",
    "board_day_cv",
    "board_grid_cv",
    "board_days_min",
    "growth_per_day",
    "days_between_max",
)


def tellable(treatments: "QuerySet[Treatment]") -> "QuerySet[Treatment]":
    """With what `treatments_told` needs, in three queries however many there are."""
    return treatments.select_related(
        "application", "yard__club", "recount__skipped_by", "recorded_by", "cancelled_by"
    ).prefetch_related("rounds__doses__colony", "rounds__doses__voided_by")


def treatments_told(treatments: Iterable[Treatment], person: Person) -> list[dict[str, Any]]:
    """Each treatment of `tellable`, in the order given, on the day that it is in its yard.

    The number of queries grows with the days that it is now in the yards (two at most), not with the treatments.
    """
    treatments = list(treatments)
    by_day: dict[dt.date, list[Treatment]] = defaultdict(list)
    for one in treatments:
        by_day[today_in(one.yard)].append(one)
    rows = {row.treatment.pk: (row, on) for on, some in by_day.items() for row in rows_of(some, on)}
    counted = [sample for row, _ in rows.values() for sample in (*row.result.before, *row.result.after)]
    prefetch_related_objects(counted, "basis")  # a count by itself is told as it was kept
    telling = _Telling(seen_of([sample.pk for sample in counted], person))
    return [telling.treatment(one, *rows[one.pk]) for one in treatments]


class _Telling:
    """What several treatments of one answer share."""

    def __init__(self, seen: set[int]) -> None:
        self.seen, self.published = seen, Published()
        self.constants_of = cache(constants_of_club)

    def treatment(self, asked: Treatment, row: TreatmentRow, on: dt.date) -> dict[str, Any]:
        """`asked` has the doses, the row's own has the rounds alone."""
        way, recount = asked.application, asked.recount
        return {
            "id": asked.pk,
            "yard": asked.yard_id,
            "application": {
                "key": way.key,
                "name": way.name,
                "ingredient": way.ingredient,
                "way": way.way,
                "jurisdiction": way.jurisdiction,
            },
            "product": asked.product,
            "batch": asked.batch,
            "note": asked.note,
            "state": row.status.value,
            "first_on": row.first_on,
            "last_on": row.last_on,
            "withdrawal_days": asked.withdrawal_days,
            "clear_on": asked.clear_on(),
            "recorded_at": asked.recorded_at,
            "recorded_by": asked.recorded_by.name,
            "cancelled": void_told(asked.cancelled_at, asked.cancelled_by, asked.cancelled_why),
            "rounds": _rounds(asked),
            "recount": {
                "state": row.result.recount_status.value,
                "earliest_on": recount.earliest_on,
                "ideal_on": recount.ideal_on,
                "latest_on": recount.latest_on,
                "reason": recount.reason,
                "source": recount.source,
                "skipped": void_told(recount.skipped_at, recount.skipped_by, recount.skipped_why),
            },
            "outcome": self.outcome(row.result, on) if row.verdict else None,
        }

    def outcome(self, result: Result, on: dt.date) -> dict[str, Any]:
        outcome, target = result.outcome, result.target
        return {
            "word": outcome.verdict.value,
            "reason": outcome.reason.value if outcome.reason else None,
            "sentence": outcome_sentence_of(result, on),
            "kind": result.kind.value if result.kind else None,
            "drop": _drop(outcome),
            "as_counted": _drop(outcome.seen),
            "target": target.value if target else None,
            "target_source": target.source if target else "",
            "colonies_treated": result.treated,
            "colonies_compared": sum(1 for one in result.per_colony if one.paired),
            "mites_needed": _whole(outcome.mites_needed),
            "growing_days": result.growing_days,
            "picked_high": outcome.picked_high,
            "before": self.side(result, result.before),
            "after": self.side(result, result.after),
            "notes": [note.value for note in result.notes],
            "against_untreated": _against(result),
            "made_by": made_by(METHOD_VERSION, DEFAULTS.as_stored(), _USED),
        }

    def side(self, result: Result, counted: Counted) -> dict[str, Any] | None:
        """Before or after; None without counts."""
        if not counted:
            return None
        board = result.kind is Kind.BOARD
        days = [sample.sampled_on for sample in counted]
        return {
            "mites": mites_of([counted])[0],
            "bees": None if board else sum(sample.bees or 0 for sample in counted),
            "board_days": sum(float(sample.board_days or 0) for sample in counted) if board else None,
            "colonies": len({sample.colony_id for sample in counted}),
            "first_on": min(days),
            "last_on": max(days),
            "counts": sorted(sample.pk for sample in counted if sample.pk in self.seen),
            "estimate": self.mean(result, counted),
        }

    def mean(self, result: Result, counted: Counted) -> dict[str, Any] | None:
        """As the page tells where colonies stood: one count by itself, jars of several colonies as a mean."""
        if len(counted) == 1:
            return estimate_of_count(counted[0], self.published.said(counted[0]))
        if result.kind is Kind.BOARD:
            return None
        club = result.treatment.yard.club_id
        constants: CountConstants = self.constants_of(club)
        estimate = mean_of(counted, max(result.treated, len({one.colony_id for one in counted})), constants)
        told = mean_made_by(constants, {Method(one.method) for one in counted})
        return mean_told(estimate, told)


def _rounds(treatment: Treatment) -> list[dict[str, Any]]:
    rounds = sorted(treatment.rounds.all(), key=lambda one: one.number)
    return [
        {
            "number": one.number,
            "planned_on": one.planned_on,
            "given_on": one.given_on,
            "out_on": one.out_on,
            "out_due_on": out_due_on(dates),
            "doses": _doses(one),
        }
        for one, dates in zip(rounds, treatment.round_dates(), strict=True)
    ]


def _doses(round_: Round) -> list[dict[str, Any]]:
    doses = sorted(round_.doses.all(), key=lambda dose: (dose.colony.number or 0, dose.colony.name, dose.pk))
    return [
        {
            "colony": dose.colony_id,
            "colony_name": dose.colony.name,
            "amount": float(dose.amount),
            "unit": dose.unit,
            "why_above": dose.why_above,
            "voided": void_told(dose.voided_at, dose.voided_by, dose.voided_why),
        }
        for dose in doses
    ]


def _against(result: Result) -> dict[str, Any] | None:
    outcome = result.controls
    if outcome is None:
        return None
    return {
        "word": outcome.verdict.value,
        "reason": outcome.reason.value if outcome.reason else None,
        "drop": _drop(outcome),
        "untreated_colonies": result.control_colonies,
    }


def _drop(one: Outcome | Drop | None) -> dict[str, float] | None:
    if one is None or one.drop is None or one.low is None or one.high is None:
        return None
    return {"drop": one.drop, "low": one.low, "high": one.high, "level": DEFAULTS.level.value}


def _whole(value: float | None) -> int | None:
    return int(value) if value is not None and math.isfinite(value) else None
