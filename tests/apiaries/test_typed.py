"""Reading typed days, places and names. Formats as people write them: common practice, no source."""

import datetime as dt
from decimal import Decimal

import pytest
from django.utils.translation import override

from apiaries.language import day_words
from apiaries.typed import NotRead, read_day, read_km, read_names, read_place

AUG_12 = dt.date(2026, 8, 12)


@pytest.mark.parametrize(
    "text",
    [
        "2026-08-12",
        "12 Aug 2026",
        "12 august 2026",
        "12. August 2026",
        "12th Aug, 2026",
        "12aug2026",
        "Aug 12, 2026",
        "August 12 2026",
        "12.8.2026",
        " 12  Aug  2026 ",
    ],
)
def test_day_reads_one_meaning(text: str) -> None:
    assert read_day(text) == AUG_12


@pytest.mark.parametrize("text", ["25/8/2026", "8/25/2026"])
def test_day_with_slashes_read_where_one_number_is_no_month(text: str) -> None:
    assert read_day(text) == dt.date(2026, 8, 25)


def test_day_with_slashes_asks_where_both_could_be_months() -> None:
    with pytest.raises(NotRead, match="12 Aug 2026 or 8 Dec 2026"):
        read_day("12/8/2026")


def test_day_with_slashes_read_where_both_readings_agree() -> None:
    assert read_day("5/5/2026") == dt.date(2026, 5, 5)


@pytest.mark.parametrize(
    "text",
    ["31 Feb 2026", "12 Auf 2026", "12 Aug 26", "Aug 2026", "12/0/2026", "soon", "0 Aug 2026", "2026-13-01"],
)
def test_day_refuses_what_is_no_day(text: str) -> None:
    with pytest.raises(NotRead, match="12 Aug 2026"):
        read_day(text)


def test_day_understands_today_only_when_told_which_it_is() -> None:
    assert read_day("Yesterday", today=AUG_12) == dt.date(2026, 8, 11)
    assert read_day("today", today=AUG_12) == AUG_12
    with pytest.raises(NotRead):
        read_day("today")


@pytest.mark.parametrize(
    "text",
    [
        "52.52, 13.405",
        "52.52 13.405",
        "52,52 13,405",
        "52,52; 13,405",
        "52.52°, 13.405°",
        "+52.520, 13.405",
        "52.52 N, 13.405 E",
        "52.52°n 13.405° e",
    ],
)
def test_place_reads_both_decimal_signs(text: str) -> None:
    assert read_place(text) == (Decimal("52.52000"), Decimal("13.40500"))


def test_place_south_and_west_by_letter_or_sign() -> None:
    assert (
        read_place("33.5 S, 70.25 W") == read_place("-33.5, -70.25") == (Decimal("-33.5"), Decimal("-70.25"))
    )


@pytest.mark.parametrize(
    ("text", "km"),
    [("3", 3), ("2,5", 2.5), ("2.5 km", 2.5), ("800 m", 0.8), ("2 miles", 3.218688), ("1mi", 1.609344)],
)
def test_km_as_people_type_it(text: str, km: float) -> None:
    assert read_km(text) == pytest.approx(km)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "number"),
        ("-3", "negative"),
        ("−3", "negative"),
        ("0", "more than 0"),
        ("3 leagues", "number"),
        ("1e3", "number"),
    ],
)
def test_km_refuses_with_what_to_mend(text: str, words: str) -> None:
    with pytest.raises(NotRead, match=words):
        read_km(text)


def test_place_is_rounded_to_about_a_metre() -> None:
    assert read_place("-33.8567891, 151.2152967") == (Decimal("-33.85679"), Decimal("151.21530"))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("52,13", "latitude and longitude"),
        ("91, 2", "first"),
        ("2, 181", "second"),
        ("x", "degrees"),
        ("-1 S, 2", "not both"),
    ],
)
def test_place_refuses_with_what_to_mend(text: str, words: str) -> None:
    with pytest.raises(NotRead, match=words):
        read_place(text)


@pytest.mark.parametrize("text", ["1–4", "1-4", "1 to 4", "1..4", "1, 2;3\n4", "1-3, 4"])
def test_names_reads_ranges_and_lists(text: str) -> None:
    assert read_names(text) == ["1", "2", "3", "4"]


def test_names_keeps_words_as_typed() -> None:
    assert read_names("9,  Blue   hive ,") == ["9", "Blue hive"]
    assert read_names("  ") == []


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("9-1", "backwards"),
        ("1-500", "200"),
        ("Blue, blue", "twice"),
        ("x" * 41, "too long"),
        ("a\0b", "character"),
    ],
)
def test_names_refuses_with_what_to_mend(text: str, words: str) -> None:
    with pytest.raises(NotRead, match=words):
        read_names(text)


def test_names_takes_two_hundred_and_no_more() -> None:
    assert len(read_names("1-200")) == 200
    with pytest.raises(NotRead):
        read_names("1-200, Blue")


# The same in German. Whoever types it, and whatever language they read.


@pytest.mark.parametrize(
    "text",
    ["12. August 2026", "12. Aug 2026", "12. Aug. 2026", "12 AUGUST 2026", "12.August2026", "12. 8. 2026"],
)
def test_day_in_german(text: str) -> None:
    assert read_day(text) == AUG_12


@pytest.mark.parametrize(
    ("number", "names"),
    [
        (1, "Jan Januar Jän Jänner Jaenner"),
        (2, "Feb Februar Feber"),
        (3, "Mär März Mrz Maerz Mar"),
        (4, "Apr April"),
        (5, "Mai May"),
        (6, "Jun Juni"),
        (7, "Jul Juli"),
        (8, "Aug August"),
        (9, "Sep Sept September"),
        (10, "Okt Oktober Oct"),
        (11, "Nov November"),
        (12, "Dez Dezember Dec"),
    ],
)
def test_day_knows_every_month_in_german(number: int, names: str) -> None:
    for name in names.split():
        assert read_day(f"3. {name} 2026") == read_day(f"3 {name.upper()}. 2026") == dt.date(2026, number, 3)


def test_day_reads_letters_with_their_dots_apart() -> None:
    assert read_day("3. Ma\u0308rz 2026") == dt.date(2026, 3, 3)


def test_day_understands_today_in_german() -> None:
    assert read_day("Heute", today=AUG_12) == AUG_12
    assert read_day("gestern", today=AUG_12) == dt.date(2026, 8, 11)
    with pytest.raises(NotRead):
        read_day("heute")


def test_every_day_is_read_as_the_pages_write_it() -> None:
    for code in ("en-gb", "de"):
        with override(code):
            for month in range(1, 13):
                day = dt.date(2026, month, 12)
                assert read_day(day_words(day)) == day


def test_names_reads_a_range_in_german() -> None:
    assert read_names("1 bis 4") == ["1", "2", "3", "4"]
    assert read_names("Bisamberg 2") == ["Bisamberg 2"]


@pytest.mark.parametrize(
    "text", ["52,52 N, 13,405 E", "52.52 Nord 13.405 Ost", "52,52° N; 13,405° E", "52,52 north 13,405 east"]
)
def test_place_in_words(text: str) -> None:
    assert read_place(text) == (Decimal("52.52000"), Decimal("13.40500"))


def test_place_south_and_west_in_words() -> None:
    assert read_place("33,5 Süd, 70,25 West") == read_place("33.5 S 70.25 W") == read_place("-33.5, -70.25")
    with pytest.raises(NotRead, match="not both"):
        read_place("-33.5 Süd, 70")


def test_place_takes_o_for_the_east_only_of_those_who_read_german() -> None:
    """In French, Italian and Spanish it is the west."""
    with pytest.raises(NotRead, match="write E or W"):
        read_place("52,52 N, 13,405 O")
    with override("de"):
        assert read_place("52,52° N, 13,405° O") == (Decimal("52.52000"), Decimal("13.40500"))


@pytest.mark.parametrize(
    ("text", "km"), [("2,5 Kilometer", 2.5), ("2 Meilen", 3.218688), ("1 Meile", 1.609344)]
)
def test_km_in_german(text: str, km: float) -> None:
    assert read_km(text) == pytest.approx(km)
