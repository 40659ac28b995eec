"""When to recount, and which counts can serve as the count before and after a treatment. Pure."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection
from dataclasses import dataclass
from enum import StrEnum

from counts.samples import JAR_KINDS, Kind
from treatments.constants import DEFAULTS, Constants
from treatments.status import days_after

_ACCEPTED = {"jar": frozenset(JAR_KINDS), "either": frozenset(JAR_KINDS | {Kind.BOARD})}
"""What a rule that leaves a choice accepts.

Of a pair, the second count then has to be of the first one's kind.
"""


class RecountStatus(StrEnum):
    """Where the recount that a treatment owes stands on a day."""

    NOT_DUE = "not_due"
    DUE = "due"
    LATE = "late"
    DONE = "done"
    SKIPPED = "skipped"


class Fit(StrEnum):
    """Whether a count can stand before or after a treatment, or the first reason why not."""

    SUITABLE = "suitable"
    VOIDED = "voided"
    OTHER_KIND = "other_kind"
    TOO_EARLY = "too_early"
    TOO_LATE = "too_late"
    TREATMENT_IN_HIVE = "treatment_in_hive"
    AFTER_NEXT_DOSE = "after_next_dose"
    BEFORE_OTHER_DOSE = "before_other_dose"


@dataclass(frozen=True, slots=True)
class RecountRule:
    """Days from the end of a treatment to a count, of one kind, that tells the truth; with its source."""

    earliest_days: int
    ideal_days: int
    latest_days: int
    kind: str
    reason: str
    source: str
    mark: str


@dataclass(frozen=True, slots=True)
class Window:
    """Earliest, ideal and latest day of a recount."""

    earliest_on: dt.date
    ideal_on: dt.date
    latest_on: dt.date


def recount_window(rule: RecountRule, finished_on: dt.date) -> Window:
    """The days of the recount after a treatment whose last day is `finished_on`."""
    return Window(
        days_after(finished_on, rule.earliest_days),
        days_after(finished_on, rule.ideal_days),
        days_after(finished_on, rule.latest_days),
    )


def recount_status(window: Window, on: dt.date, done: bool, skipped: bool) -> RecountStatus:
    """Status on a day. A count that was made wins over one that was skipped: what was counted is known."""
    if done:
        return RecountStatus.DONE
    if skipped:
        return RecountStatus.SKIPPED
    if on < window.earliest_on:
        return RecountStatus.NOT_DUE
    return RecountStatus.DUE if on <= window.latest_on else RecountStatus.LATE


def wanted_kinds(rule_kind: str, before_kinds: Collection[str] = ()) -> frozenset[str]:
    """Kinds a colony's after-count may have.

    A rule that leaves a choice ("jar", "either") accepts the kinds of the colony's before-counts; where it has
    none that fits, whichever was counted. Washes, rolls and boards are never compared with each other.
    """
    accepted = frozenset(map(str, _ACCEPTED.get(rule_kind, (rule_kind,))))
    return accepted & frozenset(map(str, before_kinds)) or accepted


def _is_kind(sample_kind: str, wanted_kind: str) -> bool:
    return sample_kind in _ACCEPTED.get(wanted_kind, (wanted_kind,))


def after_fit(
    *,
    sample_kind: str,
    sampled_on: dt.date,
    voided: bool,
    wanted_kind: str,
    window: Window,
    treatment_in_hive: bool = False,
    next_dose_on: dt.date | None = None,
    constants: Constants = DEFAULTS,
) -> Fit:
    """Whether a count of a treated colony can be its after-count.

    `wanted_kind`: the kind of its before-count, or the rule's ("jar", "either") where there is none. A late
    one still serves for a while; after the next dose it tells of another treatment. A count on the day of
    that dose was made before it, unless the hive was marked as having a treatment in it.
    """
    last = days_after(window.latest_on, int(constants.after_count_late_days.value))
    if voided:
        return Fit.VOIDED
    if not _is_kind(sample_kind, wanted_kind):
        return Fit.OTHER_KIND
    if sampled_on < window.earliest_on:
        return Fit.TOO_EARLY
    if next_dose_on is not None and sampled_on > next_dose_on:
        return Fit.AFTER_NEXT_DOSE
    if treatment_in_hive:
        return Fit.TREATMENT_IN_HIVE
    return Fit.TOO_LATE if sampled_on > last else Fit.SUITABLE


def before_fit(
    *,
    sample_kind: str,
    sampled_on: dt.date,
    voided: bool,
    wanted_kind: str,
    first_dose_on: dt.date,
    treatment_in_hive: bool = False,
    other_dose_on: dt.date | None = None,
    constants: Constants = DEFAULTS,
) -> Fit:
    """Whether a count can be a colony's before-count.

    Same kind, shortly before the first dose, nothing in the hive. `other_dose_on`: the last dose of an earlier
    treatment; a count from before that one would credit this treatment with what the other did.
    """
    first = days_after(first_dose_on, -int(constants.before_count_days.value))
    if voided:
        return Fit.VOIDED
    if not _is_kind(sample_kind, wanted_kind):
        return Fit.OTHER_KIND
    if sampled_on > first_dose_on:
        return Fit.TOO_LATE
    if sampled_on < first:
        return Fit.TOO_EARLY
    if other_dose_on is not None and sampled_on <= other_dose_on:
        return Fit.BEFORE_OTHER_DOSE
    return Fit.TREATMENT_IN_HIVE if treatment_in_hive else Fit.SUITABLE
