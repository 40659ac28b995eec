"""What came of a club's treatments: the pooled drop of many yards, the words counted, and what may be shown. Pure.

One vote per yard. The survivors of each yard, as a part of the mites expected without any drop, are pooled by
random effects (DerSimonian & Laird 1986) with the range of Knapp & Hartung in its modified form (Röver, Knapp &
Friede 2015). Each yard's own chance is taken at the pooled share, not at the yard's: weights that follow the
counts would favour the yards in which many mites were left, and show treatments worse than they are.
"""

from __future__ import annotations

import datetime as dt
import math
from collections import Counter
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from scipy import special

from reports._disclosure import SuppressReason, suppress_reason
from reports.constants import DEFAULTS, Constants
from reports.pressure import design_effect
from treatments.outcome import Verdict

Floats = npt.NDArray[np.float64]
ROUNDS = 6
"""How often the share is worked out anew with the chances it gives; it no longer moves by then."""


@dataclass(frozen=True, slots=True)
class DropFacts:
    """The counts behind one treatment's drop: mites before and after, and see `treatments.outcome.Drop`."""

    before: int
    after: int
    scale: float
    spread: float


@dataclass(frozen=True, slots=True)
class TreatmentFact:
    """One treatment that was given, and what is known of it. `verdict` is None where no target is published."""

    treatment: int
    yard: Hashable
    keeper: Hashable
    region: int
    season: int
    first_on: dt.date
    ingredient: str
    way: str
    name: str
    verdict: Verdict | None
    counted_both: bool
    drop: DropFacts | None


@dataclass(frozen=True, slots=True)
class RandomEffects:
    """A pooled value, how the single ones differ beyond their own variance, and Knapp & Hartung's factor."""

    mean: float
    between: float
    variance: float
    factor: float


@dataclass(frozen=True, slots=True)
class PooledDrop:
    """The mean drop of the yards as a part of 1, with its 90 % range, and how many stand behind it."""

    drop: float
    low: float
    high: float
    yards: int
    keepers: int
    between: float = 0.0


@dataclass(frozen=True, slots=True)
class ResultRow:
    """One ingredient and way in a season, of one region or (None) of all of them.

    With a `reason` nothing is shown, with a `counted_reason` no words and no drop. `guards_others`: hidden so that
    a hidden region cannot be worked out from the others and the whole.
    """

    ingredient: str
    way: str
    name: str
    season: int
    region: int | None
    treatments: int
    counted_both: int
    yards: int
    keepers: int
    words: Mapping[Verdict | None, int]
    pooled: PooledDrop | None
    reason: SuppressReason | None = None
    counted_reason: SuppressReason | None = None
    guards_others: bool = False

    @property
    def shown(self) -> bool:
        return self.reason is None and not self.guards_others

    @property
    def is_told(self) -> bool:
        """Whether its words, and its drop where there is one, are shown."""
        return self.shown and self.counted_reason is None


def random_effects(values: npt.ArrayLike, variances: npt.ArrayLike) -> RandomEffects:
    """Pool two or more values with their variances (DerSimonian & Laird)."""
    y, v = np.asarray(values, dtype=np.float64), np.asarray(variances, dtype=np.float64)
    fixed = 1.0 / v
    total, more = float(fixed.sum()), y.size - 1
    off = float((fixed * (y - (fixed * y).sum() / total) ** 2).sum())
    room = total - float((fixed**2).sum()) / total
    between = max((off - more) / room, 0.0)
    weights = 1.0 / (v + between)
    mean = float((weights * y).sum() / weights.sum())
    factor = float((weights * (y - mean) ** 2).sum()) / more
    return RandomEffects(mean, between, 1.0 / float(weights.sum()), factor)


def pool_drops(
    drops: Sequence[DropFacts], yards_of_keepers: Sequence[int], constants: Constants = DEFAULTS
) -> PooledDrop | SuppressReason:
    """The mean drop of these yards with its range, or why it is not shown. One entry of `drops` per yard.

    The range is widened for keepers with several yards, which are alike. Where no mite was left anywhere, its
    lower end is that of half a mite in all.
    """
    reason = suppress_reason(yards_of_keepers, constants)
    if reason is not None:
        return reason
    before, after, scale, spread = (
        np.asarray([getattr(one, name) for one in drops], dtype=np.float64)
        for name in ("before", "after", "scale", "spread")
    )
    # The half mite is that of each yard's own quantiles; here it also takes the bias off 1 / before.
    expected = (before + 0.5) / scale
    left = after / expected
    least = 0.5 / float(expected.sum())
    share = float(left.mean())
    for _ in range(ROUNDS):
        share = max(share, least)
        chance = 1.0 / (before + 0.5) + 1.0 / (share * expected) + spread
        pooled = random_effects(left, share**2 * chance)
        share = pooled.mean
    effect = design_effect(yards_of_keepers, constants)
    freedom = max(len(drops) / effect - 1.0, 1.0)
    t = float(special.stdtrit(freedom, (1.0 + constants.drop_level.value) / 2.0))
    share = max(share, least)
    cv = math.sqrt(max(pooled.factor, 1.0) * pooled.variance * effect) / share
    top = share * math.exp(min(t * cv, 50.0))
    bottom = share * math.exp(-t * cv) if after.any() else 0.0
    drop = 1.0 - pooled.mean
    keepers = sum(1 for owned in yards_of_keepers if owned > 0)
    low, high = min(1.0 - top, drop), max(1.0 - bottom, drop)
    return PooledDrop(drop, low, high, len(drops), keepers, pooled.between / share**2)


def first_of_yards(facts: Iterable[TreatmentFact]) -> list[TreatmentFact]:
    """Of each yard the first treatment: who treats again mostly does so because the first one fell short."""
    found: dict[Hashable, TreatmentFact] = {}
    for fact in sorted(facts, key=lambda one: (one.first_on, one.treatment)):
        found.setdefault(fact.yard, fact)
    return list(found.values())


def yards_of_keepers(facts: Iterable[TreatmentFact]) -> list[int]:
    """Number of yards of each keeper among these treatments."""
    keepers = {fact.yard: fact.keeper for fact in facts}
    return list(Counter(keepers.values()).values())


def result_rows(
    facts: Iterable[TreatmentFact], season: int, constants: Constants = DEFAULTS
) -> list[ResultRow]:
    """Every ingredient and way of a season: a row for all regions together, then one for each region.

    What may be told of a region does not depend on what a reader asked for.
    """
    groups: dict[tuple[str, str], list[TreatmentFact]] = {}
    for fact in facts:
        if fact.season == season:
            groups.setdefault((fact.ingredient, fact.way), []).append(fact)
    rows: list[ResultRow] = []
    for key in sorted(groups):
        group = groups[key]
        regions = {region: [one for one in group if one.region == region] for region in _regions(group)}
        own = {region: _row(found, region, constants) for region, found in regions.items()}
        guards = _hidden_besides(regions, own, constants)
        rows.append(_row(group, None, constants))
        rows += [replace(row, guards_others=True) if region in guards else row for region, row in own.items()]
    return rows


def _regions(facts: Iterable[TreatmentFact]) -> list[int]:
    return sorted({fact.region for fact in facts})


def _row(facts: Sequence[TreatmentFact], region: int | None, constants: Constants) -> ResultRow:
    owned = yards_of_keepers(facts)
    counted = [fact for fact in facts if fact.counted_both]
    votes = first_of_yards(fact for fact in counted if fact.drop is not None)
    pooled = pool_drops([one.drop for one in votes if one.drop], yards_of_keepers(votes), constants)
    first = facts[0]
    return ResultRow(
        ingredient=first.ingredient,
        way=first.way,
        name=first.name,
        season=first.season,
        region=region,
        treatments=len(facts),
        counted_both=len(counted),
        yards=sum(owned),
        keepers=len(owned),
        words=Counter(fact.verdict for fact in facts),
        pooled=pooled if isinstance(pooled, PooledDrop) else None,
        reason=suppress_reason(owned, constants),
        counted_reason=suppress_reason(yards_of_keepers(counted), constants),
    )


def _hidden_besides(
    regions: Mapping[int, Sequence[TreatmentFact]], rows: Mapping[int, ResultRow], constants: Constants
) -> set[int]:
    """Regions to hide besides those that are: until what the whole lacks of the shown ones may itself be shown."""
    besides: set[int] = set()
    while True:
        hidden = [region for region, row in rows.items() if region in besides or not row.is_told]
        shown = [region for region in rows if region not in hidden]
        lacking = [fact for region in hidden for fact in regions[region]]
        if not shown or not hidden or _may_be_told(lacking, constants):
            return besides
        besides.add(min(shown, key=lambda region: (rows[region].yards, region)))


def _may_be_told(facts: Sequence[TreatmentFact], constants: Constants) -> bool:
    counted = [fact for fact in facts if fact.counted_both]
    groups = [facts, counted] if counted else [facts]
    return all(suppress_reason(yards_of_keepers(group), constants) is None for group in groups)
