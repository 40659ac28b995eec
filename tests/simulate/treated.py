"""The pooled drop of many yards, and the early warning of a club: false alarms, and how much it notices."""

import datetime as dt
import itertools
from dataclasses import replace

import numpy as np
from scipy import special

from reports.early_warning import early_warnings
from reports.pressure import suppress_reason
from reports.treatment_results import DropFacts, PooledDrop, TreatmentFact, pool_drops
from tests.simulate.drawing import Result, factor, jars, rates
from treatments.outcome import Verdict, drop_in_mites

POOLS, CLUBS, LARGE_CLUBS = 200, 300, 100
COLONIES, UNLIKE, LOOKS = 5, 0.5, 12


def pool_scenarios():
    return list(itertools.product((6, 10, 20), (0.01, 0.04), (0.6, 0.9, 0.97), (0.0, 0.5, 0.8)))


def pool(scenario, seed):
    """Half of each yard's ten colonies counted; keepers with one to three yards, their yards alike by 0.4.

    `sd`: how what survives differs between yards, on the log scale. The truth is the mean of what survives.
    """
    yards, mean, drop, sd = scenario
    random = np.random.default_rng(seed)
    inside = []
    for _ in range(POOLS):
        keeper = np.repeat(np.arange(yards), random.integers(1, 4, yards))[:yards]
        own, theirs = random.normal(0, 1, yards), random.normal(0, 1, yards)[keeper]
        left = (1 - drop) * np.exp(sd * (np.sqrt(0.6) * own + np.sqrt(0.4) * theirs) - sd**2 / 2)
        shape = (yards, COLONIES)
        rate = mean * rates(random, "gamma", 1.0, 0.6, (yards, 1)) * rates(random, "gamma", 1.0, 0.8, shape)
        before = jars(random, rate)
        after = jars(random, rate * left[:, None] * factor(random, UNLIKE, shape))
        facts, owners = [], []
        for m, n, owner in zip(before, after, keeper, strict=True):
            said = drop_in_mites(m, 300, n, 300, treated_colonies=2 * COLONIES)
            if said.scale is not None:
                facts.append(DropFacts(said.mites_before, said.mites_after, said.scale, said.spread))
                owners.append(owner)
        owned = [int(one) for one in np.bincount(owners) if one] if owners else []
        if suppress_reason(owned) is not None:
            continue
        found = pool_drops(facts, owned)
        assert isinstance(found, PooledDrop)
        inside.append(found.low <= drop <= found.high)
    return [Result(f"about {yards} yards", sum(inside), len(inside))] if inside else []


CLUBS_OF = {
    "one region, 20 keepers, 3 seasons": (1, 20, 3),
    "4 regions, 40 keepers, first season": (4, 40, 1),
    "4 regions, 40 keepers, 3 seasons": (4, 40, 3),
    "4 regions, 140 keepers, 3 seasons": (4, 140, 3),
}
ALIKE = ((0.0, 0.0), (0.4, 0.1))
"""Keepers and region-seasons: their part of what decides whether a yard falls short (on the probit scale)."""


def alarm_scenarios():
    return list(itertools.product(CLUBS_OF, (0.05, 0.15, 0.3), ALIKE))


def alarms(scenario, seed):
    """Clubs in which nothing changed: how often a look at the season's end warns, and a year with twelve looks."""
    club, usual, alike = scenario
    random = np.random.default_rng(seed)
    looked, warned, years = 0, 0, 0
    clubs = LARGE_CLUBS if "140" in club else CLUBS
    for _ in range(clubs):
        facts, season = _club(random, *CLUBS_OF[club], usual, alike)
        looks = early_warnings(facts, season)
        looked += len(looks)
        warned += sum(look.warns for look in looks)
        now = sorted((one for one in facts if one.season == season), key=lambda one: one.first_on)
        past = [one for one in facts if one.season < season]
        upto = [round(len(now) * part / LOOKS) for part in range(1, LOOKS + 1)]
        years += any(any(look.warns for look in early_warnings(past + now[:n], season)) for n in upto)
    return [
        Result("early warning by chance, one look", warned, looked),
        Result("early warning by chance, a club and year looked at 12 times", years, clubs),
    ]


def notice_scenarios():
    several = [name for name in CLUBS_OF if "3 seasons" in name]
    return list(itertools.product(several, (0.05, 0.15), (0.5, 0.8)))


def notices(scenario, seed):
    """In one region one of two ingredients falls short in far more yards than before: is it noticed by the end?"""
    club, usual, now = scenario
    random = np.random.default_rng(seed)
    clubs, seen = LARGE_CLUBS, 0
    for _ in range(clubs):
        facts, season = _club(random, *CLUBS_OF[club], usual, ALIKE[1], worse=now)
        seen += any(look.warns and look.ingredient == "a" for look in early_warnings(facts, season))
    return [Result(f"early warning noticed, {usual:.0%} before, now {now:.0%} in a region", seen, clubs)]


def _club(random, regions, keepers, seasons, usual, alike, worse=None):
    """Yards of keepers in regions, two ingredients a season, seven of ten with a clear answer."""
    place, yards = random.integers(0, regions, keepers), random.integers(1, 4, keepers)
    keeper = np.repeat(np.arange(keepers), yards)
    rest = np.sqrt(1 - sum(alike))
    blank = TreatmentFact(0, 0, 0, 0, 0, dt.date(2026, 8, 1), "", "w", "", Verdict.WORKED, True, None)
    facts = []
    theirs = {name: random.normal(0, 1, keepers) for name in "ab"}
    for season, name in itertools.product(range(seasons), "ab"):
        shared = random.normal(0, 1, regions)[place[keeper]]
        luck = np.sqrt(alike[0]) * theirs[name][keeper] + np.sqrt(alike[1]) * shared
        luck += rest * random.normal(0, 1, keeper.size)
        bar = np.full(keeper.size, usual)
        if worse is not None and season == seasons - 1 and name == "a":
            bar[place[keeper] == 0] = worse
        short = luck < special.ndtri(bar)
        for yard in np.flatnonzero(random.random(keeper.size) < 0.7):
            facts.append(
                replace(
                    blank,
                    treatment=len(facts),
                    yard=int(yard),
                    keeper=int(keeper[yard]),
                    region=int(place[keeper[yard]]),
                    season=season,
                    first_on=blank.first_on + dt.timedelta(days=int(random.integers(0, 60))),
                    ingredient=name,
                    verdict=Verdict.DID_NOT_WORK if short[yard] else Verdict.WORKED,
                )
            )
    return facts, seasons - 1
