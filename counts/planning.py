"""Which colonies of a yard to sample, how close and how sure that makes, and when to stop early."""

import datetime as dt
import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.http import QueryDict

from apiaries.language import say
from apiaries.models import Colony, Yard
from counts.action_levels import Level
from counts.constants import Constant
from counts.estimate import jar_c2, recovery_of
from counts.forms.planning import ChooseForm
from counts.models import MiteSample
from counts.samples import BeesBy, Method
from counts.sampling_plan import (
    decision_chances,
    draw_colonies,
    gain_of_more,
    precision_of,
    stopping_lines,
)
from counts.sentences import level_words
from counts.spread import constants_of_club
from counts.standing import Published

MORE = 3
"""How many more colonies the page weighs up (our choice)."""
SPARES = 3
"""For colonies that cannot be opened (our choice)."""
BEES = 300
"""Bees in a jar: Lee et al. 2010, abstract (published)."""
ERROR = 0.1
"""The stopping lines are drawn for so many wrong calls each way (our choice)."""
STOP_COLONIES_MAX = 12
"""No stopping line goes further; it cannot tell then (our choice, from simulations)."""
RATE = 0.03
"""Where no action level says at which rate to tell the precision (our choice)."""
TRUE_RATES = (1 / 3, 1 / 2, 3 / 2, 2)
"""True means told of, as parts of the action level (our choice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Close:
    """How close the mean of so many colonies comes, one standard error: percent, and rates per 100 bees."""

    colonies: int
    percent: int
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Calls:
    """Of 100 yards with this true mean per 100 bees, how many get each call; `gain` by more colonies."""

    rate: float
    right: str
    wrong: str
    none: str
    gain: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """After so many colonies: stop below at so few mites (None: not yet), above at so many."""

    colonies: int
    below: int | None
    above: int


@dataclass(frozen=True, slots=True, kw_only=True)
class _Weighed:
    """What the sums of one plan need."""

    k: int
    of: int
    between_c2: float
    within_c2: float
    bees: float

    @property
    def more(self) -> int:
        """So many colonies more as the yard has, and at most `MORE`."""
        return min(MORE, self.of - self.k)


def plan_of(yard: Yard, *, on: dt.date, asked: QueryDict) -> dict[str, Any]:
    """The list for this day, the same at every look; `draw` in what is asked for brings another one.

    The whole yard is put in order, so that a longer list begins as the shorter one did; the next in line are spares.
    """
    draw = _small(asked.get("draw"))
    order = in_fair_order(yard, on=on, draw=draw)
    form = ChooseForm(asked if "k" in asked else None, of=len(order))
    k = form.usable if order else 0
    plan = {"on": on, "form": form, "k": k, "of": len(order), "draw": draw, "next_draw": draw + 1}
    plan |= {"chosen": order[:k], "spares": order[k : k + SPARES]}
    between = constants_of_club(yard.club_id).between_c2
    return plan | (_how_sure(yard, on, k, len(order), between) if order else {})


def in_fair_order(
    yard: Yard, *, on: dt.date, draw: int = 0, living: Iterable[Colony] | None = None
) -> list[Colony]:
    """All living colonies of the yard, drawn for this day: those to sample first, the next in line are spares."""
    found = yard.colonies.living().in_reading_order() if living is None else living
    colonies = {str(one.pk): one for one in found}
    return [
        colonies[key] for key in draw_colonies(colonies, len(colonies), 0, seed_of(yard, on, draw)).chosen
    ]


def seed_of(yard: Yard, on: dt.date, draw: int) -> str:
    """What a yard's list of a day is drawn from; another `draw` brings another list."""
    return f"{yard.pk} {on.isoformat()} {draw}"


def _small(text: str | None) -> int:
    """A small whole number from an address; anything else is 0."""
    return int(text) if text and text.isascii() and text.isdigit() and len(text) <= 4 else 0


def _how_sure(yard: Yard, on: dt.date, k: int, of: int, between: Constant) -> dict[str, Any]:
    """How close the mean comes; and, with one action level for this month, the chances of each call and the lines."""
    weighed = _Weighed(
        k=k,
        of=of,
        between_c2=between.value,
        within_c2=jar_c2(Method.ALCOHOL_WASH, BeesBy.VOLUME),
        bees=BEES * recovery_of(Method.ALCOHOL_WASH).value,
    )
    level = _level(yard, on)
    rate = (level.act_rate if level else None) or RATE
    told = {
        "rate": 100 * rate,
        "close": _close(weighed, k, rate),
        "closer": _close(weighed, k + weighed.more, rate),
        "more": weighed.more,
        "spread_from": between.where_from,
        "spread_percent": round(100 * math.sqrt(between.value)),
        "level": level_words(level) if level else "",
    }
    if level is None:
        return told
    calls = [_calls(weighed, part * rate, rate) for part in TRUE_RATES]
    return told | {"calls": calls, "stops": _stops(rate * weighed.bees, weighed)}


def _level(yard: Yard, on: dt.date) -> Level | None:
    """The club's action level for a wash on this day; None unless there is just one."""
    wash = MiteSample(method=Method.ALCOHOL_WASH.value, sampled_on=on)
    levels = [one for one in Published().of(yard.club.action_level_issuer, wash) if one.act_rate]
    return levels[0] if len(levels) == 1 else None


def _close(weighed: _Weighed, k: int, rate: float) -> Close:
    share = precision_of(
        k,
        rate,
        weighed.bees,
        between_c2=weighed.between_c2,
        within_c2=weighed.within_c2,
        colonies=weighed.of,
    )
    low, high = max(0.0, 100 * rate * (1 - share)), 100 * rate * (1 + share)
    return Close(colonies=k, percent=round(100 * share), low=low, high=high)


def _calls(weighed: _Weighed, rate: float, level: float) -> Calls:
    now, later = (
        decision_chances(
            k,
            weighed.of,
            rate,
            level,
            bees=weighed.bees,
            between_c2=weighed.between_c2,
            within_c2=weighed.within_c2,
        )
        for k in (weighed.k, weighed.k + weighed.more)
    )
    if now is None:
        raise ValueError(f"no plan takes {weighed.k} of {weighed.of} colonies")
    return Calls(
        rate=100 * rate,
        right=_in_100(now.right),
        wrong=_in_100(now.wrong),
        none=_in_100(now.no_call),
        gain=round(100 * (gain_of_more(now, later) or 0.0)),
    )


def _in_100(chance: float) -> str:
    """So many times in 100, never rounded to certainty."""
    if chance > 0.99:
        return say("over 99")
    return say("under 1") if chance < 0.01 else str(round(100 * chance))


def _stops(mites: float, weighed: _Weighed) -> list[Stop]:
    """The lines that tell half of `mites` a jar from `mites`; colony for colony, in whole mites."""
    size = 1 / (weighed.between_c2 + weighed.within_c2)
    lines = stopping_lines(mites / 2, mites, size, ERROR, ERROR)
    if lines is None:
        return []
    found = []
    for i in range(1, min(weighed.k, STOP_COLONIES_MAX) + 1):
        low = math.floor(lines.slope * i + lines.below)
        high = math.ceil(lines.slope * i + lines.above)
        found.append(Stop(colonies=i, below=low if low >= 0 else None, above=high))
    return found
