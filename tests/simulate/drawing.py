"""Draws shared by the simulations, and what a scenario gives back."""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Result:
    """How often something held in one scenario of a group: out of so many tries."""

    group: str
    held: int
    tries: int

    @property
    def share(self) -> float:
        return self.held / self.tries


def held(group, inside) -> Result:
    inside = np.asarray(inside)
    return Result(group, int(inside.sum()), inside.size)


def factor(random, cv, shape):
    """Log-normal factors with mean 1 and this CV; ones without any spread."""
    if not cv:
        return np.ones(shape)
    sd = np.sqrt(np.log1p(cv**2))
    return np.exp(random.normal(-(sd**2) / 2, sd, shape))


def rates(random, kind, mean, c2, shape):
    """Rates of colonies with this mean and squared CV, Gamma or log-normal."""
    if kind == "gamma":
        return random.gamma(1 / c2, mean * c2, shape)
    return mean * factor(random, np.sqrt(c2), shape)


def jars(random, rate, bees=300, scoop=0.2, bee_cv=0.1):
    """Mites in jars of nominally so many bees."""
    errors = factor(random, scoop, rate.shape) * factor(random, bee_cv, rate.shape)
    return random.poisson(bees * rate * errors)
