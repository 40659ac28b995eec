"""What is possible in a yard on a day: every way of treating of the club's labels, with what stands in its way."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from apiaries.language import say
from apiaries.models import Brood, Colony, Yard
from treatments.constants import DEFAULTS
from treatments.models import Application, Round
from treatments.possible import (
    BroodNeed,
    InHive,
    Possible,
    Stand,
    WayLimits,
    YardToday,
    possible,
    sorted_by_stand,
)
from treatments.possible_words import STAND_WORDS, check_words, subject_words, subjects_in_short
from treatments.status import RoundDates
from treatments.ways import Limit, limits_of, ways_for

DOSES_BACK_DAYS = 400
"""Doses further back are no longer looked at (our choice)."""


@dataclass(frozen=True, slots=True)
class CheckRow:
    """One subject in words."""

    subject: str
    stand: Stand
    words: str


@dataclass(frozen=True, slots=True)
class WayRow:
    """A way of treating as the page shows it."""

    way: Application
    stand: Stand
    stand_words: str
    in_short: str
    """The worst that was found, in a few words; empty where nothing stands in the way."""
    checks: Sequence[CheckRow]
    limits: Sequence[Limit]
    is_past: bool = False
    """Whether its label no longer holds on the day."""


def ways_on(yard: Yard, told: YardToday) -> list[WayRow]:
    """All ways in force on the day or known at all, those with nothing in their way first; constant queries."""
    groups, past = ways_for(yard.club, told.on)
    ways = {way.key: way for _, group in [*groups, *past] for way in group}
    found = sorted_by_stand((key, possible(limits_for(way), told)) for key, way in ways.items())
    over = {way.key for _, group in past for way in group}
    return [replace(_row(ways[key], one), is_past=key in over) for key, one in found]


def yard_on(
    yard: Yard,
    on: dt.date,
    *,
    highs_c: Sequence[float | None] = (),
    supers_next_on: dt.date | None = None,
) -> YardToday:
    """What is noted of a yard's living colonies, for a day. Two queries."""
    living = list(yard.colonies.living())
    lately = on - dt.timedelta(days=DEFAULTS.brood_seen_days_max.value)
    known = [one for one in living if one.brood_seen_on is not None and one.brood_seen_on >= lately]
    looked = [one for one in known if one.brood != Brood.UNKNOWN]
    return YardToday(
        on=on,
        colonies=len(living),
        with_supers=sum(one.supers_on for one in living),
        with_brood=sum(one.brood != Brood.NONE for one in looked),
        brood_unknown=len(living) - len(looked),
        doses=_doses(living, on),
        highs_c=tuple(highs_c),
        supers_next_on=supers_next_on,
    )


def limits_for(way: Application) -> WayLimits:
    """The published limits of a way of treating as the sums take them."""
    others = {limit.key: limit for limit in limits_of(way)}
    after_supers = _whole(others.get("supers_after"))
    return WayLimits(
        ingredient=way.ingredient,
        supers=way.row["supers"],
        brood=BroodNeed(way.row["brood"]),
        valid_from=way.valid_from,
        valid_to=way.valid_to,
        min_temp_c=_number(way.row["min_temp_c"]),
        max_temp_c=_number(way.row["max_temp_c"]),
        max_first_days_c=_number(_text(others.get("max_temp_first_3_days"))),
        days_between=way.days_between_rounds,
        stays_in_days=None if way.label_says_how_long else way.stays_in_days,
        withdrawal_days=way.withdrawal_days if way.withdrawal_days is not None else after_supers,
    )


def _doses(living: Sequence[Colony], on: dt.date) -> tuple[InHive, ...]:
    """What the colonies got lately, each ingredient and stretch of days once. One query."""
    since = on - dt.timedelta(days=DOSES_BACK_DAYS)
    rounds = Round.objects.filter(
        doses__colony__in=[one.pk for one in living],
        doses__voided_at=None,
        given_on__range=(since, on),
        treatment__cancelled_at=None,
    )
    found = []
    for one in rounds.select_related("treatment__application").distinct():
        way = one.treatment.application
        dates = RoundDates(
            one.planned_on, one.given_on, one.out_on, way.stays_in_days, way.label_says_how_long, one.out_by
        )
        last = max(dates.last_on, on) if dates.is_in_hive(on) else dates.last_on
        if one.given_on is not None:
            found.append(InHive(way.ingredient, one.given_on, last))
    return tuple(dict.fromkeys(found))


def _row(way: Application, found: Possible) -> WayRow:
    worst = [check for check in found.checks if check.stand is found.stand]
    short = "" if found.stand is Stand.FREE else subjects_in_short(one.subject for one in worst)
    rows = [CheckRow(subject_words(one.subject), one.stand, check_words(one)) for one in found.checks]
    return WayRow(way, found.stand, say(STAND_WORDS[found.stand]), short, rows, limits_of(way))


def _text(limit: Limit | None) -> str:
    return limit.value if limit is not None else ""


def _number(text: str) -> float | None:
    return float(Decimal(text)) if text else None


def _whole(limit: Limit | None) -> int | None:
    text = _text(limit)
    return int(text) if text.isdigit() else None
