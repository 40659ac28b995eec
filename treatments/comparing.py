"""The sums for the chosen pairs of a treatment: the drop, and the second answer against untreated colonies."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from apiaries.models import Brood, ChangeKind, Colony
from counts.constants import Constant
from counts.estimate import recovery_of
from counts.models import MiteSample
from counts.samples import Kind, Method
from treatments.around import Around
from treatments.choosing import (
    Counted,
    after_counts,
    bees_of,
    before_counts,
    days_of,
    dosed_between,
    mites_of,
    rate_of,
)
from treatments.outcome import (
    DEFAULT_GROWTH,
    Outcome,
    Reason,
    Verdict,
    drop_against_controls,
    drop_in_mites,
    drop_on_boards,
)

CONTROLS_MIN = 2
"""Fewer untreated colonies say nothing about what would have happened (our choice)."""
NO_VERDICT_TARGET = 0.90
"""Where no bar is published: a number the sums need, whose word is then thrown away."""


@dataclass(frozen=True, slots=True)
class ColonyResult:
    """One treated colony: the counts chosen, and what they say of it alone."""

    colony: Colony
    before: Counted
    after: Counted
    outcome: Outcome | None
    changed: frozenset[ChangeKind] = frozenset()
    """What happened to its bees or its queen between the two counts."""

    @property
    def counted_twice(self) -> bool:
        return bool(self.before and self.after)

    @property
    def paired(self) -> bool:
        """Whether the two counts may be compared: after a union they are of different bees."""
        return self.counted_twice and ChangeKind.UNITED not in self.changed


def drop_of(
    pairs: Sequence[ColonyResult],
    kind: Kind | None,
    target: Constant | None,
    *,
    treated: int | None,
    growing: float = 0.0,
    picked: bool = False,
) -> Outcome:
    """The drop of these pairs, about `treated` colonies (None: about these alone).

    Jars are corrected for what mites grow in `growing` days. Without a published bar: no verdict.
    """
    before, after = [one.before for one in pairs], [one.after for one in pairs]
    aim = target.value if target else NO_VERDICT_TARGET
    if kind is Kind.BOARD:
        shares = [sample.share_counted for one in (*before, *after) for sample in one]
        outcome = drop_on_boards(
            mites_of(before),
            days_of(before, max(shares)),
            mites_of(after),
            days_of(after, max(shares)),
            share_counted=min(shares),
            treated_colonies=treated,
            target=aim,
            selected_by_count=picked,
        )
    else:
        outcome = drop_in_mites(
            mites_of(before),
            bees_of(before),
            mites_of(after),
            bees_of(after),
            treated_colonies=treated,
            target=aim,
            days_between=growing,
            growth=DEFAULT_GROWTH if growing else None,
            same_method=_same_recovery(before + after),
            selected_by_count=picked,
        )
    if target is None and outcome.drop is not None:
        return replace(outcome, verdict=Verdict.CANNOT_TELL, reason=Reason.NO_TARGET, mites_needed=None)
    return outcome


def _same_recovery(counted: Sequence[Counted]) -> bool:
    """Whether all jars find the same share of the mites; a sugar roll and CO2 are one kind, and do not."""
    methods = {Method(sample.method) for one in counted for sample in one}
    return len({recovery_of(method).value for method in methods}) == 1


def days_between(pairs: Sequence[ColonyResult]) -> float | None:
    """Mean days from the counts before to those after; None without pairs."""
    if not pairs:
        return None
    return sum((one.after[0].sampled_on - one.before[0].sampled_on).days for one in pairs) / len(pairs)


def growing_days(around: Around, pairs: Sequence[ColonyResult], kind: Kind | None) -> float:
    """Days between the counts in which mites could multiply; 0 for boards.

    The days of the treatment itself, from its first dose to its end, are left out: what mites did then is its own
    doing, and a treatment must not be credited with growth that it ought to have prevented. Nor do mites grow without
    brood: where none was noted at the counts before, the days before the treatment are left out, and where none was
    noted at those after, the days after it.
    """
    first, last = around.first_dose_on(), around.treatment.finished_on()
    if kind is Kind.BOARD or not pairs or first is None or last is None:
        return 0.0
    before = [sample for one in pairs for sample in one.before]
    after = [sample for one in pairs for sample in one.after]
    earlier = sum((first - one.before[0].sampled_on).days for one in pairs) / len(pairs)
    later = sum((one.after[0].sampled_on - max(first, last)).days for one in pairs) / len(pairs)
    return max(earlier * (not _broodless(before)) + later * (not _broodless(after)), 0.0)


def _broodless(samples: Sequence[MiteSample]) -> bool:
    """Whether no brood was noted, and nothing else."""
    return {sample.brood for sample in samples} - {Brood.UNKNOWN.value} == {Brood.NONE.value}


def picked_high(around: Around, pairs: Sequence[ColonyResult], kind: Kind | None) -> bool:
    """Whether only the colonies with the highest before-counts of the yard were treated."""
    if kind is None or not pairs:
        return False
    others = [before for colony in around.others if (before := before_counts(around, colony, kind))]
    return bool(others) and min(rate_of(kind, one.before) for one in pairs) > max(
        rate_of(kind, one) for one in others
    )


def against_controls(
    around: Around, pairs: Sequence[ColonyResult], kind: Kind | None, target: Constant | None
) -> tuple[Outcome | None, int]:
    """The answer against untreated colonies of the yard, jars only, and how many; None with fewer than two.

    A control has both counts in the same windows, and between them nothing in its hive and the same bees and queen.
    """
    if not pairs or kind is None or kind is Kind.BOARD:
        return None, 0
    controls = [
        (before, after)
        for colony in around.others
        if (before := before_counts(around, colony, kind))
        and (after := after_counts(around, colony, kind))
        and not dosed_between(around, colony, before, after)
        and not around.changed_between(colony, before, after)
    ]
    if len(controls) < CONTROLS_MIN:
        return None, len(controls)
    arms = (
        [one.before for one in pairs],
        [one.after for one in pairs],
        *map(list, zip(*controls, strict=True)),
    )
    sums = [numbers for arm in arms for numbers in (mites_of(arm), bees_of(arm))]
    outcome = drop_against_controls(*sums, target=target.value if target else NO_VERDICT_TARGET)
    if target is None and outcome.drop is not None:
        outcome = replace(outcome, verdict=Verdict.CANNOT_TELL, reason=Reason.NO_TARGET, mites_needed=None)
    return outcome, len(controls)
