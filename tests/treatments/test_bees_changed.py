"""Colonies that were split, united or requeened around a treatment: no two counts of different bees are paired."""

import datetime as dt
from typing import Any

import pytest
from django.urls import reverse

from apiaries.actions import requeen_colony, split_colony, undo_change, unite_colonies
from apiaries.models import Colony, ColonyChange
from apiaries.on_page import ColonyOnPage
from tests.cast import Cast
from tests.treatments.making import AFTER, BEFORE, GIVEN, LATER, TODAY, jar, treat
from treatments.due import ALL_GONE, due_list
from treatments.outcome import Reason
from treatments.outlook_panel import OTHER_BEES, colony_outlook
from treatments.results import result_of
from treatments.sentences import NOTE_SENTENCES, Note

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("reference")]
BETWEEN = dt.date(2026, 8, 10)


def pair(colony: Colony, before: int = 40, after: int = 2) -> None:
    jar(colony, BEFORE, before)
    jar(colony, AFTER, after)


def split(cast: Cast, colony: Colony, on: dt.date = BETWEEN) -> Colony:
    return split_colony(colony=colony, to_yard=cast.alice_yard, name="20", split_on=on, by=cast.alice)


def unite(cast: Cast, colony: Colony, into: Colony, on: dt.date = BETWEEN) -> ColonyChange:
    return unite_colonies(colony=colony, into=into, united_on=on, by=cast.alice)


def test_counts_around_a_union_are_no_pair(cast: Cast) -> None:
    one, two, *_ = cast.colonies
    treatment = treat([one])
    pair(one)
    union = unite(cast, two, one)

    result = result_of(treatment, TODAY)

    assert (result.outcome.drop, result.outcome.reason) == (None, Reason.NOT_PAIRED)
    assert Note.UNITED in result.notes
    undo_change(change=union, why="it was 3", at=LATER, by=cast.alice)
    result = result_of(treatment, TODAY)
    assert result.outcome.drop is not None and Note.UNITED not in result.notes


def test_colony_with_other_bees_is_left_out_of_the_sum_of_the_others(cast: Cast) -> None:
    one, two, three, *_ = cast.colonies
    treatment = treat([one, two])
    pair(one, 40, 2)
    pair(two, 100, 90)
    unite(cast, three, two)

    result = result_of(treatment, TODAY)

    assert (result.outcome.mites_before, result.outcome.mites_after) == (40, 2)
    assert [part.paired for part in result.per_colony] == [True, False]


@pytest.mark.parametrize("on", [BEFORE, AFTER])
def test_union_on_the_day_of_a_count_counts_as_between(cast: Cast, on: dt.date) -> None:
    treatment = treat([cast.colony])
    pair(cast.colony)
    unite(cast, cast.colonies[1], cast.colony, on=on)

    assert result_of(treatment, TODAY).outcome.drop is None


@pytest.mark.parametrize("days", [(BEFORE, -1), (AFTER, 1)])
def test_union_before_or_after_both_counts_changes_nothing(cast: Cast, days: tuple[dt.date, int]) -> None:
    treatment = treat([cast.colony])
    pair(cast.colony)
    unite(cast, cast.colonies[1], cast.colony, on=days[0] + dt.timedelta(days=days[1]))

    result = result_of(treatment, TODAY)

    assert result.outcome.drop == pytest.approx(0.95)
    assert not {Note.UNITED, Note.SPLIT} & set(result.notes)


def test_split_and_new_queen_between_are_named_and_keep_the_pair(cast: Cast) -> None:
    treatment = treat(cast.colonies[:2])
    pair(cast.colonies[0])
    pair(cast.colonies[1])
    split(cast, cast.colonies[0])
    requeen_colony(colony=cast.colonies[1], requeened_on=BETWEEN, by=cast.alice)

    result = result_of(treatment, TODAY)

    assert result.outcome.mites_before == 80
    assert {Note.SPLIT, Note.REQUEENED} <= set(result.notes)


def test_page_says_before_all_else_that_bees_changed(cast: Cast, client_for: Any) -> None:
    treatment = treat([cast.colony])
    pair(cast.colony)
    unite(cast, cast.colonies[1], cast.colony)

    page = client_for(cast.alice).get(reverse("treatments:outcome", args=[treatment.pk])).content.decode()

    assert page.index(NOTE_SENTENCES[Note.UNITED]) < page.index("<summary>Why?")
    assert "other bees came in between" in page


def test_new_colony_does_not_take_its_mothers_count_for_a_before_count(cast: Cast) -> None:
    jar(cast.colony, BEFORE, 40)
    daughter = split(cast, cast.colony, on=BEFORE)
    treatment = treat([daughter])
    jar(daughter, AFTER, 2)

    assert result_of(treatment, TODAY).outcome.reason is Reason.NO_BEFORE_COUNT


def test_colony_split_from_a_treated_one_is_no_untreated_colony(cast: Cast) -> None:
    treatment = treat([cast.colony])
    pair(cast.colony)
    daughter = split(cast, cast.colony, on=GIVEN)
    jar(daughter, AFTER, 2)

    result = result_of(treatment, TODAY)
    assert Note.OTHERS_UNTREATED not in result.notes

    jar(cast.colonies[1], AFTER, 2)
    assert Note.OTHERS_UNTREATED in result_of(treatment, TODAY).notes


def test_untreated_colonies_whose_bees_changed_are_no_controls(cast: Cast) -> None:
    treatment = treat(cast.colonies[:2])
    for colony in cast.colonies[:5]:
        pair(colony, 40, 20)
    assert result_of(treatment, TODAY).control_colonies == 3

    split(cast, cast.colonies[2])
    unite(cast, cast.colonies[5], cast.colonies[3])

    result = result_of(treatment, TODAY)
    assert (result.control_colonies, result.controls) == (1, None)


def test_recount_of_united_colonies_is_not_asked_of_others(cast: Cast) -> None:
    one, two, three, *_ = cast.colonies
    treat([one, two])
    unite(cast, one, three)
    assert [item.closed for item in due_list(cast.alice, AFTER)] == [False]

    unite(cast, two, three)

    (item,) = due_list(cast.alice, AFTER)
    assert (item.words, item.action, item.closed) == (ALL_GONE, "Say why there was none", True)


def test_no_outlook_from_a_count_of_other_bees(cast: Cast) -> None:
    jar(cast.colony, BEFORE, 9)
    assert (
        colony_outlook(cast.alice, ColonyOnPage(cast.alice, cast.colony)).context["outlook"].reason
        != OTHER_BEES
    )

    split(cast, cast.colony, on=BETWEEN)

    assert (
        colony_outlook(cast.alice, ColonyOnPage(cast.alice, cast.colony)).context["outlook"].reason
        == OTHER_BEES
    )
