"""An attacker who works out single keepers' mites from what pages show, by taking figures from one another.

What they start with is more than any page says: who counted in each month, in which part of it each yard is, and that
no rate is above a limit. What they collect are means of groups of yards, rounded as they are shown; each says between
which ends the sum of its yards lies. For each yard, and for each keeper's mean, `scipy.optimize.linprog` then finds
the least and the most that all of this together leaves possible.

A value is recovered when these two are closer together than 20 % of it to either side, or than 0.3 per 100 bees (or
per day) where that is more, and the least is above 0. Nobody knows their own colonies closer than that: 9 mites in a
jar of 300 bees say 1.3 to 6.0 per 100 bees. That everybody is low where the mean is low, the mean says by itself: such
knowledge has 0 as its least, tells one from another in nothing, and is counted apart as `low`.

Not tried: medians, ranges and shares of yards above a level, which are no sums (docs/explanation/small-groups.md).
"""

from collections import Counter
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy.optimize import linprog

from tests.access.crowd import Vote

MOST = {"wash": 60.0, "roll": 60.0, "board": 400.0}
"""No rate is above this; the attacker knows the trade."""
ROUNDED = 0.05
CLOSE, CLOSE_SHARE = 0.3, 0.2


@dataclass(frozen=True)
class Mean:
    """A figure as it was shown, and the yards it is the mean of."""

    yards: frozenset[int]
    shown: float
    exact: bool = False
    """`None found` is no rounded figure."""


@dataclass
class Loot:
    """What came of an attack: values looked for, those recovered, those only known to be low."""

    tried: int = 0
    recovered: int = 0
    low: int = 0
    wrong: list[str] = field(default_factory=list)
    """Values outside of what was worked out: then the sums of the attack are wrong."""

    def __iadd__(self, other: "Loot") -> "Loot":
        self.tried, self.recovered = self.tried + other.tried, self.recovered + other.recovered
        self.low, self.wrong = self.low + other.low, self.wrong + other.wrong
        return self


def attack(votes: Sequence[Vote], means: Collection[Mean], *, kind: str, own: Collection[int] = ()) -> Loot:
    """Everything that one cell's means say of its yards and keepers, to somebody who keeps the yards `own`."""
    loot = Loot()
    hunted = [vote for vote in votes if vote.yard not in set(own)]
    if not means or not hunted:
        return loot
    system = _System(votes, list(means), MOST[kind], set(own))
    targets: list[list[Vote]] = [[vote] for vote in hunted]
    for keeper, number in Counter(vote.keeper for vote in hunted).items():
        if number > 1:
            targets.append([vote for vote in hunted if vote.keeper == keeper])
    for target in targets:
        truth = sum(vote.rate for vote in target) / len(target)
        least, most = system.ends(target)
        loot.tried += 1
        if not least - 1e-6 <= truth <= most + 1e-6:
            loot.wrong.append(f"{target}: {truth} is not in {least} to {most}")
        if most - least <= 2 * max(CLOSE, CLOSE_SHARE * truth):
            loot.recovered += least > 1e-6
            loot.low += least <= 1e-6
    return loot


class _System:
    """The sums that are known. Yards of which the same is known are alike, so each question is asked once."""

    def __init__(self, votes: Sequence[Vote], means: list[Mean], most: float, own: set[int]) -> None:
        self.most = most
        self.group_of = {
            vote.yard: tuple(vote.yard in mean.yards for mean in means)
            for vote in votes
            if vote.yard not in own
        }
        self.sizes = Counter(self.group_of.values())
        self.groups = list(self.sizes)
        self.rows, self.least, self.greatest = [], [], []
        for place, mean in enumerate(means):
            known = sum(vote.rate for vote in votes if vote.yard in mean.yards and vote.yard in own)
            off = 0.0 if mean.exact else ROUNDED + 1e-9
            self.rows.append([float(group[place]) for group in self.groups])
            self.least.append(len(mean.yards) * (mean.shown - off) - known)
            self.greatest.append(len(mean.yards) * (mean.shown + off) - known)
        self.found: dict[tuple[int, ...], tuple[float, float]] = {}

    def ends(self, target: Sequence[Vote]) -> tuple[float, float]:
        """The least and the most that the mean of these yards can be."""
        counted = Counter(self.group_of[vote.yard] for vote in target)
        taken = tuple(counted[group] for group in self.groups)
        if taken not in self.found:
            self.found[taken] = self._solved(taken)
        return self.found[taken]

    def _solved(self, taken: tuple[int, ...]) -> tuple[float, float]:
        # Of each group two unknowns: the sum over the target's yards, and the sum over the others.
        rows = np.hstack([np.asarray(self.rows), np.asarray(self.rows)])
        bounds = [(0.0, self.most * number) for number in taken]
        bounds += [
            (0.0, self.most * (self.sizes[group] - number))
            for group, number in zip(self.groups, taken, strict=True)
        ]
        asked = np.array([1.0 / sum(taken)] * len(taken) + [0.0] * len(taken))
        ends = []
        for sign in (1.0, -1.0):
            solved = linprog(
                sign * asked,
                A_ub=np.vstack([rows, -rows]),
                b_ub=np.concatenate([self.greatest, -np.asarray(self.least)]),
                bounds=bounds,
                method="highs",
            )
            assert solved.success, solved.message
            ends.append(sign * solved.fun)
        return ends[0], ends[1]


def everywhere(
    cells: Mapping[tuple, Sequence[Vote]],
    means: Mapping[tuple, Collection[Mean]],
    owns: Callable[[Sequence[Vote]], list[set[int]]] = lambda votes: [set()],
) -> Loot:
    """The attack on every cell, by everybody that `owns` names there."""
    loot = Loot()
    for cell, votes in cells.items():
        for own in owns(votes) if means.get(cell) else ():
            loot += attack(votes, means[cell], kind=cell[2], own=own)
    return loot


def largest_keepers(votes: Sequence[Vote], number: int = 3) -> list[set[int]]:
    """The yards of those who keep most of a cell: they know most of it."""
    most = Counter(vote.keeper for vote in votes).most_common(number)
    return [{vote.yard for vote in votes if vote.keeper == keeper} for keeper, _ in most]
