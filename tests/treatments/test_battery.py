"""Batteries: amp hours of a load, loads of a battery, and where one runs short along a day."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from treatments.battery import (
    Battery,
    Charge,
    Draw,
    NoCharge,
    batteries_needed,
    charge_along,
    charge_of_load,
    loads_of_battery,
    run_hours,
)
from treatments.constants import DEFAULTS
from treatments.day_plan import HeaterLoad, HeaterTimes, HiveWork, day_plan

# 150 W at 12 V and a battery above 40 Ah: instruction sheet of a 12 V pan, docsbay.net/doc/526700. 2.5 minutes: a
# vet's article on such a heater, nicolas.blogs.com/apivet.
PAN = Draw(watts=150, volts=12)
LEAD = Battery(amp_hours=40, exponent=1.2)
PLAIN = Battery(amp_hours=40)
calm = settings(deadline=None, derandomize=True, max_examples=100)


def load(heater, begin, end, hive=1):
    """One load that heats between two minutes."""
    return HeaterLoad(heater, hive, 1, False, begin, begin, end, end, end)


def day(hives, heaters=1, first=2.5, following=2.5):
    plan = day_plan(
        [HiveWork()] * hives, HeaterTimes(first=first, following=following, cool=2), heaters=heaters
    )
    return plan.loads


# Charge of a load.


def test_charge_of_a_load_of_the_pan():
    charge = charge_of_load(PAN, 2.5)

    # Computed: 150 W / 12 V x 2.5 / 60.
    assert charge.amp_hours == pytest.approx(0.521, abs=5e-4)
    assert charge.watt_hours == pytest.approx(6.25)
    assert charge_of_load(Draw(amps=12.5), 2.5) == Charge(charge.amp_hours, None)
    assert charge_of_load(Draw(amps=12.5, volts=12), 2.5) == charge
    assert charge_of_load(PAN, 0) == Charge(0, 0)


@pytest.mark.parametrize(
    "draw",
    [
        Draw(),
        Draw(watts=150),
        Draw(volts=12),
        Draw(watts=0, volts=12),
        Draw(watts=150, volts=0),
        Draw(amps=0, watts=150, volts=12),
        Draw(amps=-1),
        Draw(amps=math.nan),
        Draw(amps=math.inf),
    ],
)
def test_nothing_is_said_without_a_current(draw):
    no = NoCharge.CURRENT_UNKNOWN

    assert charge_of_load(draw, 2.5) is no
    assert run_hours(PLAIN, draw.current) is no
    assert loads_of_battery(PLAIN, draw, 2.5, 2.5) is no
    assert charge_along(day(1), draw, PLAIN) is no
    assert batteries_needed(day(1), draw, PLAIN) is no


@pytest.mark.parametrize("minutes", [None, -1, math.nan, math.inf])
def test_nothing_is_said_without_minutes(minutes):
    no = NoCharge.MINUTES_UNKNOWN

    assert charge_of_load(PAN, minutes) is no
    assert loads_of_battery(PLAIN, PAN, minutes, 2.5) is no
    assert loads_of_battery(PLAIN, PAN, 2.5, minutes) is no


@pytest.mark.parametrize(
    ("battery", "reason"),
    [
        (Battery(amp_hours=None), NoCharge.CAPACITY_UNKNOWN),
        (Battery(amp_hours=0), NoCharge.CAPACITY_UNKNOWN),
        (Battery(amp_hours=math.nan), NoCharge.CAPACITY_UNKNOWN),
        (Battery(amp_hours=40, rated_hours=0), NoCharge.CAPACITY_UNKNOWN),
        (Battery(amp_hours=40, usable=0), NoCharge.SHARE_NOT_POSSIBLE),
        (Battery(amp_hours=40, usable=1.01), NoCharge.SHARE_NOT_POSSIBLE),
        (Battery(amp_hours=40, usable=math.nan), NoCharge.SHARE_NOT_POSSIBLE),
        (Battery(amp_hours=40, exponent=0.99), NoCharge.EXPONENT_NOT_POSSIBLE),
        (Battery(amp_hours=40, exponent=2.01), NoCharge.EXPONENT_NOT_POSSIBLE),
    ],
)
def test_nothing_is_said_of_a_battery_that_cannot_be(battery, reason):
    assert run_hours(battery, 12.5) is reason
    assert loads_of_battery(battery, PAN, 2.5, 2.5) is reason
    assert charge_along(day(1), PAN, battery) is reason
    assert batteries_needed(day(1), PAN, battery) is reason


# Hours and loads of a battery.


def test_loads_without_peukert():
    # 40 Ah, half of it, 12.5 A for 2.5 minutes: 38.4 loads, computed.
    assert run_hours(PLAIN, 12.5) == pytest.approx(3.2)
    assert loads_of_battery(PLAIN, PAN, 2.5, 2.5) == 38


def test_loads_with_peukert_at_the_twenty_hour_rate():
    # 20 (40 / (12.5 x 20))^1.2 = 2.218 hours, computed.
    assert run_hours(LEAD, 12.5) == pytest.approx(2.218, abs=5e-4)
    assert loads_of_battery(LEAD, PAN, 2.5, 2.5) == 26


def test_simple_form_of_peukert():
    """Rated at one ampere, H = C, the law is t = C / I^k."""
    # 14.5 h: electrotechnik.net on Peukert's law. 5.0886 h and 101.77 Ah: easycalculation.com, tutorial.
    assert run_hours(Battery(amp_hours=100, exponent=1.2, rated_hours=100), 5) == pytest.approx(
        14.5, abs=0.005
    )
    hours = run_hours(Battery(amp_hours=250, exponent=1.3, rated_hours=250), 20)
    assert hours == pytest.approx(5.0886, abs=5e-5)
    assert hours * 20 == pytest.approx(101.77, abs=0.005)


def test_a_small_current_gets_no_more_than_is_printed():
    assert run_hours(LEAD, 2) == pytest.approx(20)
    assert run_hours(LEAD, 1) == pytest.approx(40)
    assert run_hours(LEAD, 2.1) < 40 / 2.1


def test_the_first_load_takes_longer():
    # 96 minutes in the usable half without Peukert: 3.6 and 36 more of 2.5 (92.4 in all) leave 3.6, one more.
    assert loads_of_battery(PLAIN, PAN, 3.6, 2.5) == 37
    assert loads_of_battery(PLAIN, PAN, 3.5, 2.5) == 38
    assert loads_of_battery(PLAIN, PAN, 96, 2.5) == 1
    assert loads_of_battery(PLAIN, PAN, 97, 2.5) == 0


def test_defaults_are_the_constants():
    assert Battery(amp_hours=40, usable=0.5, exponent=1, rated_hours=20) == PLAIN
    assert (DEFAULTS.battery_usable_share.value, DEFAULTS.battery_rated_hours.value) == (0.5, 20)


# Along a day.


def test_a_day_within_one_battery():
    (only,) = charge_along(day(26), PAN, LEAD)

    assert only.battery == 1 and only.short_at is None
    assert [one.load.hive for one in only.used] == list(range(1, 27))
    assert only.used[0].share == pytest.approx(2.5 / (2.218063 * 30), rel=1e-6)
    assert only.share == pytest.approx(26 * only.used[0].share)
    assert batteries_needed(day(26), PAN, LEAD) == 1


def test_the_hive_at_which_it_runs_short():
    (only,) = charge_along(day(60), PAN, LEAD)

    assert only.short_at.hive == 27
    assert (only.used[25].share < 1 < only.used[26].share) and only.share > 2
    # 26, 26 and 8.
    assert batteries_needed(day(60), PAN, LEAD) == 3
    assert batteries_needed(day(52), PAN, LEAD) == 2


def test_exactly_full_is_not_short():
    (only,) = charge_along(day(24, first=4, following=4), PAN, PLAIN)

    assert only.share == pytest.approx(1) and only.short_at is None
    assert batteries_needed(day(24, first=4, following=4), PAN, PLAIN) == 1
    assert batteries_needed(day(25, first=4, following=4), PAN, PLAIN) == 2
    assert loads_of_battery(PLAIN, PAN, 4, 4) == 24


def test_each_heater_has_its_own_battery_unless_told():
    loads = day(60, heaters=2)
    one, two = charge_along(loads, PAN, LEAD)

    assert (one.battery, two.battery) == (1, 2)
    assert {use.load.heater for use in one.used} == {1} and {use.load.heater for use in two.used} == {2}
    assert len(one.used) + len(two.used) == 60
    assert one.short_at is not None and one.short_at.heater == 1
    (shared,) = charge_along(loads, PAN, LEAD, wiring={1: 7, 2: 7})
    assert shared.battery == 7 and shared.short_at.hive < one.short_at.hive
    assert batteries_needed(loads, PAN, LEAD) == 4


def test_two_heaters_at_once_on_one_battery_cost_more():
    apart = charge_along([load(1, 0, 10), load(2, 10, 20)], PAN, LEAD, wiring={2: 1})[0]
    half = charge_along([load(1, 0, 10), load(2, 5, 15)], PAN, LEAD, wiring={2: 1})[0]
    together = charge_along([load(1, 0, 10), load(2, 0, 10)], PAN, LEAD, wiring={2: 1})[0]

    # Twice the current empties 2^1.2 times as fast, by Peukert's law.
    single = 10 / (60 * run_hours(LEAD, 12.5) * 0.5)
    assert apart.share == pytest.approx(2 * single)
    assert together.share == pytest.approx(2**1.2 * single)
    assert half.share == pytest.approx((1 + 2**1.2 / 2) * single)
    assert [use.load.heater for use in half.used] == [1, 2]
    assert half.used[0].share == pytest.approx((0.5 + 2**1.2 / 2) * single)


def test_a_pause_takes_nothing():
    assert charge_along([load(1, 0, 10), load(1, 500, 510)], PAN, PLAIN)[0].share == pytest.approx(20 / 96)


def test_a_load_that_no_battery_holds():
    assert batteries_needed([load(1, 0, 97)], PAN, PLAIN) is NoCharge.LOAD_TOO_LARGE
    assert batteries_needed([load(1, 0, 96)], PAN, PLAIN) == 1
    assert charge_along([load(1, 0, 97)], PAN, PLAIN)[0].short_at == load(1, 0, 97)


def test_no_loads_need_no_battery():
    assert charge_along([], PAN, PLAIN) == ()
    assert batteries_needed([], PAN, PLAIN) == 0


# What must hold for every battery.

wild = st.one_of(st.none(), st.integers(0, 10**9), st.floats(0, 100))
batteries = st.builds(
    Battery,
    amp_hours=wild,
    usable=st.floats(0, 1),
    exponent=st.floats(1, 2),
    rated_hours=st.integers(0, 10**9),
)
real = st.builds(Battery, amp_hours=st.floats(1, 500), usable=st.floats(0.05, 1), exponent=st.floats(1, 1.5))
draws = st.builds(Draw, amps=wild, watts=wild, volts=wild)


@calm
@given(batteries, draws, wild, wild)
def test_charge_is_never_negative_whatever_the_numbers(battery, draw, first, following):
    charge = charge_of_load(draw, first)
    hours = run_hours(battery, draw.current)
    loads = loads_of_battery(battery, draw, first, following)

    assert isinstance(charge, NoCharge) or (charge.amp_hours >= 0 and (charge.watt_hours or 0) >= 0)
    assert isinstance(hours, NoCharge) or 0 <= hours < math.inf
    assert isinstance(loads, NoCharge) or loads >= 0


@calm
@given(real, st.floats(1, 60), st.integers(1, 25), st.integers(1, 3), st.integers(1, 9), st.integers(1, 9))
def test_charge_only_grows_along_a_day(battery, amps, hives, heaters, first, following):
    loads = day(hives, heaters, first, following)
    shared = charge_along(loads, Draw(amps=amps), battery, wiring={2: 1, 3: 1})[0]

    for one in (*charge_along(loads, Draw(amps=amps), battery), shared):
        shares = [use.share for use in one.used]
        assert shares == sorted(shares) and shares[0] > 0
        assert (one.short_at is None) == (one.share <= 1 + 1e-9)


@calm
@given(real, st.floats(1, 60), st.integers(1, 25), st.integers(1, 9), st.integers(1, 9))
def test_loads_of_a_battery_and_its_day_agree(battery, amps, hives, first, following):
    draw = Draw(amps=amps)
    number = loads_of_battery(battery, draw, first, following)
    (only,) = charge_along(day(hives, 1, first, following), draw, battery)

    assert (only.short_at is None) == (number >= hives)
    assert only.short_at is None or only.short_at.hive == number + 1


@calm
@given(real, st.floats(1, 60), st.floats(1.01, 3))
def test_hours_fall_with_the_current_and_the_exponent(battery, amps, times):
    worse = Battery(amp_hours=battery.amp_hours, exponent=battery.exponent + 0.2)

    assert run_hours(battery, amps * times) < run_hours(battery, amps)
    a_hair = 1 + 1e-12  # of rounding
    assert run_hours(worse, amps) <= run_hours(battery, amps) * a_hair
    assert run_hours(battery, amps) <= battery.amp_hours / amps * a_hair
