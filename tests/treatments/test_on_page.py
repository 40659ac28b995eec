"""What a yard's page reads once says the same as what is read for each question: also of bees that went elsewhere."""

import datetime as dt
from typing import Any

import pytest

from apiaries.actions import move_colony, split_colony
from apiaries.models import Colony, Yard
from apiaries.on_page import YardOnPage
from tests.cast import Cast
from tests.treatments.making import AFTER, BEFORE, GIVEN, LATER, TODAY, board, jar, treat
from treatments.around import around_of, read_around
from treatments.count_calls import Asking, calls_in
from treatments.due import read_standing, standing_of
from treatments.models import Treatment
from treatments.on_page import around_for, doses_for, is_treated, treatments_for
from treatments.outlook_says import treated_since

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("reference")]
D = dt.date


@pytest.fixture
def moved(cast: Cast) -> Cast:
    """Two treatments at home; treated bees that went away and were counted and treated there; others that came."""
    heath = Yard.objects.create(
        club=cast.club, keeper=cast.alice, region=cast.north, name="Heath", made_at=LATER
    )
    for number, colony in enumerate(cast.colonies[:5]):
        jar(colony, BEFORE, 9 + number)
    treat(cast.colonies[:3], GIVEN, D(2026, 8, 7))
    treat(cast.colonies[1:4], D(2026, 8, 12), way="formic_other_any")
    for colony in (cast.colonies[2], cast.colonies[4]):  # one that got a dose, one that was only counted
        move_colony(colony=colony, to_yard=heath, moved_on=D(2026, 8, 13), by=cast.alice)
    gone = [Colony.objects.get(pk=one.pk) for one in (cast.colonies[2], cast.colonies[4])]
    jar(gone[0], AFTER, 3)
    treat(gone, D(2026, 8, 16))
    came = Colony.objects.create(yard=heath, name="Comer", started_on=D(2026, 4, 1))
    jar(came, D(2026, 8, 2), 4)
    treat([came], D(2026, 8, 4))
    move_colony(colony=came, to_yard=cast.alice_yard, moved_on=D(2026, 8, 14), by=cast.alice)
    for number, colony in enumerate(cast.colonies[:2]):
        jar(colony, AFTER, number)
    board(cast.colonies[3], AFTER, 12)
    split_colony(
        colony=cast.colonies[1], to_yard=cast.alice_yard, name="Nuc", split_on=D(2026, 8, 15), by=cast.alice
    )
    return cast


def page_of(cast: Cast) -> YardOnPage:
    return YardOnPage(cast.alice, Yard.objects.select_related("club", "keeper").get(pk=cast.alice_yard.pk))


def test_around_is_the_same_from_the_page_and_from_the_database(moved: Cast) -> None:
    page = page_of(moved)
    treatments = page.once(treatments_for)

    for on in (D(2026, 8, 3), D(2026, 8, 11), D(2026, 8, 15), TODAY, D(2026, 10, 1)):
        assert page.once(around_for, on) == read_around(treatments, on)
    assert len(treatments) == 2 and around_of([], TODAY) == {}


def test_standing_is_the_same_with_known_doses(moved: Cast) -> None:
    page = page_of(moved)
    mine = Treatment.objects.filter(yard=moved.alice_yard)
    for on in (D(2026, 8, 11), TODAY):
        known = standing_of(page.once(treatments_for), page.once(around_for, on), on, page.once(doses_for))
        read = read_standing(mine, on)
        assert (known.statuses, known.living) == (read.statuses, read.living)
        assert [one.pk for one in known.treatments] == [one.pk for one in read.treatments]


def test_treated_is_the_same_with_known_doses(moved: Cast) -> None:
    page = page_of(moved)
    living = [colony.pk for colony in page.living]
    asked = [
        (day, on)
        for day in (D(2026, 8, 1), D(2026, 8, 13), AFTER, D(2027, 3, 1))
        for on in (TODAY, D(2027, 3, 2))
    ]

    answers = [treated_since(living, day, on) for day, on in asked]

    assert [treated_since(living, day, on, page.once(doses_for)) for day, on in asked] == answers
    assert {*answers} == {True, False}


@pytest.mark.parametrize(
    ("on", "treated"), [(D(2026, 8, 11), False), (D(2026, 8, 12), True), (D(2026, 8, 20), True)]
)
def test_yard_with_strips_in_a_hive_is_asked_for_nothing(moved: Cast, on: dt.date, treated: bool) -> None:
    type(moved.club).objects.filter(pk=moved.club.pk).update(count_months=[8])
    page = page_of(moved)

    asked = calls_in([Asking(page.yard, 5)], on, {})

    assert is_treated(page, on) is treated
    assert calls_in([Asking(page.yard, 5, is_treated(page, on))], on, {}) == asked


def test_page_that_holds_nothing_asks_nothing(cast: Cast, django_assert_num_queries: Any) -> None:
    empty = {"treatments_treatment", "treatments_dose", "counts_mitesample", "apiaries_colonychange"}
    page = YardOnPage(cast.alice, cast.alice_yard, empty=empty)
    assert len(page.colonies) == 6
    with django_assert_num_queries(0):
        assert (page.once(treatments_for), page.once(doses_for), page.once(around_for, TODAY)) == ([], [], {})
