"""Counts that a yard's page reads once: which are shown to whom, and that nothing else is said of them."""

import datetime as dt
from typing import Any

import pytest

from apiaries.actions import move_colony
from apiaries.models import Colony, Yard
from apiaries.on_page import YardOnPage
from counts.actions import void_sample
from counts.models import MiteSample
from counts.on_page import counts_for, last_for, newest_jars_for
from counts.samples import Method
from counts.yards import newest_jars
from tests.cast import Cast
from tests.reports.counting import AT, count

ON = dt.date(2026, 8, 1)


def days(number: int) -> dt.date:
    return ON + dt.timedelta(days=number)


@pytest.fixture
def heath(cast: Cast) -> Yard:
    """Another yard of Alice's, where Bob does not help."""
    return Yard.objects.create(club=cast.club, keeper=cast.alice, region=cast.south, name="Heath", made_at=AT)


def test_last_count_of_a_colony_that_came_is_shown_to_those_who_see_where_it_was_made(
    cast: Cast, heath: Yard
) -> None:
    came = Colony.objects.create(yard=heath, name="Comer", started_on=dt.date(2026, 4, 1))
    there = count(came, days(2), 7)
    here = [count(colony, ON, 3) for colony in cast.colonies[:2]]
    move_colony(colony=came, to_yard=cast.alice_yard, moved_on=days(3), by=cast.alice)

    def shown(reader: Any) -> set[MiteSample]:
        return set(YardOnPage(reader, cast.alice_yard).once(last_for))

    assert shown(cast.alice) == {there, *here}
    assert shown(cast.bob) == shown(cast.ines) == set(here)


def test_last_count_is_the_newest_that_stands(cast: Cast, heath: Yard) -> None:
    count(cast.colony, ON, 3)
    last, wrong = count(cast.colony, days(9), 4, Method.BOARD), count(cast.colony, days(10), 5)
    void_sample(sample=wrong, why="Jar fell", at=AT, by=cast.alice)
    gone = count(cast.colonies[1], days(11), 6)
    move_colony(colony=cast.colonies[1], to_yard=heath, moved_on=days(12), by=cast.alice)

    page = YardOnPage(cast.alice, cast.alice_yard)

    assert page.once(last_for) == [last]
    assert [one.pk for one in page.once(counts_for)] == [
        MiteSample.objects.earliest("pk").pk,
        last.pk,
        gone.pk,
    ]


def test_newest_jars_are_the_same_as_asked_for_by_themselves(cast: Cast) -> None:
    for colony, day, mites in zip(cast.colonies, (-30, 0, 1, 2, 3, 3), (1, 2, 3, 4, 5, 6), strict=True):
        count(colony, days(day), mites)
    count(cast.colony, days(9), 6, Method.BOARD)
    count(cast.charlie_yard.colonies.first(), days(9), 6)

    found = YardOnPage(cast.alice, cast.alice_yard).once(newest_jars_for)

    assert found == newest_jars(cast.alice_yard, MiteSample.objects.standing())
    assert len(found) == 4


def test_jar_with_too_few_bees_is_no_newest_jar(cast: Cast) -> None:
    enough = count(cast.colony, ON, 6)
    MiteSample.objects.filter(pk=count(cast.colonies[1], days(9), 6).pk).update(bees=12, mites=1)

    found = YardOnPage(cast.alice, cast.alice_yard).once(newest_jars_for)

    assert found == newest_jars(cast.alice_yard, MiteSample.objects.standing()) == [enough]
