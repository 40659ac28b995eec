"""Where a treatment stands, from its dates alone."""

import datetime as dt

import pytest

from treatments.status import (
    RoundDates,
    TreatmentStatus,
    finished_on,
    out_due_on,
    round_days,
    treatment_status,
)

DAY = dt.date(2026, 8, 1)


def day(number):
    return DAY + dt.timedelta(days=number)


STRIPS = RoundDates(planned_on=day(0), given_on=day(1), stays_in_days=42)
VAPOUR = [RoundDates(day(0), day(0)), RoundDates(day(5), day(6)), RoundDates(day(10))]


@pytest.mark.parametrize(
    ("rounds", "on", "status"),
    [
        ([], day(0), TreatmentStatus.PLANNED),
        ([RoundDates(day(0))], day(9), TreatmentStatus.PLANNED),
        ([RoundDates(day(0), day(3))], day(2), TreatmentStatus.PLANNED),
        ([RoundDates(day(0), day(0))], day(0), TreatmentStatus.FINISHED),
        (VAPOUR, day(20), TreatmentStatus.IN_PROGRESS),
        (VAPOUR[:2], day(5), TreatmentStatus.IN_PROGRESS),
        (VAPOUR[:2], day(6), TreatmentStatus.FINISHED),
        ([STRIPS], day(20), TreatmentStatus.IN_PROGRESS),
    ],
)
def test_status_on_a_day(rounds, on, status):
    assert treatment_status(rounds, False, on) is status


def test_status_cancelled_wins():
    assert treatment_status(VAPOUR[:2], True, day(20)) is TreatmentStatus.CANCELLED


def test_status_strips_nobody_took_out_are_in_progress():
    assert treatment_status([STRIPS], False, day(200)) is TreatmentStatus.IN_PROGRESS
    out = RoundDates(day(0), day(1), out_on=day(50), stays_in_days=42)
    assert treatment_status([out], False, day(49)) is TreatmentStatus.IN_PROGRESS
    assert treatment_status([out], False, day(50)) is TreatmentStatus.FINISHED


def test_finished_on_takes_real_dates_before_planned_ones():
    assert finished_on([]) is None
    assert finished_on(VAPOUR) == day(10)
    assert finished_on(VAPOUR[:2]) == day(6)
    assert finished_on([STRIPS]) == day(43)
    assert finished_on([RoundDates(day(0), day(1), out_on=day(30), stays_in_days=42)]) == day(30)


def test_out_due_on_only_while_something_is_in():
    assert out_due_on(STRIPS) == day(43)
    assert out_due_on(VAPOUR[0]) is None
    assert out_due_on(RoundDates(day(0), stays_in_days=42)) is None
    assert out_due_on(RoundDates(day(0), day(1), out_on=day(2), stays_in_days=42)) is None


def test_days_of_rounds_are_those_of_the_trial():
    # facts.md test check 4: seven vaporisations five days apart from 1 June (Berry et al. 2022, PMC8825467).
    days = round_days(dt.date(2026, 6, 1), 7, 5)

    assert [(one.month, one.day) for one in days] == [
        (6, 1), (6, 6), (6, 11), (6, 16), (6, 21), (6, 26), (7, 1)
    ]  # fmt: skip
    assert (days[-1] - days[0]).days == 30


@pytest.mark.parametrize(("gap", "next_day"), [(26, 27), (27, 28), (28, 29)])
def test_drone_brood_is_taken_again_after_its_cycle(gap, next_day):
    # Cornell/SARE 2005: every 26 to 28 days; from 1 May the next is 27 to 29 May.
    assert round_days(dt.date(2026, 5, 1), 2, gap)[1] == dt.date(2026, 5, next_day)


@pytest.mark.parametrize(("rounds", "gap"), [(0, 5), (-1, 5), (3, 0)])
def test_no_days_without_rounds_or_gap(rounds, gap):
    assert round_days(dt.date(2026, 6, 1), rounds, gap) == ()
