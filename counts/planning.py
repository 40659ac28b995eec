"""Which colonies of a yard to sample, how sure that makes, and when those who count on the spot may stop."""

import datetime as dt
import math
from random import Random
from typing import Any

from django.http import QueryDict

from apiaries.models import Colony, Yard
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

MORE, SPARES, BEES, ERROR = 3, 3, 300, 0.1  # our choice
TRUE_RATES = (1 / 3, 1 / 2, 3 / 2, 2)  # as parts of the action level


def plan_of(yard: Yard, *, on: dt.date, asked: QueryDict) -> dict[str, Any]:
    """The list for this day, the same at every look; `draw` in what is asked for brings another one."""
    colonies = {str(one.pk): one for one in yard.colonies.living().in_reading_order()}
    form = ChooseForm(asked if "k" in asked else None, of=len(colonies))
    k, draw_no = form.usable if colonies else 0, _whole(asked.get("draw"), 0)
    random = Random(f"{yard.pk} {on.isoformat()} {draw_no}")  # noqa: S311 (a fair list, no secret)
    drawn = draw_colonies(colonies, k, SPARES, random)
    chosen: list[Colony] = [colonies[key] for key in drawn.chosen]
    plan = {
        "chosen": chosen,
        "spares": [colonies[key] for key in drawn.spares],
        "k": k,
        "on": on,
        "form": form,
    }
    plan |= {"of": len(colonies), "next_draw": draw_no + 1}
    return plan | _how_sure(yard, on, k, len(colonies), constants_of_club(yard.club_id).between_c2)


def _whole(text: str | None, otherwise: int) -> int:
    """A small whole number from an address; anything else is `otherwise`."""
    return int(text) if text and text.isascii() and text.isdigit() and len(text) <= 4 else otherwise


def _how_sure(yard: Yard, on: dt.date, k: int, of: int, between: Constant) -> dict[str, Any]:
    """Precision and chances of each call at plausible true means, and the lines; nothing without one level."""
    wash = MiteSample(method=Method.ALCOHOL_WASH.value, sampled_on=on)
    levels = [one for one in Published().of(yard.club.action_level_issuer, wash) if one.act_rate]
    if len(levels) != 1 or not of:
        return {"level": ""}
    level = levels[0].act_rate or 0.0
    more = min(k + MORE, of)
    within, rows = jar_c2(Method.ALCOHOL_WASH, BeesBy.VOLUME), []
    bees = BEES * recovery_of(Method.ALCOHOL_WASH).value
    for part in TRUE_RATES:
        now, later = (
            decision_chances(
                n, of, part * level, level, bees=bees, between_c2=between.value, within_c2=within
            )
            for n in (k, more)
        )
        if now:
            gain = gain_of_more(now, later) or 0.0
            shown = (now.right, now.wrong, now.no_call)
            rows.append((100 * part * level, [_in_100(one) for one in shown], round(100 * gain)))
    precise = [
        (
            n,
            round(
                100 * precision_of(n, level, bees, between_c2=between.value, within_c2=within, colonies=of)
            ),
        )
        for n in dict.fromkeys((k, more))
    ]
    stops = _stops(level * bees, within, between.value, min(k, 12))
    return {
        "level": level_words(levels[0]),
        "level_rate": 100 * level,
        "rows": rows,
        "more": more - k,
        "precise": precise,
        "spread": between,
        "stops": stops,
    }


def _in_100(chance: float) -> str:
    """So many times in 100, never rounded to certainty."""
    if chance > 0.99:
        return "over 99"
    return "under 1" if chance < 0.01 else str(round(100 * chance))


def _stops(mites: float, within: float, between: float, colonies: int) -> list[tuple[int, int | None, int]]:
    """After so many colonies: stop below at so few mites (None: not yet), above at so many; half against level."""
    lines = stopping_lines(mites / 2, mites, 1 / (between + within), ERROR, ERROR)
    if lines is None:
        return []
    found = []
    for i in range(1, colonies + 1):
        low = math.floor(lines.slope * i + lines.below)
        found.append((i, low if low >= 0 else None, math.ceil(lines.slope * i + lines.above)))
    return found
