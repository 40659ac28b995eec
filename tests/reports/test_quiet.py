"""No mail at night, none on a quiet day, none before its moment: in every zone, and where clocks change."""

import datetime as dt
from zoneinfo import ZoneInfo, available_timezones

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reports.due_days import instant_of
from reports.quiet import next_opening, open_spans

ZONES = sorted(available_timezones())
ODD_ONES = (
    "Australia/Lord_Howe",
    "Pacific/Chatham",
    "Antarctica/Troll",
    "America/Scoresbysund",
    "Asia/Beirut",
)
SEVEN = dt.time(7)
HOUR = dt.timedelta(hours=1)


def _opening(text, zone="Europe/Berlin", mail_at=SEVEN, quiet_days=()):
    """The local reading of the opening after a local reading of 2026."""
    local = dt.datetime.fromisoformat(f"2026-{text}").replace(tzinfo=ZoneInfo(zone))
    found = next_opening(local.astimezone(dt.UTC), zone=zone, mail_at=mail_at, quiet_days=quiet_days)
    return f"{found.astimezone(ZoneInfo(zone)):%m-%dT%H:%M}"


@pytest.mark.parametrize(
    ("moment", "opening"),
    [
        ("05-06T00:10", "05-06T07:00"),
        ("05-06T07:00", "05-06T07:00"),
        ("05-06T14:23", "05-06T14:23"),
        ("05-06T20:59", "05-06T20:59"),
        ("05-06T21:00", "05-07T07:00"),
        ("05-06T23:59", "05-07T07:00"),
    ],
)
def test_mail_leaves_by_day_from_its_hour_on(moment, opening):
    assert _opening(moment) == opening


@pytest.mark.parametrize(
    ("moment", "mail_at", "opening"),
    [
        ("05-06T08:00", "18:30", "05-06T18:30"),
        ("05-06T19:00", "18:30", "05-06T19:00"),
        ("05-06T21:30", "18:30", "05-07T18:30"),
        ("05-06T04:00", "05:00", "05-06T05:00"),
        ("05-06T05:59", "05:00", "05-06T05:59"),
        ("05-06T06:00", "05:00", "05-06T07:00"),  # the hour is over, and it is night still
        ("05-06T06:59", "06:30", "05-06T06:59"),
        ("05-06T20:00", "22:00", "05-06T22:00"),
        ("05-06T22:59", "22:00", "05-06T22:59"),
        ("05-06T23:00", "22:00", "05-07T22:00"),
        ("05-06T00:20", "23:30", "05-06T23:30"),  # not the rest of yesterday's hour
        ("05-06T00:59", "00:00", "05-06T00:59"),
        ("05-06T01:00", "00:00", "05-06T07:00"),
        ("05-06T21:00", "21:00", "05-06T21:00"),
        ("05-06T21:59", "20:59", "05-07T20:59"),
    ],
)
def test_an_hour_chosen_inside_the_night_is_kept_for_an_hour(moment, mail_at, opening):
    assert _opening(moment, mail_at=dt.time.fromisoformat(mail_at)) == opening


@pytest.mark.parametrize(
    ("moment", "quiet_days", "opening"),
    [
        ("05-09T10:00", (5, 6), "05-11T07:00"),  # a Saturday: on Monday
        ("05-08T22:00", (5, 6), "05-11T07:00"),
        ("05-08T10:00", (5, 6), "05-08T10:00"),
        ("05-10T10:00", (0, 1, 2, 4, 5, 6), "05-14T07:00"),  # Thursdays only
    ],
)
def test_what_falls_on_a_quiet_day_goes_on_the_next_other_day(moment, quiet_days, opening):
    assert _opening(moment, quiet_days=quiet_days) == opening


def test_a_week_of_quiet_days_is_a_mistake():
    with pytest.raises(ValueError, match="no day of the week"):
        _opening("05-06T10:00", quiet_days=range(7))


@pytest.mark.parametrize(
    ("zone", "moment", "mail_at", "opening"),
    [
        ("Europe/Berlin", "03-29T00:00", "02:30", "03-29T03:00"),  # 02:00 to 03:00 do not exist
        ("Australia/Lord_Howe", "10-04T00:00", "02:10", "10-04T02:30"),  # half an hour does not
        ("Pacific/Chatham", "09-27T00:00", "02:50", "09-27T03:45"),  # 02:45 to 03:45 do not
        ("Antarctica/Troll", "03-29T00:00", "01:30", "03-29T03:00"),  # two hours do not
        ("America/Scoresbysund", "03-28T21:00", "23:30", "03-29T23:30"),  # the evening's last hour does not
    ],
)
def test_a_mail_hour_that_the_clocks_jump_over(zone, moment, mail_at, opening):
    assert _opening(moment, zone, dt.time.fromisoformat(mail_at)) == opening


def test_a_mail_hour_that_the_clocks_show_twice_is_meant_the_first_time():
    zone = ZoneInfo("Europe/Berlin")
    shown_again = dt.datetime(2026, 10, 25, 2, 10, fold=1, tzinfo=zone).astimezone(dt.UTC)
    found = next_opening(shown_again, zone="Europe/Berlin", mail_at=dt.time(2), quiet_days=())

    assert f"{found.astimezone(zone):%m-%dT%H:%M}" == "10-25T07:00"


def test_a_day_that_a_zone_left_out_has_no_time_for_mail():
    left_out = dt.date(2011, 12, 30)  # Samoa went across the date line

    assert open_spans(left_out, zone="Pacific/Apia", mail_at=SEVEN) == []
    assert open_spans(left_out, zone="Pacific/Apia", mail_at=dt.time(5)) == []


def _changes(zone):
    """The days of 2026 after which a zone's clock runs on differently: by looking at each of them."""
    days = [dt.datetime(2026, 1, 1, 12, tzinfo=dt.UTC) + dt.timedelta(days=day) for day in range(365)]
    offsets = [day.astimezone(ZoneInfo(zone)).utcoffset() for day in days]
    return [day for day, here, then in zip(days, offsets, offsets[1:], strict=False) if here != then]


CHANGES = {zone: _changes(zone) or [dt.datetime(2026, 3, 29, tzinfo=dt.UTC)] for zone in ZONES}
ALL_CHANGES = [(zone, change) for zone in ZONES for change in CHANGES[zone]]


def _holds(found, moment, zone, mail_at, quiet_days):
    """Read off the person's own clock, minute for minute: by another way than the code goes."""
    local = found.astimezone(ZoneInfo(zone))
    assert found >= moment
    assert local.weekday() not in quiet_days
    if dt.time(7) <= local.time() < dt.time(21):
        assert local.time() >= mail_at or not dt.time(7) <= mail_at < dt.time(21)
        return
    assert not dt.time(7) <= mail_at < dt.time(21), "a night that nobody chose"
    hour = instant_of(local.date(), mail_at, zone)
    assert hour <= found < hour + HOUR


@pytest.mark.parametrize("hour", range(24))
def test_no_zone_has_a_mail_at_night_around_its_clock_changes(hour):
    mail_at = dt.time(hour)
    for zone, change in ALL_CHANGES:
        weekday = change.astimezone(ZoneInfo(zone)).weekday()
        for hours, quiet_days in ((hour, ()), (hour + 7, ()), (3 * hour - 24, (weekday, (weekday + 1) % 7))):
            moment = change + HOUR * hours  # the change lies in the 24 hours after `change`
            found = next_opening(moment, zone=zone, mail_at=mail_at, quiet_days=quiet_days)
            _holds(found, moment, zone, mail_at, quiet_days)


@settings(max_examples=800, deadline=None)
@given(
    zone=st.sampled_from(ZONES) | st.sampled_from(ODD_ONES),
    which=st.integers(0, 3),
    minutes=st.integers(-3 * 24 * 60, 3 * 24 * 60),
    mail_at=st.times().map(lambda time: time.replace(second=0, microsecond=0)),
    quiet_days=st.sets(st.integers(0, 6), max_size=6),
)
def test_no_mail_inside_quiet_times_whatever_the_zone_moment_and_wish(
    zone, which, minutes, mail_at, quiet_days
):
    change = CHANGES[zone][which % len(CHANGES[zone])]
    moment = change + dt.timedelta(minutes=minutes)
    found = next_opening(moment, zone=zone, mail_at=mail_at, quiet_days=quiet_days)

    _holds(found, moment, zone, mail_at, quiet_days)
    # The earliest: no minute from the moment on would have done as well.
    assert next_opening(found, zone=zone, mail_at=mail_at, quiet_days=quiet_days) == found
    earlier = moment + (found - moment) * 0.999
    assert (
        next_opening(earlier, zone=zone, mail_at=mail_at, quiet_days=quiet_days) == found or earlier == moment
    )
