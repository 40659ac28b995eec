"""From when a hive may be opened: cases worked by hand, which tests/browser/test_yard_day.py puts to the phone too."""

import datetime as dt
import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from treatments.open_from import DayMinutes, HiveTicks, open_times

CASES = json.loads((Path(__file__).parent / "open_from.json").read_text())
DAY = dt.date(2026, 8, 12)
MINUTES = DayMinutes(heaters=1, first=10, following=7, wait=5, sealed=15)


def moment(clock):
    return None if clock is None else dt.datetime.combine(DAY, dt.time.fromisoformat(clock), tzinfo=dt.UTC)


def ticks_of(case):
    return [
        HiveTicks(
            hive=one["hive"],
            loads=one["loads"],
            **{step: moment(one.get(step)) for step in ("started", "drawn", "opened")},
        )
        for one in case["ticks"]
    ]


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["what"])
def test_cases_worked_by_hand(case):
    found = open_times(ticks_of(case), DayMinutes(**case["minutes"]))

    assert {str(hive): [one.draw_from, one.open_from] for hive, one in found.items()} == {
        hive: [moment(one) for one in times] for hive, times in case["times"].items()
    }


AFTER = st.integers(0, 3600)


@given(start=AFTER, out=AFTER, trial=st.booleans(), loads=st.integers(1, 3))
def test_never_open_before_the_minutes_shut_since_the_least_that_is_known(start, out, trial, loads):
    began = moment("10:00:00") + dt.timedelta(seconds=start)
    drawn = began + dt.timedelta(seconds=out)
    minutes = MINUTES if trial else DayMinutes(heaters=1, first=None, following=None, wait=5, sealed=15)

    found = open_times([HiveTicks(hive=1, loads=loads, started=began, drawn=drawn)], minutes)[1]

    shut = dt.timedelta(minutes=15)
    by_trial = trial and loads == 1
    assert found.open_from >= drawn - dt.timedelta(minutes=5 if by_trial else 0) + shut
    assert not by_trial or found.open_from >= began + dt.timedelta(minutes=10) + shut
    assert found.open_from.second == found.open_from.microsecond == 0


@given(later=AFTER)
def test_drawing_later_never_opens_earlier(later):
    began = moment("10:00:00")
    at = [began + dt.timedelta(minutes=12), began + dt.timedelta(minutes=12, seconds=later)]

    first, second = (
        open_times([HiveTicks(hive=1, started=began, drawn=one)], MINUTES)[1].open_from for one in at
    )

    assert second >= first
