"""Which notice a recount owes on which day, and which instant a wall clock means where clocks change."""

import datetime as dt
from zoneinfo import ZoneInfo, available_timezones

import pytest

from reports.due_days import (
    Course,
    Stage,
    call_course,
    clear_course,
    due_notice,
    instant_of,
    out_course,
    recount_course,
    round_course,
    week_course,
)
from treatments.recount_rules import Window

AUGUST = Window(dt.date(2026, 8, 15), dt.date(2026, 8, 20), dt.date(2026, 8, 29))
NARROW = Window(dt.date(2026, 8, 20), dt.date(2026, 8, 20), dt.date(2026, 8, 29))
EARLY = dt.date(2026, 8, 1)


def _day(text):
    return dt.date.fromisoformat(f"2026-{text}")


@pytest.mark.parametrize(
    ("window", "today", "stage", "on"),
    [
        (AUGUST, "08-16", None, None),
        (AUGUST, "08-17", Stage.SOON, "08-17"),  # three days before the ideal day
        (AUGUST, "08-19", Stage.SOON, "08-17"),
        (AUGUST, "08-20", Stage.DUE, "08-20"),
        (AUGUST, "08-29", Stage.DUE, "08-20"),
        (AUGUST, "08-30", Stage.LATE, "08-30"),
        (AUGUST, "10-30", Stage.LATE, "08-30"),
        (NARROW, "08-19", None, None),  # never before the earliest day
        (NARROW, "08-20", Stage.DUE, "08-20"),
    ],
)
def test_due_notice_by_day(window, today, stage, on):
    notice = due_notice(recount_course(window), known_on=EARLY, today=_day(today))
    assert (notice.stage, notice.on) == (stage, _day(on)) if stage else notice is None


def test_due_notice_of_a_treatment_written_down_later_is_of_that_day():
    notice = due_notice(recount_course(AUGUST), known_on=_day("08-24"), today=_day("08-24"))
    assert (notice.stage, notice.on, notice.last_useful_on) == (Stage.DUE, _day("08-24"), _day("08-29"))


def test_nothing_is_owed_for_what_was_late_when_written_down():
    assert due_notice(recount_course(AUGUST), known_on=_day("08-30"), today=_day("08-30")) is None


@pytest.mark.parametrize(
    ("course", "told"),
    [
        (round_course(_day("08-20")), "soon 08-19 due 08-20 late 08-22"),
        (out_course(_day("08-20")), "soon 08-17 due 08-20 late 08-21"),
        (clear_course(_day("08-20")), "due 08-20"),
        (call_course(_day("08-01"), _day("08-31"), _day("09-07")), "due 08-01 late 09-01"),
        (call_course(_day("08-01"), _day("08-31"), _day("08-31")), "due 08-01"),
        (week_course(_day("08-03"), _day("08-09")), "due 08-03 late 08-08"),
        (week_course(_day("08-03"), _day("08-04")), "due 08-03"),
    ],
)
def test_course_tells_each_stage_once(course, told):
    days = [_day("07-01") + dt.timedelta(days=number) for number in range(120)]
    owed = [due_notice(course, known_on=EARLY - dt.timedelta(days=60), today=day) for day in days]
    keys = dict.fromkeys((one.stage, one.on) for one in owed if one)

    assert " ".join(f"{stage} {on:%m-%d}" for stage, on in keys) == told


def test_put_off_is_silent_until_its_day_and_then_told_once_more():
    course = recount_course(AUGUST)
    until = _day("08-23")

    def owed(text):
        return due_notice(course, known_on=EARLY, today=_day(text), put_off_until=until)

    assert [owed(text) for text in ("08-20", "08-22")] == [None, None]
    assert {(owed(text).stage, owed(text).on) for text in ("08-23", "08-29")} == {(Stage.DUE, until)}
    assert (owed("08-30").stage, owed("08-30").on) == (Stage.LATE, _day("08-30"))


def test_put_off_beyond_the_last_useful_day_is_told_no_more():
    course = Course(due_on=_day("08-20"), over_on=_day("08-22"))

    assert due_notice(course, known_on=EARLY, today=_day("08-23"), put_off_until=_day("08-23")) is None


# The changes of 2026: EU directive 2000/84/EC, last Sundays of March and October at 01:00 UTC; Lord Howe Island moves
# by half an hour, first Sundays of April and October (time zone data base, file australasia).
@pytest.mark.parametrize(
    ("zone", "on", "at", "utc"),
    [
        ("Europe/Berlin", "03-28", "07:00", "2026-03-28T06:00"),
        ("Europe/Berlin", "03-29", "07:00", "2026-03-29T05:00"),
        (
            "Europe/Berlin",
            "03-29",
            "02:30",
            "2026-03-29T01:00",
        ),  # 02:00-03:00 do not exist: 03:00 summer time
        ("Europe/Berlin", "03-29", "02:00", "2026-03-29T01:00"),
        ("Europe/Berlin", "03-29", "01:59", "2026-03-29T00:59"),
        ("Europe/Berlin", "10-25", "02:30", "2026-10-25T00:30"),  # shown twice: the first
        ("Europe/Berlin", "10-25", "03:00", "2026-10-25T02:00"),
        ("Australia/Lord_Howe", "10-04", "02:15", "2026-10-03T15:30"),  # 02:00-02:30 do not exist
        ("Australia/Lord_Howe", "10-04", "02:30", "2026-10-03T15:30"),
        ("Australia/Lord_Howe", "04-05", "01:45", "2026-04-04T14:45"),  # shown twice: the first
        ("Australia/Lord_Howe", "04-05", "02:00", "2026-04-04T15:30"),
    ],
)
def test_instant_of_a_wall_clock_where_clocks_change(zone, on, at, utc):
    expected = dt.datetime.fromisoformat(utc).replace(tzinfo=dt.UTC)
    assert instant_of(_day(on), dt.time.fromisoformat(at), zone) == expected


@pytest.mark.parametrize("zone", sorted(available_timezones())[::7])
def test_instant_of_shows_the_time_asked_for_unless_it_is_jumped_over(zone):
    sundays = [dt.date(2026, 1, 4) + dt.timedelta(days=7 * week) for week in range(52)]
    for asked in (
        dt.datetime.combine(on, at) for on in sundays for at in (dt.time(), dt.time(2, 15), dt.time(3))
    ):
        shown = instant_of(asked.date(), asked.time(), zone).astimezone(ZoneInfo(zone)).replace(tzinfo=None)
        assert shown == asked or asked < shown <= asked + dt.timedelta(hours=1)
