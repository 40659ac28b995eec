"""The club's own spread between colonies takes the default's place once thirty yards allow it."""

import datetime as dt
from collections.abc import Iterator

import pytest
from django.core.cache import cache
from django.db import connection
from django.test.utils import CaptureQueriesContext

from apiaries.actions import add_numbered_colonies, add_yard
from apiaries.models import Colony
from counts.constants import DEFAULTS, Mark
from counts.dispersion import club_spread
from counts.estimate import jar_c2
from counts.models import MiteSample
from counts.samples import BeesBy, Method
from counts.spread import constants_of_club, spread_of_club
from counts.standing import Published
from counts.yards import yard_says
from tests.cast import STARTED, Cast
from tests.counts.counting import DAY, kept

WITHIN = jar_c2(Method.ALCOHOL_WASH, BeesBy.VOLUME)


@pytest.fixture(autouse=True)
def _nothing_kept(cast: Cast) -> Iterator[None]:
    cache.clear()
    yield
    cache.clear()


def _count_yards(cast: Cast, yards: int, found: tuple[int, int] = (4, 6)) -> list[list[Colony]]:
    """So many yards of two colonies, both counted."""
    made = []
    for n in range(yards):
        yard = add_yard(keeper=cast.charlie, region=cast.south, name=f"Y{n}", by=cast.charlie)
        colonies = add_numbered_colonies(yard=yard, first=1, last=2, started_on=STARTED, by=cast.charlie)
        for colony, mites in zip(colonies, found, strict=True):
            kept(colony, cast.charlie, mites)
        made.append(list(colonies))
    return made


def test_twenty_nine_yards_leave_the_default(cast: Cast) -> None:
    _count_yards(cast, 29)

    assert constants_of_club(cast.club.pk) is DEFAULTS


def test_thirty_yards_give_the_clubs_own(cast: Cast) -> None:
    _count_yards(cast, 30, (0, 30))
    by_hand = club_spread([[(0, 300), (30, 300)]] * 30, within_c2=WITHIN)

    own = constants_of_club(cast.club.pk).between_c2

    assert own.value == pytest.approx(by_hand.between_c2, abs=5e-4)
    assert own.value > DEFAULTS.between_c2.value
    assert own.mark is Mark.COMPUTED and "30 yards" in own.source


def test_only_the_newest_days_of_a_yard_speak(cast: Cast) -> None:
    for colonies in _count_yards(cast, 30, (4, 6)):
        kept(colonies[0], cast.charlie, 90, sampled_on=DAY - dt.timedelta(days=3))

    assert spread_of_club(cast.club.pk).total_c2 == pytest.approx(
        club_spread([[(4, 300), (6, 300)]] * 30, within_c2=WITHIN).total_c2
    )


def test_two_jars_of_a_colony_are_one_sample_of_it(cast: Cast) -> None:
    for colonies in _count_yards(cast, 30, (0, 30)):
        kept(colonies[0], cast.charlie, 15)

    expected = club_spread([[(15, 600), (30, 300)]] * 30, within_c2=WITHIN)
    assert spread_of_club(cast.club.pk).total_c2 == pytest.approx(expected.total_c2)


def test_another_clubs_counts_do_not_speak(cast: Cast) -> None:
    _count_yards(cast, 30)

    assert constants_of_club(cast.zoe.membership.club_id) is DEFAULTS


def test_yards_range_follows_it_and_says_so(cast: Cast, reference: None) -> None:
    for colony, mites in zip(cast.colonies[:3], (9, 9, 8), strict=True):
        kept(colony, cast.alice, mites)
    visible = MiteSample.objects.visible_to(cast.alice)
    alone = yard_says(cast.alice_yard, visible, Published(), living=6)
    cache.clear()
    _count_yards(cast, 30, (5, 5))  # as alike as chance allows

    said = yard_says(cast.alice_yard, visible, Published(), living=6)

    assert said.high - said.low < alone.high - alone.low
    assert (alone.spread, said.spread.value) == (DEFAULTS.between_c2, 0.0)
    assert "your club’s own" in said.spread.source


def test_it_is_kept_and_not_worked_out_at_every_look(cast: Cast) -> None:
    _count_yards(cast, 30)
    constants_of_club(cast.club.pk)

    with CaptureQueriesContext(connection) as asked:
        constants_of_club(cast.club.pk)

    assert not any("mitesample" in one["sql"] for one in asked)


@pytest.mark.parametrize(
    ("found", "words"),
    [((6, 8, 6), "more colonies,"), ((9, 9, 8), "not even all 6 colonies"), ((0, 0, 0), "")],
)
def test_yard_on_either_side_says_what_would_settle_it(
    cast: Cast, reference: None, found: tuple[int, ...], words: str
) -> None:
    for colony, mites in zip(cast.colonies[:3], found, strict=True):
        kept(colony, cast.alice, mites)

    said = yard_says(cast.alice_yard, MiteSample.objects.visible_to(cast.alice), Published(), living=6)

    assert words in said.settle
    assert bool(said.settle) is bool(words)
