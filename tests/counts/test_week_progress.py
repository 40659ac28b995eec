"""How a count week goes: who is asked, what counts, and that small groups see no numbers."""

import datetime as dt
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from apiaries.actions import add_numbered_colonies, add_yard, end_colony, move_colony
from apiaries.models import Membership, Person, Yard
from apiaries.permissions import Role
from counts.actions import record_sample, void_sample
from counts.models import CountWeek
from counts.samples import Method
from counts.week_actions import set_count_week
from counts.week_progress import Progress, progress_of
from tests.cast import STARTED, Cast, join, make_person
from tests.counts.counting import kept, wash

pytestmark = pytest.mark.django_db
D = dt.date
AT = dt.datetime(2026, 8, 1, 10, tzinfo=dt.UTC)
LATER = dt.datetime(2026, 12, 1, tzinfo=dt.UTC)
IN = D(2026, 8, 12)
NOTHING = {"keepers_counted": 0, "yards_counted": 0, "counts": 0, "none_found": 0, "largest": 0}


@pytest.fixture
def week(cast: Cast) -> CountWeek:
    Yard.objects.update(made_at=AT)
    Membership.objects.update(started_at=AT)
    return set_count_week(club=cast.club, first_on=D(2026, 8, 8), last_on=D(2026, 8, 14), at=AT, by=cast.dana)


def progress(week: CountWeek) -> Progress:
    return progress_of(week.club, [week])[week.pk]


def keepers(cast: Cast, number: int) -> list[Person]:
    """So many more keepers with a yard of two colonies each."""
    people = [join(cast.club, make_person(f"Keeper{n}"), Role.MEMBER) for n in range(number)]
    Membership.objects.update(started_at=AT)
    for person in people:
        yard = add_yard(keeper=person, region=cast.north, name=f"Of {person.name}", by=person)
        add_numbered_colonies(yard=yard, first=1, last=2, started_on=STARTED, by=person)
    Yard.objects.update(made_at=AT)
    return people


def count(person: Person, mites: int = 0, times: int = 1, on: D = IN) -> None:
    for colony in list(person.yards.get().colonies.all())[:times]:
        kept(colony, person, mites, sampled_on=on)


def test_who_keeps_a_yard_with_colonies_is_asked(cast: Cast, week: CountWeek) -> None:
    add_yard(keeper=cast.dana, region=cast.north, name="Empty", by=cast.dana)
    assert progress(week) == Progress(keepers=2, yards=2, **NOTHING)


def test_counts_in_the_window_count_and_none_found_among_them(cast: Cast, week: CountWeek) -> None:
    kept(cast.colonies[0], cast.alice, 0, sampled_on=D(2026, 8, 8))
    kept(cast.colonies[1], cast.bob, 3, sampled_on=IN)
    for on in (D(2026, 8, 7), D(2026, 8, 3)):
        kept(cast.colonies[2], cast.alice, 0, sampled_on=on)
    assert progress(week) == Progress(2, 1, 2, 1, counts=2, none_found=1, largest=2)


def test_voided_counts_and_those_under_a_treatment_do_not(cast: Cast, week: CountWeek) -> None:
    void_sample(sample=kept(cast.colony, cast.alice), why="spilt", at=LATER, by=cast.alice)
    board = wash(
        cast.colony,
        method=Method.BOARD,
        bees=None,
        bees_by=None,
        board_days=Decimal(3),
        treatment_in_hive=True,
        sampled_on=IN,
    )
    record_sample(count=board, at=LATER, by=cast.alice)
    drone = wash(
        cast.colony, 3, bees=None, bees_by=None, method=Method.DRONE_BROOD, cells_counted=100, sampled_on=IN
    )
    record_sample(count=drone, at=LATER, by=cast.alice)
    assert progress(week) == Progress(keepers=2, yards=2, **NOTHING)


def test_yard_counts_although_its_colonies_have_moved_or_ended_since(cast: Cast, week: CountWeek) -> None:
    other = add_yard(keeper=cast.alice, region=cast.north, name="Heather", by=cast.alice)
    Yard.objects.filter(pk=other.pk).update(made_at=LATER)
    kept(cast.colony, cast.alice, sampled_on=IN)
    for colony in cast.colonies[:2]:
        move_colony(colony=colony, to_yard=other, moved_on=D(2026, 8, 20), by=cast.alice)
    for colony in cast.colonies[2:]:
        end_colony(colony=colony, ended_on=D(2026, 8, 5), why="sold", by=cast.alice)
    assert progress(week) == Progress(2, 1, 2, 1, counts=1, none_found=0, largest=1)


def test_closed_and_later_yards_and_those_who_left_before_are_not_asked(cast: Cast, week: CountWeek) -> None:
    Yard.objects.filter(pk=cast.charlie_yard.pk).update(closed_on=D(2026, 8, 7))
    Yard.objects.filter(pk=cast.alice_yard.pk).update(made_at=dt.datetime(2026, 8, 14, 22, tzinfo=dt.UTC))
    assert progress(week) == Progress(keepers=0, yards=0, **NOTHING)
    Yard.objects.update(made_at=AT, closed_on=None)
    cast.charlie.memberships.update(ended_at=dt.datetime(2026, 8, 7, 10, tzinfo=dt.UTC), ended_by=cast.adam)
    assert progress(week).keepers == 1
    cast.charlie.memberships.update(ended_at=dt.datetime(2026, 8, 8, 10, tzinfo=dt.UTC))
    assert progress(week).keepers == 2


def test_numbers_are_shown_from_three_keepers_on(cast: Cast, week: CountWeek) -> None:
    assert not progress(week).is_shown
    keepers(cast, 1)
    assert progress(week).is_shown and progress(week).keepers == 3


def test_none_found_waits_for_enough_keepers_and_yards_and_no_one_with_most(
    cast: Cast, week: CountWeek
) -> None:
    people = keepers(cast, 5)
    for person in people[:4]:
        count(person)
    assert progress(week).is_shown and not progress(week).none_is_shown  # four yards
    count(people[4])
    assert progress(week).none_is_shown and progress(week).none_found == 5
    for colony in cast.colonies:
        kept(colony, cast.alice, sampled_on=IN)
    assert progress(week).largest == 6 and progress(week).none_is_shown  # 6 of 11
    kept(cast.colony, cast.alice, sampled_on=D(2026, 8, 9))
    kept(cast.colony, cast.alice, sampled_on=D(2026, 8, 10))
    assert not progress(week).none_is_shown  # 8 of 13


def test_two_keepers_with_many_yards_do_not_show_it(cast: Cast, week: CountWeek) -> None:
    keepers(cast, 1)
    for person in (cast.alice, cast.charlie):
        for number in range(3):
            yard = add_yard(keeper=person, region=cast.north, name=f"Yard {number}", by=person)
            (colony,) = add_numbered_colonies(yard=yard, first=1, last=1, started_on=STARTED, by=person)
            Yard.objects.update(made_at=AT)
            kept(colony, person, 0, sampled_on=IN)
    assert progress(week).yards_counted == 6 and not progress(week).none_is_shown


def test_queries_do_not_grow(cast: Cast, week: CountWeek) -> None:
    with CaptureQueriesContext(connection) as few:
        progress_of(cast.club, [week])
    for person in keepers(cast, 4):
        count(person, times=2)
    weeks = [
        week,
        *(
            set_count_week(
                club=cast.club, first_on=D(2026, month, 1), last_on=D(2026, month, 5), at=AT, by=cast.dana
            )
            for month in (9, 10, 11)
        ),
    ]
    with CaptureQueriesContext(connection) as many:
        found = progress_of(cast.club, weeks)
    assert len(few) == len(many) == 4 and len(found) == 4
    assert progress_of(cast.club, []) == {}
