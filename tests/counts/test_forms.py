"""What the forms refuse, what they ask, and what they leave aside."""

import datetime as dt
import uuid
from decimal import Decimal
from typing import Any

import pytest

from apiaries.actions import add_helper, add_yard, move_colony
from counts.data_checks import Oddity
from counts.forms import SampleForm, YardCountForm, remembered
from counts.models import MiteSample
from counts.samples import BeesBy, Method
from counts.sentences import ODDITY_SENTENCES
from tests.cast import Cast
from tests.counts.counting import DAY, kept, typed

TODAY = dt.date(2026, 8, 14)
BOARD = {"method": "board", "board_days": "3", "treatment_in_hive": "no"}


def _form(cast: Cast, **more: Any) -> SampleForm:
    sent = {name: value for name, value in typed(**more).items() if value != "None"}
    return SampleForm(sent, colony=cast.colony, person=cast.alice, today=TODAY, initial={})


def _yard(cast: Cast, **more: Any) -> YardCountForm:
    return YardCountForm(
        typed(**more),
        yard=cast.alice_yard,
        person=cast.alice,
        today=TODAY,
        initial={},
        colonies=cast.colonies,
    )


BAD = [
    ({"mites": ""}, "mites", "Enter the number of mites, even if it is 0."),
    ({"mites": "nine"}, "mites", "Enter the number of mites, even if it is 0."),
    ({"mites": "-1"}, "mites", "Enter the number of mites, even if it is 0."),
    ({"mites": "9" * 30}, "mites", "Enter a number up to 99,999."),
    ({"mites": "901"}, "mites", "More than 3 mites for each bee can't be right."),
    ({"bees_how": "counted", "bees": "0"}, "bees", "It must be at least 1."),
    ({"bees_how": "counted", "bees": ""}, "bees", "at least 1"),
    ({"bees_how": "nominal", "bees": "some"}, "bees", "at least 1"),
    ({"bees_how": ""}, "bees_how", "Say how many bees were in the jar"),
    ({"method": ""}, "method", "Choose how you counted."),
    ({"sampled_on": "15 Aug 2026"}, "sampled_on", "still to come"),
    ({"sampled_on": "12/8/2026"}, "sampled_on", "Say which month"),
    ({"sampled_on": ""}, "sampled_on", "Enter the date"),
    (BOARD | {"board_days": "0"}, "board_days", "It must be more than 0."),
    (BOARD | {"board_days": ""}, "board_days", "It must be more than 0."),
    (BOARD | {"board_days": "2.55"}, "board_days", "at most one decimal"),
    (BOARD | {"treatment_in_hive": ""}, "treatment_in_hive", "Say whether a treatment was in the hive"),
    (BOARD | {"cells_counted": "30"}, "cells_total", "Enter both"),
    (BOARD | {"cells_counted": "31", "cells_total": "30"}, "cells_counted", "at most the cells on the board"),
    ({"method": "drone_brood"}, "cells_opened", "how many drone cells you opened"),
    (
        {"method": "drone_brood", "cells_opened": "8"},
        "cells_opened",
        "more drone cells with mites than cells opened",
    ),
]


@pytest.mark.parametrize(
    ("sent", "field", "words"), BAD, ids=[f"{at} {field}" for at, (_, field, _) in enumerate(BAD)]
)
def test_problem_is_said_at_its_field(cast: Cast, sent: dict[str, str], field: str, words: str) -> None:
    form = _form(cast, **sent)

    assert not form.is_valid()
    assert set(form.errors) == {field}
    assert words in form.errors[field][0]


def test_zero_mites_are_a_count(cast: Cast) -> None:
    form = _form(cast, mites=0)

    assert form.is_valid()
    assert form.count.mites == 0


def test_fields_of_other_methods_are_left_aside(cast: Cast) -> None:
    form = _form(cast, board_days="nonsense", cells_opened="-3", cells_counted="x", bees="many")

    assert form.is_valid()
    assert (form.count.board_days, form.count.cells_counted, form.count.bees) == (None, None, 300)


def test_board_leaves_the_jar_aside(cast: Cast) -> None:
    form = _form(
        cast, **BOARD | {"board_days": "2,5", "bees": "many", "cells_counted": "30", "cells_total": "90"}
    )

    assert form.is_valid()
    assert (form.count.bees, form.count.bees_by, form.count.board_days) == (None, None, Decimal("2.5"))
    assert (form.count.cells_counted, form.count.cells_total) == (30, 90)


def test_half_cup_is_the_clubs_number(cast: Cast) -> None:
    type(cast.club).objects.filter(pk=cast.club.pk).update(bees_per_half_cup=400)
    cast.colony.yard.club.refresh_from_db()

    form = _form(cast)

    assert form.is_valid()
    assert (form.count.bees, form.count.bees_by) == (400, BeesBy.VOLUME)


QUESTIONS = [
    ({"mites": "73"}, "73 mites of 300 bees is 24.3 per 100."),
    ({"mites": "400"}, "more mites than bees"),
    ({"bees_how": "counted", "bees": "300"}, "were they counted one by one"),
    ({"mites": "1", "bees_how": "counted", "bees": "40"}, "40 bees are too few"),
    (BOARD | {"board_days": "9"}, "9 days on the board"),
    ({"sampled_on": "2026-03-01"}, "Colony 1 is noted as here only after 1 Mar 2026."),
]


@pytest.mark.parametrize(("sent", "words"), QUESTIONS, ids=[words for _, words in QUESTIONS])
def test_odd_count_is_asked_about_once(cast: Cast, sent: dict[str, str], words: str) -> None:
    asked = _form(cast, **sent)
    assert not asked.is_valid()
    assert words in asked.questions[0]
    assert not asked.errors

    assert _form(cast, **sent, sure=asked.sure_value).is_valid()


def test_tick_does_not_answer_another_question(cast: Cast) -> None:
    asked = _form(cast, mites=73)
    asked.is_valid()

    changed = _form(cast, mites=299, sure=asked.sure_value)

    assert not changed.is_valid()
    assert "299 mites" in changed.questions[0]


def test_second_count_of_the_day_is_asked_about(cast: Cast) -> None:
    kept(cast.colony, cast.bob, mites=4)

    form = _form(cast)

    assert not form.is_valid()
    assert "already has this method's count of 12 Aug 2026: 4 in about 300 bees" in form.questions[0]


def test_form_sent_twice_is_not_asked_about(cast: Cast) -> None:
    key = uuid.uuid4()
    kept(cast.colony, cast.alice, entry_key=key)

    assert _form(cast, entry_key=key).is_valid()


def test_day_in_a_yard_of_others_is_refused(cast: Cast) -> None:
    meadow = add_yard(keeper=cast.alice, region=cast.north, name="Meadow", by=cast.alice)
    add_helper(yard=meadow, person=cast.charlie, by=cast.alice)
    move_colony(colony=cast.colony, to_yard=meadow, moved_on=dt.date(2026, 8, 13), by=cast.alice)
    cast.colony.refresh_from_db()

    form = SampleForm(typed(), colony=cast.colony, person=cast.charlie, today=TODAY, initial={})

    assert not form.is_valid()
    assert "stood in Home yard, where you do not log counts" in form.errors["sampled_on"][0]


def test_moved_colony_is_held_against_the_yard_where_it_stood(cast: Cast) -> None:
    for colony in cast.colonies[1:]:
        kept(colony, cast.alice, 1)
    meadow = add_yard(keeper=cast.alice, region=cast.north, name="Meadow", by=cast.alice)
    move_colony(colony=cast.colony, to_yard=meadow, moved_on=DAY + dt.timedelta(days=1), by=cast.alice)

    then, now = _form(cast, mites="40"), _form(cast, mites="40", sampled_on="14 Aug 2026")

    assert (then.is_valid(), now.is_valid()) == (False, True)
    assert (then.count.stood, now.count.stood) == (cast.alice_yard, meadow)
    assert then.questions == [ODDITY_SENTENCES[Oddity.HOT_OR_TYPING]]


def test_yard_remembers_its_last_way_of_counting(cast: Cast) -> None:
    kept(cast.colony, cast.alice, 3, 280, method=Method.SOAP_WASH, bees_by=BeesBy.NOMINAL)

    assert remembered(cast.alice_yard) == {"method": "soap_wash", "bees_how": "nominal", "bees": 280}


def test_empty_row_is_not_counted_and_zero_is(cast: Cast) -> None:
    form = _yard(cast, **{f"c{cast.colonies[2].pk}-mites": 0})

    assert form.is_valid()
    assert [(count.colony.name, count.mites) for count in form.counts] == [("3", 0)]


def test_yard_without_any_row_is_asked_for_one(cast: Cast) -> None:
    form = _yard(cast)

    assert not form.is_valid()
    assert "Nothing is typed yet" in form.non_field_errors()[0]


ROWS = [
    ({"mites": "x"}, {}, "mites", "Enter a whole number of mites"),
    ({"bees": "250"}, {}, "mites", "Enter the mites too"),
    ({"mites": "4", "bees": "0"}, {}, "bees", "at least 1"),
    ({"mites": "901"}, {}, "mites", "More than 3 mites for each bee"),
    ({"mites": "4"}, {"bees_how": "counted"}, "bees", "how many bees were counted in this jar"),
]


@pytest.mark.parametrize(("row", "shared", "field", "words"), ROWS, ids=[words for *_, words in ROWS])
def test_problem_is_said_at_its_row(
    cast: Cast, row: dict[str, str], shared: dict[str, str], field: str, words: str
) -> None:
    first, middle, last = cast.colonies[:3]
    typed_rows = {f"c{colony.pk}-mites": "2" for colony in (first, last)}
    typed_rows |= {f"c{colony.pk}-bees": "300" for colony in (first, last)}
    typed_rows |= {f"c{middle.pk}-{name}": value for name, value in row.items()}

    form = _yard(cast, **typed_rows, **shared)

    assert not form.is_valid()
    assert {one.row_name: list(one.errors) for one in form.rows if one.errors} == {"Colony 2": [field]}
    assert words in form.rows[1].errors[field][0]
    assert not MiteSample.objects.exists()


def test_whole_yard_of_boards_needs_no_bees(cast: Cast) -> None:
    form = _yard(cast, **BOARD, **{f"c{cast.colony.pk}-mites": 23, f"c{cast.colony.pk}-bees": "9"})

    assert form.is_valid()
    assert (form.counts[0].bees, form.counts[0].board_days) == (None, Decimal(3))
    assert form.counts[0].sampled_on == DAY
