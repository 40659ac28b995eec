"""Club sheets: read in any shape, looked at first, kept whole or not at all."""

import io
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.core.management import CommandError, call_command

from apiaries.actions import add_yard
from apiaries.models import Colony, Yard
from counts.actions import void_sample
from counts.models import MiteSample
from tests.cast import Cast
from tests.counts.counting import AT, kept

HEAD = "yard,colony,date,method,mites,bees\n"
GOOD = HEAD + "Home yard,1,2026-08-12,alcohol wash,9,300\nHome yard,2,2026-08-12,alcohol wash,0,300\n"

Run = Callable[..., tuple[str, str]]


@pytest.fixture
def run(cast: Cast, tmp_path: Path) -> Run:
    """Imports a sheet for Alice's yards: what was printed, and the error that ended it (empty if none)."""

    def go(data: str | bytes, **options: Any) -> tuple[str, str]:
        place, out = tmp_path / "sheet.csv", io.StringIO()
        place.write_bytes(data.encode() if isinstance(data, str) else data)
        try:
            call_command("import_counts", place, **{"yard_keeper": "alice@example.org"} | options, stdout=out)
        except CommandError as error:
            assert error.returncode == 1
            return out.getvalue(), str(error)
        return out.getvalue(), ""

    return go


def test_dry_run_says_what_it_understood_and_changes_nothing(run: Run) -> None:
    printed, error = run(GOOD)

    assert "2 ready, 0 needs a look, 0 error, 0 already here" in printed
    assert "9 in about 300 bees" in printed
    assert error == ""
    assert not MiteSample.objects.exists()


def test_save_keeps_the_ready_rows(run: Run, cast: Cast) -> None:
    run(GOOD, save=True)

    kept_now = MiteSample.objects.order_by("pk").values_list("colony__name", "mites", "bees", "bees_by")
    assert list(kept_now) == [("1", 9, 300, "nominal"), ("2", 0, 300, "nominal")]
    assert {sample.recorded_by for sample in MiteSample.objects.all()} == {cast.alice}


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-8-sig", "utf-8", "cp1252"])
def test_sheet_is_read_in_any_encoding(run: Run, cast: Cast, encoding: str) -> None:
    Yard.objects.filter(pk=cast.alice_yard.pk).update(name="Bärengarten")

    run(GOOD.replace("Home yard", "Bärengarten").encode(encoding), save=True)

    assert MiteSample.objects.count() == 2


@pytest.mark.parametrize("delimiter", [";", "\t", "|"])
def test_sheet_is_read_with_any_delimiter(run: Run, delimiter: str) -> None:
    run(GOOD.replace(",", delimiter), save=True)

    assert MiteSample.objects.count() == 2


def test_decimal_commas_between_semicolons(run: Run) -> None:
    run("yard;hive;date;method;mites;days;treated\nHome yard;1;2026-08-12;board;23;2,5;no\n", save=True)

    assert str(MiteSample.objects.get().board_days) == "2.5"


def test_wrong_row_in_the_middle_keeps_every_row_out(run: Run) -> None:
    sheet = GOOD.replace("Home yard,2", "Home yard,3,03/04/26,alcohol wash,4,300\nHome yard,2")

    printed, error = run(sheet, save=True)

    assert "row 3, date: error: “03/04/26”" in printed
    assert "Nothing was saved" in printed
    assert error == "1 row has errors."
    assert not MiteSample.objects.exists()


def test_ready_only_keeps_the_rest_and_still_fails(run: Run) -> None:
    _, error = run(GOOD + "Home yard,9,2026-08-12,alcohol wash,4,300\n", save=True, ready_only=True)

    assert error == "1 row has errors."
    assert MiteSample.objects.count() == 2


WRONG = [
    ("Nowhere,1,2026-08-12,alcohol wash,4,300", "yard", "no yard called Nowhere"),
    ("Home yard,77,2026-08-12,alcohol wash,4,300", "colony", "No colony 77"),
    ("Home yard,,2026-08-12,alcohol wash,4,300", "colony", "The colony is missing"),
    ("Home yard,1,,alcohol wash,4,300", "date", "The date is missing"),
    ("Home yard,1,12/8/2025,alcohol wash,4,300", "date", "can be 12 Aug 2025 or 8 Dec 2025"),
    ("Home yard,1,2126-08-12,alcohol wash,4,300", "date", "can't be in the future"),
    ("Home yard,1,2026-08-12,guess,4,300", "method", "no method known here"),
    ("Home yard,1,2026-08-12,,4,300", "method", "The method is missing"),
    ("Home yard,1,2026-08-12,alcohol wash,many,300", "mites", "not a whole number"),
    ("Home yard,1,2026-08-12,alcohol wash,-4,300", "mites", "not a whole number"),
    ("Home yard,1,2026-08-12,alcohol wash,99999999999,300", "mites", "up to 99,999"),
    ("Home yard,1,2026-08-12,alcohol wash,901,300", "mites", "More than 3 mites for each bee"),
    ("Home yard,1,2026-08-12,alcohol wash,4,0", "bees", "at least 1"),
    ("Home yard,1,2026-08-12,alcohol wash,4,", "bees", "The number of bees is missing"),
    ("Home yard,1,2026-08-12,alcohol wash,4/300,200", "bees", "Which is right"),
    ("Home yard,1,2026-08-12,board,4,", "days", "how many days"),
]


@pytest.mark.parametrize(("line", "column", "words"), WRONG, ids=[words for _, _, words in WRONG])
def test_error_names_row_and_column(run: Run, line: str, column: str, words: str) -> None:
    printed, error = run(HEAD + line + "\n", save=True)

    told = next(text for text in printed.splitlines() if text.startswith("row 2, "))
    assert told.startswith(f"row 2, {column}: error: ")
    assert words in told
    assert error
    assert not MiteSample.objects.exists()


def test_unknown_places_are_never_made(run: Run) -> None:
    before = Yard.objects.count(), Colony.objects.count()

    run(HEAD + "Nowhere,77,2026-08-12,alcohol wash,4,300\n", save=True)

    assert (Yard.objects.count(), Colony.objects.count()) == before


def test_board_of_no_days_is_an_error(run: Run) -> None:
    printed, _ = run("yard,hive,date,method,mites,days,treated\nHome yard,1,2026-08-12,board,4,0,no\n")

    assert "row 2, days: error: The days of a board must be more than 0" in printed


def test_mites_and_bees_in_one_cell(run: Run) -> None:
    run(HEAD + "Home yard,1,2026-08-12,alcohol wash,7/300,\n", save=True)

    sample = MiteSample.objects.get()
    assert (sample.mites, sample.bees) == (7, 300)


def test_blank_mites_are_not_zero(run: Run) -> None:
    printed, error = run(GOOD + "Home yard,3,2026-08-12,alcohol wash,,300\n", save=True)

    assert "row 4, mites: needs a look: No mites entered: taken as not counted." in printed
    assert error == ""
    assert MiteSample.objects.count() == 2


def test_odd_row_is_kept_only_when_somebody_says_so(run: Run) -> None:
    sheet = HEAD + "Home yard,1,2026-08-12,alcohol wash,73,300\n"

    printed, _ = run(sheet, save=True)
    assert "row 2, mites: needs a look: 73 mites of 300 bees is 24.3 per 100." in printed
    assert not MiteSample.objects.exists()

    run(sheet, save=True, with_looks=True)
    assert MiteSample.objects.get().mites == 73


def test_second_import_adds_nothing(run: Run) -> None:
    run(GOOD, save=True)

    printed, error = run(GOOD, save=True)

    assert "0 ready, 0 needs a look, 0 error, 2 already here" in printed
    assert error == ""
    assert MiteSample.objects.count() == 2


def test_same_line_twice_in_a_sheet_is_one_count(run: Run) -> None:
    printed, _ = run(GOOD + GOOD.splitlines()[1] + "\n", save=True)

    assert "row 4: already here: The same as row 2." in printed
    assert MiteSample.objects.count() == 2


def test_count_typed_by_hand_before_is_already_here(run: Run, cast: Cast) -> None:
    kept(cast.colony, cast.bob, mites=9)

    printed, _ = run(GOOD)

    assert "1 ready, 0 needs a look, 0 error, 1 already here" in printed


def test_voided_count_does_not_come_back(run: Run, cast: Cast) -> None:
    run(GOOD, save=True)
    void_sample(sample=MiteSample.objects.get(mites=9), why="spilt", at=AT, by=cast.alice)

    run(GOOD, save=True)

    assert list(MiteSample.objects.standing().values_list("mites", flat=True)) == [0]


def test_only_those_who_may_count_there_import(run: Run) -> None:
    printed, error = run(GOOD, save=True, by="charlie@example.org")

    assert "row 2, yard: error: Whoever imports may not log counts in Home yard." in printed
    assert error == "2 rows have errors."


def test_helper_imports_under_their_own_name(run: Run, cast: Cast) -> None:
    run(GOOD, save=True, by="bob@example.org")

    assert {sample.recorded_by for sample in MiteSample.objects.all()} == {cast.bob}


def test_volume_and_measure_say_how_many_bees(run: Run) -> None:
    # COLOSS BEEBOOK, varroa 4.2.3.1.1: 100 ml hold about 300 bees.
    sheet = "yard,hive,date,mites,ml\nHome yard,1,2026-08-12,9,50\nHome yard,2,2026-08-12,9,\n"

    run(sheet, save=True, method="soap_wash", measure="half_cup")

    assert list(MiteSample.objects.order_by("pk").values_list("bees", "bees_by")) == [
        (150, "volume"),
        (300, "volume"),
    ]


def test_board_without_a_word_on_treatment_needs_a_look(run: Run) -> None:
    printed, _ = run("yard,hive,date,method,mites,days\nHome yard,1,2026-08-12,board,23,3\n", save=True)

    assert "row 2, treated: needs a look: Was a treatment in the hive while the board lay?" in printed
    assert not MiteSample.objects.exists()


def test_file_that_is_no_sheet_is_refused_in_words(run: Run) -> None:
    assert run("")[1] == "The file is empty."
    assert "No column for colony and mites was found" in run("yard,date,what\nHome yard,2026-08-12,x\n")[1]


def test_headings_may_come_after_a_title(run: Run) -> None:
    printed, _ = run(
        "Counts of our club 2026\n\nYard,Hive no.,Date counted,Mite count\nHome yard,1,2026-08-12,9/300\n",
        method="co2",
    )

    assert "    4  ready         1 " in printed


def test_queries_do_not_grow_with_rows(run: Run, django_assert_max_num_queries: Any) -> None:
    line = "Home yard,{},2026-08-{:02},alcohol wash,9,300\n"
    rows = "".join(line.format(colony, day) for colony in range(1, 7) for day in range(1, 13))

    with django_assert_max_num_queries(41):  # one of them under the second lock alone
        run(HEAD + rows)


def test_colony_is_found_where_it_stood(run: Run, cast: Cast) -> None:
    add_yard(keeper=cast.alice, region=cast.north, name="Meadow", by=cast.alice)

    printed, _ = run(HEAD + "Meadow,1,2026-08-12,alcohol wash,9,300\n")

    assert "row 2, colony: error: No colony 1 stood in Meadow on that day." in printed


def test_example_of_the_manual_is_understood(run: Run) -> None:
    printed, error = run(Path(settings.FIXTURES, "examples", "club_sheet.csv").read_bytes())

    assert "4 ready, 2 needs a look, 0 error, 0 already here" in printed
    assert error == ""


def test_blank_yard_is_not_guessed_where_other_rows_name_theirs(run: Run) -> None:
    """The cell may be merged with the one above it, or a name may be written once for several rows."""
    printed, error = run(GOOD.replace("Home yard,2", ",2"), save=True)

    assert "row 3, yard: error: The yard is missing. Say which yard the sheet is about." in printed
    assert error == "1 row has errors."
    assert not MiteSample.objects.exists()


def test_only_yard_is_taken_where_the_sheet_has_no_column_of_yards(run: Run) -> None:
    run(GOOD.replace("yard,colony", "colony").replace("Home yard,", ""), save=True)

    assert MiteSample.objects.count() == 2


def test_blank_yard_is_not_guessed_before_the_row_that_names_one(run: Run) -> None:
    printed, _ = run(HEAD + ",2,2026-08-12,alcohol wash,4,300\nHome yard,1,2026-08-12,alcohol wash,9,300\n")

    assert "row 2, yard: error: The yard is missing." in printed


def test_only_yard_is_taken_where_the_column_of_yards_is_empty_throughout(run: Run) -> None:
    run(HEAD + ",1,2026-08-12,alcohol wash,9,300\n  ,2,2026-08-12,alcohol wash,4,300\n", save=True)

    assert {sample.colony.yard.name for sample in MiteSample.objects.all()} == {"Home yard"}
    assert MiteSample.objects.count() == 2


@pytest.mark.parametrize("name", ["Norma", "Stockholm", "North 1", "Nræs", "Hiveling"])
def test_name_that_begins_like_a_word_for_colony_is_left_whole(run: Run, cast: Cast, name: str) -> None:
    cut = {"Norma": "rma", "Stockholm": "holm", "North 1": "rth 1", "Nræs": "æs", "Hiveling": "ling"}[name]
    Colony.objects.filter(pk=cast.colony.pk).update(name=cut)

    printed, _ = run(HEAD + f"Home yard,{name},2026-08-12,alcohol wash,9,300\n")

    assert f"row 2, colony: error: No colony {name} stood in Home yard on that day." in printed


@pytest.mark.parametrize("name", ["Hive 1", "hive1", "No. 1", "Nr.1", "# 1", "#01", "Volk 001"])
def test_word_before_a_number_does_not_matter(run: Run, name: str) -> None:
    printed, _ = run(HEAD + f"Home yard,{name},2026-08-12,alcohol wash,9,300\n")

    assert "1 ready, 0 needs a look, 0 error" in printed
