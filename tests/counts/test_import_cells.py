"""What one row says: numbers, words, percentages; and what has no single meaning."""

import datetime as dt
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as some

from counts.imports.cells import cells_of
from counts.imports.columns import Column, Meaning
from counts.imports.days import DayOrder
from counts.imports.reasons import SENTENCES, SHORT, Kind, Reason, reason_from, sentence_of, short_of
from counts.imports.rows import Cells, Options, Row, row_of
from counts.imports.said import Said, said_in
from counts.imports.words import decimal_in, mites_of_share
from counts.samples import BeesBy, Method, Problem, Question

TODAY = dt.date(2026, 8, 14)
# COLOSS BEEBOOK, varroa 4.2.3.1.1: 100 ml hold about 300 bees; 25 g about 200: bees_per_measure.csv.
OPTIONS = Options(today=TODAY, bees_per_100_ml=300, bees_per_gram=Decimal(8))
WASH = {Column.DATE: "2026-08-12", Column.METHOD: "alcohol wash"}
BOARD = {Column.DATE: "2026-08-12", Column.METHOD: "Windel"}


def read(facts: dict[Column, str], options: Options = OPTIONS, heading_bees: int | None = None) -> Cells:
    return cells_of(Row(2, facts, heading_bees), options)


def kinds(reasons: list[Reason]) -> list[str]:
    return [str(one.kind) for one in reasons]


def test_two_in_300_is_split() -> None:
    for text in ("2/300", "2 / 300", "2 in 300 bees", "2 von 300", "2 auf 300 Bienen"):
        said = read(WASH | {Column.MITES: text})
        assert (said.mites, said.bees, said.bees_by, said.wrong) == (2, 300, BeesBy.NOMINAL, [])


def test_bees_come_from_cell_heading_volume_weight_or_measure_in_this_order() -> None:
    facts = WASH | {Column.MITES: "2"}

    assert read(facts | {Column.BEES: "280", Column.VOLUME: "100"}, heading_bees=300).bees == 280
    assert read(facts | {Column.VOLUME: "50 ml"}, heading_bees=300).bees == 150
    assert read(facts | {Column.WEIGHT: "37,5 g"}).bees == 300
    assert read(facts, heading_bees=300).bees == 300
    assert read(facts, Options(today=TODAY, measure=400)).bees == 400
    assert kinds(read(facts).wrong) == [Kind.BEES_MISSING]


def test_blank_is_not_counted_and_nothing_else_is_asked() -> None:
    said = read({Column.NOTE: "queen not found"})

    assert said.mites is None
    assert kinds(said.odd) == [Kind.NOT_COUNTED]


@pytest.mark.parametrize("word", ["none", "Keine", "-", "nil", "n/a"])
def test_word_in_place_of_a_number_is_asked_about(word: str) -> None:
    said = read(WASH | {Column.MITES: word, Column.BEES: "300"})

    assert (said.mites, kinds(said.odd), said.wrong) == (0, [Kind.NONE_WORD], [])


SHARES = [
    ("2.33", "300", 7),  # 7 of 300 is 2.333…
    ("2,3", "300", 7),
    ("0.7", "150", 1),  # 1 of 150 is 0.666…
    ("3 %", "100", 3),
    ("2.33333333333333%", "300", 7),  # as a spreadsheet keeps it
    ("2.3333333333333335", "300", 7),  # as a program writes the same binary fraction
]


@pytest.mark.parametrize(("share", "bees", "mites"), SHARES)
def test_percentage_of_known_bees_is_a_number_of_mites(share: str, bees: str, mites: int) -> None:
    said = read(WASH | {Column.PERCENT: share, Column.BEES: bees})

    assert (said.mites, said.wrong, said.odd) == (mites, [], [])


def test_percentage_without_bees_is_no_count() -> None:
    assert kinds(read(WASH | {Column.PERCENT: "2.3"}).wrong) == [Kind.PERCENT_ALONE]


def test_percentage_that_may_be_rounded_is_asked_about_and_one_that_cannot_be_is_refused() -> None:
    rounded = read(WASH | {Column.PERCENT: "2", Column.BEES: "300"})
    half = read(WASH | {Column.PERCENT: "2.50", Column.BEES: "300"})
    several = read(WASH | {Column.PERCENT: "2.5", Column.BEES: "2300"})

    assert (rounded.mites, kinds(rounded.odd)) == (6, [Kind.PERCENT_ROUNDED])
    assert kinds(half.wrong) == [Kind.PERCENT_NOT_WHOLE]
    assert kinds(several.wrong) == [Kind.PERCENT_OPEN]


def test_percentage_beside_mites_must_fit() -> None:
    assert read(WASH | {Column.MITES: "7/300", Column.PERCENT: "2.3"}).odd == []
    assert kinds(read(WASH | {Column.MITES: "7/300", Column.PERCENT: "3.2"}).odd) == [Kind.PERCENT_DIFFERS]


@pytest.mark.parametrize("text", ["1,200", "1.500", "12.000", "999,999"])
def test_number_that_may_be_thousands_is_none(text: str) -> None:
    assert decimal_in(text) is None


@pytest.mark.parametrize(
    ("text", "number"),
    [("0,125", "0.125"), ("1,20", "1.2"), ("1.5", "1.5"), ("1.2345", "1.2345"), ("1500", "1500")],
)
def test_number_that_can_be_no_thousands_is_read(text: str, number: str) -> None:
    assert decimal_in(text) == Decimal(number)


def test_share_that_cannot_be_read_beside_mites_and_bees_is_only_asked_about() -> None:
    both = read(WASH | {Column.MITES: "7/300", Column.PERCENT: "#DIV/0!"})
    bees = read(WASH | {Column.BEES: "300", Column.PERCENT: "#DIV/0!"})

    assert (both.mites, both.bees, both.wrong, kinds(both.odd)) == (7, 300, [], [Kind.NOT_A_NUMBER])
    assert kinds(bees.wrong) == [Kind.NOT_A_NUMBER]


def test_days_with_all_decimals_of_a_spreadsheet_are_a_number() -> None:
    said = read(BOARD | {Column.MITES: "4", Column.DAYS: "2.97916666666667"})

    assert kinds(said.wrong) == [Kind.DAYS_FINE]


def test_three_decimals_are_decimals_where_a_thousand_is_impossible() -> None:
    assert read(WASH | {Column.PERCENT: "2.333", Column.BEES: "300"}).mites == 7
    assert read(BOARD | {Column.MITES: "4", Column.DAYS: "1,500"}).board_days == Decimal("1.5")


@given(some.integers(0, 300), some.integers(1, 3000), some.integers(0, 17))
def test_a_share_that_was_rounded_can_always_be_the_mites_it_came_from(
    mites: int, bees: int, digits: int
) -> None:
    told = mites_of_share(f"{100 * mites / bees:.{digits}f}", bees)

    assert told is not None
    assert mites in told[1]


def test_drop_names_its_method_and_drop_per_day_must_be_whole_mites() -> None:
    day = {Column.DATE: "12.8.26", Column.DAYS: "2,5"}

    assert read(day | {Column.DROP: "23"}).method is Method.BOARD
    assert read(day | {Column.PER_DAY: "4"}).mites == 10
    assert kinds(read(day | {Column.PER_DAY: "4.3"}).wrong) == [Kind.PER_DAY_NOT_WHOLE]


def test_wash_and_drop_in_one_row_are_two_counts() -> None:
    assert Kind.TWO_COUNTS in kinds(read(WASH | {Column.MITES: "2/300", Column.DROP: "9"}).wrong)


WRONG = [
    (WASH | {Column.MITES: "1.000", Column.BEES: "300"}, Kind.NOT_WHOLE),
    (WASH | {Column.MITES: "4", Column.VOLUME: "1,200 ml"}, Kind.NOT_A_NUMBER),
    (WASH | {Column.MITES: "-4", Column.BEES: "300"}, Kind.NOT_WHOLE),
    (WASH | {Column.MITES: "٤", Column.BEES: "300"}, Kind.NOT_WHOLE),
    (WASH | {Column.MITES: "9" * 40, Column.BEES: "300"}, Kind.NOT_WHOLE),
    (WASH | {Column.MITES: "100000", Column.BEES: "300"}, Kind.TOO_BIG),
    (WASH | {Column.MITES: "4/300", Column.BEES: "200"}, Kind.BEES_TWICE),
    (WASH | {Column.MITES: "4", Column.BEES: "0"}, Problem.BEES_NOT_POSITIVE),
    (WASH | {Column.METHOD: "wash", Column.MITES: "4/300"}, Kind.METHOD_UNKNOWN),
    (BOARD | {Column.MITES: "4/300", Column.DAYS: "3"}, Kind.BOARD_WITH_BEES),
    (BOARD | {Column.MITES: "4"}, Kind.DAYS_MISSING),
    (BOARD | {Column.MITES: "4", Column.DAYS: "0"}, Kind.DAYS_RANGE),
    (BOARD | {Column.MITES: "4", Column.DAYS: "2.55"}, Kind.DAYS_FINE),
    (BOARD | {Column.MITES: "4", Column.DAYS: "3", Column.CELLS: "4"}, Kind.CELLS_PAIR),
    (BOARD | {Column.MITES: "4", Column.DAYS: "3", Column.TREATED: "maybe"}, Kind.TREATED_NOT_READ),
    ({Column.METHOD: "Drohnenbrut", Column.DATE: "2026-08-12", Column.MITES: "4"}, Kind.CELLS_MISSING),
    (WASH | {Column.DATE: "2026-08-15", Column.MITES: "4/300"}, Problem.IN_THE_FUTURE),
    (WASH | {Column.DATE: "12.8.27", Column.MITES: "4/300"}, Problem.IN_THE_FUTURE),
    (WASH | {Column.DATE: "26-08-12", Column.MITES: "4/300"}, Kind.DAY_TWO_MEANINGS),
    (WASH | {Column.DATE: "1.1.1887", Column.MITES: "4/300"}, Kind.DAY_TOO_EARLY),
]


@pytest.mark.parametrize(("facts", "kind"), WRONG, ids=[str(kind) for _, kind in WRONG])
def test_what_cannot_be_read_is_refused_with_its_reason(facts: dict[Column, str], kind: str) -> None:
    assert kinds(read(facts).wrong) == [kind]


@pytest.mark.parametrize(
    ("text", "asked"),
    [
        ("31.12.1979", [Kind.DAY_TAKEN]),
        ("1.1.1980", []),
        ("26-08-12", [Kind.DAY_TAKEN]),  # 2012, though it may be 2026
        ("12-08-26", []),  # 2026; 2012 is the less likely one
    ],
)
def test_day_that_is_likely_another_needs_a_look(text: str, asked: list[str]) -> None:
    options = Options(today=TODAY, order=DayOrder.DAY_FIRST)

    said = read(WASH | {Column.DATE: text, Column.MITES: "4/300"}, options)

    assert (kinds(said.odd), said.wrong) == (asked, [])


def test_own_words_for_a_method_are_said_once() -> None:
    options = Options(today=TODAY, method_words={"wash": Method.SOAP_WASH})

    assert read(WASH | {Column.METHOD: "Wash", Column.MITES: "4/300"}, options).method is Method.SOAP_WASH


def test_every_reason_can_be_kept_and_said() -> None:
    for kind in (*Kind, *Problem):
        named = dict.fromkeys(("text", "yard", "colony"), "x") | dict.fromkeys(
            ("one", "two", "day"), "2026-08-12"
        )
        values = named | dict.fromkeys(("most", "bees", "other", "low", "high", "mites", "row", "days"), 7)
        kept = reason_from(Reason(Column.MITES, kind, values).stored())
        assert "{" not in sentence_of(kept)
        assert short_of(kept.kind)
    assert set(SHORT) == {*Kind, *Problem, *Question}
    assert set(SENTENCES) == {*Kind, *Problem}


def test_what_was_said_comes_back_as_it_was_kept() -> None:
    said = Said(
        sheet="2024",
        columns={1: Meaning(Column.MITES, 300)},
        method_words={"wash": Method.CO2},
        treated=False,
    )

    assert said_in(said.stored()) == said
    assert said_in({}) == Said()


def test_row_takes_cells_by_the_meaning_of_their_columns() -> None:
    row = row_of(
        7,
        (" 3 ", None, "2\n/300"),
        {0: Meaning(Column.COLONY), 2: Meaning(Column.MITES, 300), 9: Meaning(Column.NOTE)},
    )

    assert (row.get(Column.COLONY), row.get(Column.MITES), row.heading_bees) == ("3", "2 /300", 300)
