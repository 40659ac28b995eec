"""Mites on bees and under cappings, day by day, through rounds of a treatment. Pure.

Mites enter cells at a steady rate, stay for the capped days, and come out as more; the number that come out
is solved so that an untreated colony grows as told. A round reaches only the mites on bees. All numbers are
parts of the mites at the start.
"""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from treatments.constants import DEFAULTS, Constants


@dataclass(frozen=True, slots=True)
class Brood:
    """How mites go in and out of cells: share entering a day, surviving a day on bees, coming out per one."""

    enters: float
    survives: float
    returns: float
    capped: npt.NDArray[np.float64]
    """Mites under cappings by age in days, per mite on bees, where an untreated colony settles."""

    @property
    def share_in_brood(self) -> float:
        """Part of an untreated colony's mites that is under cappings."""
        inside = float(self.capped.sum())
        return inside / (1.0 + inside)


@dataclass(frozen=True, slots=True)
class Course:
    """Day by day from 0, after the round of that day: mites on bees, under cappings; born and died so far."""

    on_bees: npt.NDArray[np.float64]
    in_brood: npt.NDArray[np.float64]
    born: npt.NDArray[np.float64]
    died: npt.NDArray[np.float64]
    start_on_bees: float

    @property
    def total(self) -> npt.NDArray[np.float64]:
        """All mites."""
        return self.on_bees + self.in_brood


def brood_of(dispersal_days: float, growth: float, constants: Constants = DEFAULTS) -> Brood:
    """The brood of a colony whose mites spend so many days on bees and grow at this rate per day."""
    capped_days = int(constants.capped_days.value)
    enters = -math.expm1(-1.0 / dispersal_days)
    survives = math.exp(-constants.mites_die_per_day.value)
    factor = math.exp(growth)
    first = survives * enters / factor
    returns = (factor - survives * (1.0 - enters)) / (first * factor ** -(capped_days - 1))
    return Brood(enters, survives, returns, first * factor ** -np.arange(float(capped_days)))


def broodless(constants: Constants = DEFAULTS) -> Brood:
    """No cells at all: every mite is on bees."""
    return Brood(0.0, math.exp(-constants.mites_die_per_day.value), 0.0, np.zeros(1))


def course(
    brood: Brood,
    rounds: Collection[int],
    kill: float,
    days: int,
    arrivals: float = 0.0,
    cells_until: int | None = None,
) -> Course:
    """Mites through `days` days with rounds on some of them; `arrivals` from elsewhere a day.

    With the queen caged no cell is capped from day `cells_until` on: mites then come out, and none go in.
    """
    whole = 1.0 + float(brood.capped.sum())
    on_bees, capped = 1.0 / whole, brood.capped / whole
    rows, born, died = [], 0.0, 0.0
    for day in range(days + 1):
        if day in rounds:
            died += on_bees * kill
            on_bees *= 1.0 - kill
        rows.append((on_bees, float(capped.sum()), born, died))
        born += (brood.returns - 1.0) * float(capped[-1]) + arrivals
        died += on_bees * (1.0 - brood.survives)
        alive, out = on_bees * brood.survives, brood.returns * float(capped[-1])
        enters = brood.enters if cells_until is None or day < cells_until else 0.0
        on_bees = alive * (1.0 - enters) + out + arrivals
        capped = np.concatenate(([alive * enters], capped[:-1]))
    bees, inside, born_by, died_by = np.asarray(rows).T
    return Course(bees, inside, born_by, died_by, start_on_bees=1.0 / whole)
