"""Does an ingredient fall short in more yards than it used to, here, this season? Pure.

Only yards with a clear answer count: worked, fell short, did not work; each once a season. What to expect comes
from the club itself: the same ingredient, given the same way, in earlier seasons and in other regions. The chance
of as many yards or more is a beta-binomial tail, wider than a plain one by three parts: how little the others
say, how alike yards of a region and season are, and how alike those of one keeper. The chance that counts as too
small is shared among all looks of a season (Bonferroni).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy import special

from reports._disclosure import suppress_reason
from reports.constants import DEFAULTS, Constants
from reports.treatment_results import TreatmentFact, first_of_yards, yards_of_keepers
from treatments.outcome import Verdict

CLEAR = frozenset({Verdict.WORKED, Verdict.FELL_SHORT, Verdict.DID_NOT_WORK})
SHORT = CLEAR - {Verdict.WORKED}


@dataclass(frozen=True, slots=True)
class Look:
    """One ingredient in a season, in one region or (None) in all: what was found, and what the others led to expect.

    `chance` is that of as many yards short or more; `limit` is what it was held against.
    """

    ingredient: str
    region: int | None
    season: int
    yards: int
    keepers: int
    short: int
    compared: int
    usual: float
    usual_low: float
    usual_high: float
    chance: float
    limit: float

    @property
    def warns(self) -> bool:
        return self.chance < self.limit


def early_warnings(
    facts: Iterable[TreatmentFact], season: int, constants: Constants = DEFAULTS
) -> list[Look]:
    """Every look of a season that had enough yards, whether it warns or not. Later seasons are not looked at."""
    known = [fact for fact in facts if fact.season <= season]
    votes = _votes(fact for fact in known if fact.verdict in CLEAR)
    looks: list[tuple[str, int | None, list[TreatmentFact], list[TreatmentFact]]] = []
    for ingredient in sorted({one.ingredient for one in votes}):
        own = [one for one in votes if one.ingredient == ingredient]
        now = [one for one in own if one.season == season]
        before = [one for one in own if one.season < season]
        looks.append((ingredient, None, now, before))
        for region in sorted({one.region for one in now}):
            here = [one for one in now if one.region == region]
            looks.append((ingredient, region, here, [*before, *(o for o in now if o.region != region)]))
    enough = [one for one in looks if _enough(one[2], one[3], constants)]
    # All looks there can be, not those that have enough yards by now: the limit must not be lax early in a season.
    possible = len({one.ingredient for one in known}) * (len({one.region for one in known}) + 1)
    limit = constants.warn_below.value / max(possible, 1)
    return [_look(*one, limit, constants) for one in enough]


def chance_of_as_many(short: int, yards: int, share: float, likeness: float) -> float:
    """Chance that so many of the yards or more fall short: beta-binomial, plain binomial without likeness.

    `share` is what is expected, `likeness` the correlation between two yards.
    """
    if short <= 0:
        return 1.0
    if likeness < 1e-9:
        return float(special.bdtrc(short - 1, yards, share))
    number = np.arange(short, yards + 1)
    a, b = share * (1.0 / likeness - 1.0), (1.0 - share) * (1.0 / likeness - 1.0)
    ways = -np.log1p(yards) - special.betaln(yards - number + 1.0, number + 1.0)
    logs = ways + special.betaln(number + a, yards - number + b) - special.betaln(a, b)
    return min(float(np.exp(logs).sum()), 1.0)


def _votes(facts: Iterable[TreatmentFact]) -> list[TreatmentFact]:
    """One for each yard, ingredient and season: the first clear answer."""
    groups: dict[tuple[str, int], list[TreatmentFact]] = {}
    for fact in facts:
        groups.setdefault((fact.ingredient, fact.season), []).append(fact)
    return [vote for group in groups.values() for vote in first_of_yards(group)]


def _enough(here: Sequence[TreatmentFact], others: Sequence[TreatmentFact], constants: Constants) -> bool:
    """Whether a look is possible and may be told.

    It needs yards of several keepers here and enough to compare with.
    """
    return (
        suppress_reason(yards_of_keepers(here), constants) is None
        and len(others) >= constants.tried_yards_min.value
        and len({one.keeper for one in others}) >= constants.keepers_min.value
    )


def _look(
    ingredient: str,
    region: int | None,
    here: Sequence[TreatmentFact],
    others: Sequence[TreatmentFact],
    limit: float,
    constants: Constants,
) -> Look:
    short = [one for one in here if one.verdict in SHORT]
    seen, all_short = len(others), sum(1 for one in others if one.verdict in SHORT)
    keepers = constants.keeper_likeness.value
    seasons = constants.season_likeness.value
    crowd = 1.0 + keepers * _crowding(one.keeper for one in others)
    crowd += seasons * _crowding((one.region, one.season) for one in others)
    worth = seen / crowd
    usual = (all_short / seen * worth + 0.5) / (worth + 1.0)
    expected = _expected(here, others, usual)
    alike = keepers * _crowding(one.keeper for one in here) / max(len(here) - 1, 1)
    likeness = 1.0 - (1.0 - 1.0 / (worth + 2.0)) * (1.0 - seasons) * (1.0 - alike)
    chance = chance_of_as_many(len(short), len(here), expected, likeness)
    if len({one.keeper for one in short}) < constants.short_min.value:
        chance = 1.0  # one keeper's yards, or two keepers', are no sign of an ingredient
    tail = (1.0 - constants.drop_level.value) / 2.0
    a, b = usual * (worth + 1.0), (1.0 - usual) * (worth + 1.0)
    low, high = (float(special.betaincinv(a, b, share)) for share in (tail, 1.0 - tail))
    return Look(
        ingredient=ingredient,
        region=region,
        season=here[0].season,
        yards=len(here),
        keepers=len({one.keeper for one in here}),
        short=len(short),
        compared=seen,
        usual=usual,
        usual_low=low,
        usual_high=high,
        chance=chance,
        limit=limit,
    )


def _crowding(labels: Iterable[Hashable]) -> float:
    """How many others of the same label a yard has on the mean: 0 where every label stands once."""
    sizes = list(Counter(labels).values())
    return sum(size * size for size in sizes) / sum(sizes) - 1.0 if sizes else 0.0


def _expected(here: Sequence[TreatmentFact], others: Sequence[TreatmentFact], usual: float) -> float:
    """The share expected of these yards by the ways in which they gave it; a way leans on the ingredient."""
    tried = Counter(one.way for one in others)
    short = Counter(one.way for one in others if one.verdict in SHORT)
    by_way = {way: (short[way] + usual) / (tried[way] + 1.0) for way in {one.way for one in here}}
    return sum(by_way[one.way] for one in here) / len(here)
