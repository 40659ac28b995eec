"""Invented bees: how many mites a made-up colony has on a day, and what a count of it would find.

Growth is that of the projection in the method pages (0.020 a day with brood, from published totals); the rest are
plain choices that make a season look like one. Nothing here is an estimate of anything real.
"""

import datetime as dt
from dataclasses import dataclass, field
from random import Random

from counts.samples import Method

SPRING_RATE = 0.0025  # mites per bee, mean over colonies, on 1 March of the first season
SPRING_MOST = 0.006  # on 1 April: colonies with many more have not seen the spring, or were split
GROWTH = dict.fromkeys(range(3, 10), 0.02) | {10: 0.004, 11: -0.003, 12: -0.003, 1: -0.003, 2: -0.003}
MOST = 0.25
COUNT_CV = 0.22  # scoop to scoop and bees by measure
BOARD_DROP = (
    900  # mites on a colony's bees that fall per day and mite per bee, so that 3 in 100 is about 27 a day
)

KILL = {
    "oxalic_acid": 0.93,
    "formic_acid": 0.88,
    "thymol": 0.82,
    "amitraz": 0.95,
    "hop_beta_acids": 0.70,
}


@dataclass
class Bees:
    """One colony's mites: mites per bee on a day, moved on from day to day."""

    random: Random
    on: dt.date
    rate: float = 0.0
    vigour: float = field(default=1.0)

    def __post_init__(self) -> None:
        self.rate = self.random.gammavariate(2.0, SPRING_RATE / 2.0)
        self.vigour = max(0.4, self.random.gauss(1.0, 0.15))

    def until(self, on: dt.date) -> float:
        """The rate on a later day."""
        while self.on < on:
            growth = GROWTH[self.on.month]
            self.rate = min(self.rate * (1 + growth * (self.vigour if growth > 0 else 1.0)), MOST)
            self.on += dt.timedelta(days=1)
            if (self.on.month, self.on.day) == (4, 1):
                self.rate = min(self.rate, self.random.uniform(0.2, 1.0) * SPRING_MOST)
        return self.rate

    def treated(self, on: dt.date, kill: float) -> None:
        """A treatment ends on that day and leaves the rest."""
        self.until(on)
        survivors = (1 - kill) * self.random.gammavariate(4.0, 0.25)
        self.rate *= min(survivors, 1.0)

    def found_in_jar(self, on: dt.date, bees: int, method: Method) -> int:
        """Mites that a jar of so many bees would show."""
        recovered = 0.80 if method in (Method.SUGAR_ROLL, Method.CO2) else 0.95
        return self._drawn(self.until(on) * bees * recovered)

    def found_on_board(self, on: dt.date, days: float) -> int:
        """Mites that a board would show after so many days."""
        return self._drawn(self.until(on) * BOARD_DROP * days)

    def _drawn(self, mean: float) -> int:
        shape = 1 / COUNT_CV**2
        expected = mean * self.random.gammavariate(shape, 1 / shape)
        return _poisson(self.random, expected)


def _poisson(random: Random, mean: float) -> int:
    if mean > 60:
        return max(0, round(random.gauss(mean, mean**0.5)))
    left, found = mean, 0
    while (left := left - random.expovariate(1.0)) > 0:
        found += 1
    return found
