"""From when a hive may be opened, from what was ticked at it and never from the plan. Pure.

`config/static/open_from.js` holds the same rule for the phone; both are held against `tests/treatments/open_from.json`.
"""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class HiveTicks:
    """The ticks of one hive that stand, and how many loads it gets."""

    hive: int
    loads: int = 1
    started: dt.datetime | None = None
    drawn: dt.datetime | None = None
    opened: dt.datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DayMinutes:
    """Minutes of the sheet; those of the heater come from its keeper's own timed trial, or are unknown."""

    heaters: int
    first: float | None
    following: float | None
    wait: float
    sealed: float


@dataclass(frozen=True, slots=True)
class OpenTimes:
    """When the heater may be drawn and the hive opened, at the earliest; None as long as it is not known."""

    draw_from: dt.datetime | None
    open_from: dt.datetime | None


NOT_KNOWN = OpenTimes(None, None)


def open_times(ticks: Sequence[HiveTicks], minutes: DayMinutes) -> Mapping[int, OpenTimes]:
    """The times of every hive.

    The vapour ends when the heating does, by the trial, and no earlier than the heater came out less the wait before
    drawing. Without a trial, or where several loads were given and only the first was ticked, it ends when the heater
    came out. A hive may be opened the sealed minutes later, at the next full minute of the clock.
    """
    return {one.hive: _times_of(one, ticks, minutes) for one in ticks}


def _times_of(one: HiveTicks, ticks: Sequence[HiveTicks], minutes: DayMinutes) -> OpenTimes:
    heated = _heated(one, ticks, minutes)
    draw_from = None if heated is None else heated + _span(minutes.wait)
    vapour_end = _latest(heated, one.drawn and one.drawn - _span(minutes.wait if heated else 0))
    return OpenTimes(draw_from, vapour_end and _next_minute(vapour_end + _span(minutes.sealed)))


def _heated(one: HiveTicks, ticks: Sequence[HiveTicks], minutes: DayMinutes) -> dt.datetime | None:
    """When the only load of a hive is through by the trial; None where that is not known."""
    if one.started is None or one.loads != 1 or minutes.first is None or minutes.following is None:
        return None
    warm = _surely_warm(one.started, ticks, minutes.heaters)
    return one.started + _span(minutes.following if warm else max(minutes.first, minutes.following))


def _surely_warm(start: dt.datetime, ticks: Sequence[HiveTicks], heaters: int) -> bool:
    """Whether all heaters were in use before, and this start takes none beside those."""
    seen = _most_at_once(start, ticks)
    return heaters <= seen >= _running(start, ticks)


def _most_at_once(before: dt.datetime, ticks: Sequence[HiveTicks]) -> int:
    """How many heaters were surely in use before a start: the most that were in hives at the same time."""
    starts = [one.started for one in ticks if one.started is not None and one.started < before]
    return max((_running(moment, ticks) for moment in starts), default=0)


def _running(moment: dt.datetime, ticks: Sequence[HiveTicks]) -> int:
    return sum(
        one.started is not None and one.started <= moment and not _is_out(one, moment) for one in ticks
    )


def _is_out(one: HiveTicks, moment: dt.datetime) -> bool:
    return any(tick is not None and tick <= moment for tick in (one.drawn, one.opened))


def _latest(*moments: dt.datetime | None) -> dt.datetime | None:
    return max((one for one in moments if one is not None), default=None)


def _next_minute(moment: dt.datetime) -> dt.datetime:
    """The same moment, or the next at which a clock shows a full minute."""
    whole = moment.replace(second=0, microsecond=0)
    return whole if whole == moment else whole + _span(1)


def _span(minutes: float) -> dt.timedelta:
    return dt.timedelta(minutes=minutes)
