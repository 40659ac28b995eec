"""What headings stand for: by their words, by what the club said, and asked where two or none fit."""

import pytest

from counts.imports.columns import CLEAR, VAGUE, Column, Meaning, Unclear, match, meaning_of, plain

HEADINGS = [
    ("Hive", Column.COLONY),
    ("#", Column.COLONY),
    ("Volk Nr.", Column.COLONY),
    ("STOCK", Column.COLONY),
    ("Bienenstand", Column.YARD),
    ("Apiary", Column.YARD),
    ("Datum", Column.DATE),
    ("Gezählt am", Column.DATE),
    ("Methode", Column.METHOD),
    ("Milben", Column.MITES),
    ("%", Column.PERCENT),
    ("Befall in %", Column.PERCENT),
    ("Mites per 100 bees", Column.PERCENT),
    ("Milbenfall", Column.DROP),
    ("drop", Column.DROP),
    ("Milben / Tag", Column.PER_DAY),
    ("Tage", Column.DAYS),
    ("Volume (ml)", Column.VOLUME),
    ("g", Column.WEIGHT),
    ("Brut", Column.BROOD),
    ("Bemerkungen", Column.NOTE),
]


@pytest.mark.parametrize(("heading", "column"), HEADINGS, ids=[heading for heading, _ in HEADINGS])
def test_heading_is_known_in_both_languages(heading: str, column: Column) -> None:
    known = meaning_of(heading)

    assert known is not None
    assert known[0].column is column


@pytest.mark.parametrize(
    "heading", ["mites/300", "Mites per 300 bees", "Milben auf 300 Bienen", "Milben / 300"]
)
def test_heading_that_names_the_bees_gives_them(heading: str) -> None:
    assert match(["Hive", "Date", heading]).meanings[2] == Meaning(Column.MITES, 300)


def test_no_word_means_two_things() -> None:
    for words in (CLEAR, VAGUE):
        all_words = [plain(word) for several in words.values() for word in several.split("|")]
        assert len(all_words) == len(set(all_words))


def test_clearer_word_wins_and_the_other_is_left_aside() -> None:
    found = match(["#", "Hive", "Date", "Mites"])

    assert found.meanings[1].column is Column.COLONY
    assert (found.unclear, found.aside) == ((), (0,))


def test_two_equally_clear_headings_are_asked_about() -> None:
    assert match(["Hive", "Colony", "Date", "Mites"]).unclear == (Unclear(Column.COLONY, (0, 1)),)


def test_what_every_count_needs_is_asked_for_where_no_heading_fits() -> None:
    assert {one.column for one in match(["Wer", "Wohin"]).unclear} == {
        Column.COLONY,
        Column.DATE,
        Column.MITES,
    }


def test_mites_per_100_may_be_a_rate_or_a_jar_and_is_asked_about() -> None:
    assert match(["Hive", "Date", "mites/100"]).unclear == (Unclear(Column.PERCENT, (2,)),)


def test_what_the_club_said_before_is_not_asked_again() -> None:
    said = {"colony": None, "mites/100": Meaning(Column.MITES, 100), "wer": Meaning(Column.YARD)}

    found = match(["Hive", "Colony", "Date", "mites/100", "Wer"], said)

    assert found.unclear == ()
    assert found.meanings[3] == Meaning(Column.MITES, 100)
    assert found.meanings[4].column is Column.YARD
    assert found.aside == (1,)
