"""Did a treatment work, and where does its recount stand: chosen from the counts around it, never stored.

The choices, in order. The before-count of a colony is its latest suitable one; its after-count the first suitable
one in the window, before the next dose of another treatment. Several counts of a colony, day and kind are added
up. All pairs are of one kind: washes if any colony has a pair of them, else rolls, else boards. Counts before and after
another colony was united with it are of different bees and are no pair.
"""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from apiaries.models import Brood, ChangeKind, Colony
from counts.constants import Constant
from counts.samples import Kind
from treatments.around import Around, read_around
from treatments.choosing import (
    KINDS,
    Counted,
    after_counts,
    before_counts,
    dosed_between,
    wanted,
)
from treatments.comparing import (
    ColonyResult,
    against_controls,
    days_between,
    drop_of,
    growing_days,
    picked_high,
)
from treatments.ingredients import Ingredient, target_drop
from treatments.models import Recount, Treatment
from treatments.outcome import (
    Outcome,
    Reason,
    Verdict,
)
from treatments.recount_rules import RecountStatus, recount_status
from treatments.sentences import Note
from treatments.status import TreatmentStatus


@dataclass(frozen=True, slots=True)
class Result:
    """What is known about a treatment on a day.

    `before` and `after` are the counts the outcome rests on: those of the pairs, or all there are without a pair.
    `treated` colonies got a dose. `controls` is the second, separate answer against untreated colonies.
    """

    treatment: Treatment
    outcome: Outcome
    per_colony: tuple[ColonyResult, ...]
    kind: Kind | None
    before: Counted
    after: Counted
    recount_status: RecountStatus
    done: bool
    treated: int
    colonies_counted_before: int
    colonies_counted_after: int
    days_between: float | None
    growing_days: float
    target: Constant | None
    controls: Outcome | None
    control_colonies: int
    notes: tuple[Note, ...]


def results_for(treatments: Iterable[Treatment], on: dt.date) -> dict[int, Result]:
    """By treatment's key, its result on that day. A constant number of queries."""
    return results_of(read_around(treatments, on), on)


def results_of(arounds: Mapping[int, Around], on: dt.date) -> dict[int, Result]:
    """The same from what was read around them on that day. No query."""
    return {pk: _result(around, on) for pk, around in arounds.items()}


def result_of(treatment: Treatment, on: dt.date) -> Result:
    """The result of one treatment on that day."""
    return results_for([treatment], on)[treatment.pk]


def recount_statuses(recounts: Iterable[Recount], on: dt.date) -> dict[int, RecountStatus]:
    """By recount's key, where it stands on that day. A constant number of queries.

    Not due while nothing was given or something is still in a hive; skipped too where the treatment was cancelled.
    """
    by_treatment = {recount.treatment_id: recount for recount in recounts}
    around = read_around([recount.treatment for recount in by_treatment.values()], on, with_others=False)
    return statuses_of(around, on)


def statuses_of(arounds: Mapping[int, Around], on: dt.date) -> dict[int, RecountStatus]:
    """The same from what was read around their treatments on that day. No query."""
    return {one.treatment.recount.pk: _recount_status(one, on) for one in arounds.values()}


def _recount_status(around: Around, on: dt.date) -> RecountStatus:
    treatment, recount = around.treatment, around.treatment.recount
    if _is_done(around):
        return RecountStatus.DONE
    if treatment.cancelled_at is not None:
        return RecountStatus.SKIPPED
    in_hive = any(one.is_in_hive(on) for one in treatment.round_dates())
    if recount.skipped_at is None and (in_hive or treatment.status(on) is TreatmentStatus.PLANNED):
        return RecountStatus.NOT_DUE
    return recount_status(recount.window, on, False, recount.skipped_at is not None)


def _is_done(around: Around) -> bool:
    """A suitable after-count of at least one colony that got a dose, of a kind that its before-count allows."""
    return any(
        after_counts(around, colony, kind) for colony in around.colonies for kind in wanted(around, colony)
    )


def _result(around: Around, on: dt.date) -> Result:
    treatment = around.treatment
    kind = _kind(around)
    target = target_drop(Ingredient(treatment.application.ingredient))
    colonies = tuple(_colony_result(around, colony, kind, target) for colony in around.colonies)
    pairs = [one for one in colonies if one.paired]
    chosen = pairs or colonies
    before = tuple(sample for one in chosen for sample in one.before)
    after = tuple(sample for one in chosen for sample in one.after)
    growing = growing_days(around, pairs, kind)
    refusal = _refusal(around, kind, pairs, on)
    outcome = (
        Outcome(None, None, None, _VERDICTS.get(refusal, Verdict.CANNOT_TELL), refusal)
        if refusal
        else drop_of(
            pairs,
            kind,
            target,
            treated=len(colonies),
            growing=growing,
            picked=picked_high(around, pairs, kind),
        )
    )
    controls, number = against_controls(around, pairs, kind, target)
    status = _recount_status(around, on)
    return Result(
        treatment=treatment,
        outcome=outcome,
        per_colony=colonies,
        kind=kind,
        before=before,
        after=after,
        recount_status=status,
        done=status is RecountStatus.DONE,
        treated=len(colonies),
        colonies_counted_before=sum(1 for one in colonies if one.before),
        colonies_counted_after=sum(1 for one in colonies if one.after),
        days_between=days_between(pairs),
        growing_days=growing,
        target=target,
        controls=controls,
        control_colonies=number,
        notes=_notes(around, colonies, pairs),
    )


_VERDICTS = {Reason.TOO_EARLY: Verdict.TOO_EARLY, Reason.NO_BEFORE_COUNT: Verdict.NO_BEFORE_COUNT}


def _kind(around: Around) -> Kind | None:
    """The kind of the pairs; without a pair, that of the before-counts; None where nothing was counted."""
    for both in (True, False):
        for kind in KINDS:
            for colony in around.colonies:
                if before_counts(around, colony, kind) and (not both or after_counts(around, colony, kind)):
                    return kind
    return next(
        (kind for kind in KINDS if any(after_counts(around, one, kind) for one in around.colonies)), None
    )


def _colony_result(
    around: Around, colony: Colony, kind: Kind | None, target: Constant | None
) -> ColonyResult:
    if kind is None:
        return ColonyResult(colony, (), (), None)
    alone = ColonyResult(
        colony, before_counts(around, colony, kind), after_counts(around, colony, kind), None
    )
    if not alone.counted_twice:
        return alone
    alone = replace(alone, changed=frozenset(around.changed_between(colony, alone.before, alone.after)))
    if not alone.paired:
        return alone
    growing = growing_days(around, [alone], kind)
    return replace(alone, outcome=drop_of([alone], kind, target, treated=None, growing=growing))


def _refusal(around: Around, kind: Kind | None, pairs: Sequence[ColonyResult], on: dt.date) -> Reason | None:
    """Why there is no number; None where there are pairs. That there is no before-count cannot be mended."""
    if pairs:
        return None
    if not around.colonies:
        return Reason.TOO_EARLY
    if not any(before_counts(around, colony, one) for colony in around.colonies for one in KINDS):
        return Reason.NO_BEFORE_COUNT
    if on < around.treatment.recount.earliest_on:
        return Reason.TOO_EARLY
    suitable = [
        (one, colony) for colony in around.colonies for one in KINDS if after_counts(around, colony, one)
    ]
    if any(one == kind for one, _ in suitable):
        return Reason.NOT_PAIRED
    if suitable:
        return Reason.DIFFERENT_METHODS
    return Reason.TOO_EARLY if _counted_too_early(around) else Reason.NO_AFTER_COUNT


def _counted_too_early(around: Around) -> bool:
    """Whether a treated colony was counted after its last dose, but before the window opens."""
    earliest = around.treatment.recount.earliest_on
    return any(
        around.doses_of(colony)[-1].on < sample.sampled_on < earliest
        for colony in around.colonies
        for sample in around.samples.get(colony.pk, ())
    )


def _notes(
    around: Around, colonies: Sequence[ColonyResult], pairs: Sequence[ColonyResult]
) -> tuple[Note, ...]:
    """What else is known that could have moved the counts."""
    treatment = around.treatment
    noted = {sample.brood for one in pairs for sample in (*one.before, *one.after)}
    ingredient = treatment.application.ingredient
    late = treatment.recount.latest_on
    found = {
        Note.BROOD_PRESENT: ingredient == Ingredient.OXALIC_ACID and bool(noted & {Brood.SOME, Brood.PLENTY}),
        Note.COUNTED_LATE: any(one.after[0].sampled_on > late for one in pairs),
        Note.SOME_NOT_COUNTED: bool(pairs) and len(pairs) < len(colonies),
        Note.OTHER_TREATMENT: any(dosed_between(around, one.colony, one.before, one.after) for one in pairs),
        Note.MOVED: any(s.yard_id != treatment.yard_id for one in pairs for s in (*one.before, *one.after)),
        Note.SPLIT: any(ChangeKind.SPLIT in one.changed for one in pairs),
        Note.UNITED: any(ChangeKind.UNITED in one.changed for one in colonies),
        Note.REQUEENED: any(ChangeKind.REQUEENED in one.changed for one in pairs),
        Note.OTHERS_UNTREATED: bool(around.colonies and around.others),
    }
    return tuple(note for note, holds in found.items() if holds)
