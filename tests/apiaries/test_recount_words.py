"""How figures, ranges and days are written."""

from datetime import UTC, date, datetime

import pytest

from apiaries.templatetags import recount_words as words


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (3, "3.0"),
        (0.05, "0.1"),
        (2.25, "2.3"),
        ("6.692505584", "6.7"),
        (0, "0.0"),
        (-1.24, "−1.2"),
        (-0.01, "0.0"),
    ],
)
def test_one_decimal_rounds_halves_up(value, text):
    assert words.one_decimal(value) == text


@pytest.mark.parametrize("value", [None, "", "many", float("nan"), float("inf"), True])
@pytest.mark.parametrize(
    "write", [words.one_decimal, words.plain, words.signed, words.per_100, words.per_day, words.share]
)
def test_a_missing_figure_is_never_written_as_zero(write, value):
    assert write(value) == ""


def test_rates_carry_their_unit():
    assert words.per_100(3) == "3.0 per 100 bees"
    assert words.per_day(4) == "4.0 per day"


def test_rate_range_needs_both_ends():
    assert words.rate_range(1.349663479, 6.692505584) == "1.3 to 6.7"
    assert words.rate_range(1.3, None) == ""
    assert words.rate_range(0, 1.2) == "0.0 to 1.2"


@pytest.mark.parametrize(("value", "text"), [(2, "2"), (2.50, "2.5"), ("10", "10"), (100, "100"), (0, "0")])
def test_plain_keeps_the_figure_as_published(value, text):
    assert words.plain(value) == text


@pytest.mark.parametrize(("value", "text"), [(0.4, "+0.4"), (-1.2, "−1.2"), (0, "0.0")])
def test_signed_shows_the_direction(value, text):
    assert words.signed(value) == text


@pytest.mark.parametrize(("value", "text"), [(0.834, "83 %"), (1, "100 %"), (0, "0 %"), (-0.38, "−38 %")])
def test_share_is_whole_per_cent(value, text):
    assert words.share(value) == text


def test_days_name_the_month():
    assert words.day(date(2026, 8, 12)) == "12 Aug 2026"
    assert words.weekday_day(date(2026, 8, 22)) == "Sat 22 Aug 2026"
    assert words.month_year(date(2026, 8, 1)) == "Aug 2026"
    assert words.day_and_time(datetime(2026, 8, 12, 7, 0, tzinfo=UTC)) == "12 Aug 2026, 07:00"


@pytest.mark.parametrize("write", [words.day, words.weekday_day, words.month_year, words.day_and_time])
def test_a_missing_day_is_empty(write):
    assert write(None) == ""


@pytest.mark.parametrize(
    ("high", "level", "top"), [(6.7, 2, 10), (1.2, 3, 5), (4.9, None, 10), (0, None, 5), (9999, 2, 1000)]
)
def test_bar_scale_leaves_air_above_both(high, level, top):
    assert words.bar_scale(high, level) == top


@pytest.mark.parametrize(("value", "x"), [(0, 0), (3, 300), (6.69, 669), (12, 1000), (-1, 0), (None, "")])
def test_bar_x_stays_on_the_bar(value, x):
    assert words.bar_x(value, 10) == x


@pytest.mark.parametrize(("x", "place"), [(305, "30.5%"), (0, "0%"), (1000, "100%"), ("", "0%")])
def test_along_is_a_share_of_the_bar(x, place):
    assert words.along(x) == place
