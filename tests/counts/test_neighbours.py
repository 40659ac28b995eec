"""The second answer: a count read together with the other counts of its region and month."""

import datetime as dt
from collections.abc import Callable

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from apiaries.actions import add_numbered_colonies, add_yard
from apiaries.models import Person
from counts.actions import void_sample
from counts.estimate import chance_above
from counts.models import MiteSample
from counts.neighbours import neighbours_of
from counts.priors import region_month_prior
from counts.samples import Method
from tests.cast import STARTED, Cast
from tests.counts.counting import AT, FOUND, fill_region, kept

RECOVERED, C2 = 300 * 0.95, 1.01 * 1.04 * (1 + (0.03 / 0.95) ** 2) - 1


def test_the_others_of_region_and_month_make_the_prior(cast: Cast) -> None:
    fill_region(cast, 3, cast.north)
    mine = kept(cast.colony, cast.alice, 9)

    others = neighbours_of(mine)

    assert others is not None
    assert others.counts == 36
    by_hand = region_month_prior(FOUND * 6, RECOVERED, C2)
    assert others.prior.mean == pytest.approx(by_hand.mean)
    assert others.prior.shape == pytest.approx(by_hand.shape)


def test_the_count_itself_is_not_among_them(cast: Cast) -> None:
    fill_region(cast, 3, cast.north)
    before = neighbours_of(kept(cast.colony, cast.alice, 9))
    after = neighbours_of(kept(cast.colonies[1], cast.alice, 9))

    assert before is not None and after is not None
    assert (before.counts, after.counts) == (36, 37)


@pytest.mark.parametrize("keepers", [1, 2])
def test_few_keepers_counts_stay_their_own(cast: Cast, keepers: int) -> None:
    fill_region(cast, keepers, cast.north)

    assert neighbours_of(kept(cast.colony, cast.alice, 9)) is None


def test_one_keepers_counts_never_speak_for_a_region(cast: Cast) -> None:
    fill_region(cast, 3, cast.north)
    owner = MiteSample.objects.order_by("pk").first().yard.keeper
    yard = add_yard(keeper=owner, region=cast.north, name="Great yard", by=owner)
    for colony in add_numbered_colonies(yard=yard, first=1, last=30, started_on=STARTED, by=owner):
        kept(colony, owner, 1)

    assert neighbours_of(kept(cast.colony, cast.alice, 9)) is None


def test_twenty_nine_are_too_few(cast: Cast) -> None:
    fill_region(cast, 3, cast.north)
    for sample in MiteSample.objects.order_by("pk")[:7]:
        void_sample(sample=sample, why="spilt", at=AT, by=cast.alice)

    assert neighbours_of(kept(cast.colony, cast.alice, 9)) is None


@pytest.mark.parametrize(
    "odd",
    [
        {"sampled_on": dt.date(2026, 7, 31)},
        {"method": Method.SUGAR_ROLL},
        {"method": Method.BOARD, "bees": None, "bees_by": None, "board_days": 3},
    ],
)
def test_another_month_or_kind_has_no_neighbours_here(cast: Cast, odd: dict) -> None:
    fill_region(cast, 3, cast.north)

    assert neighbours_of(kept(cast.colony, cast.alice, **odd)) is None


def test_another_region_neither(cast: Cast) -> None:
    fill_region(cast, 3, cast.south)

    assert neighbours_of(kept(cast.colony, cast.alice, 9)) is None


def test_page_gives_both_answers(cast: Cast, reference: None, client_for: Callable[[Person], Client]) -> None:
    fill_region(cast, 3, cast.north)
    mine = kept(cast.colony, cast.alice, 9)

    page = client_for(cast.alice).get(reverse("counts:sample-detail", args=[mine.pk])).content.decode()

    assert "so this count can&#x27;t settle it" in page  # from this sample alone
    assert "Read together with 36 other washes in North in Aug 2026: " in page
    assert "of 3 (USDA-ARS Tucson)" in page
    alone = float(chance_above(9, RECOVERED, C2, 0.03))
    leaning = float(chance_above(9, RECOVERED, C2, 0.03, region_month_prior(FOUND * 6, RECOVERED, C2)))
    assert leaning < alone
    assert f"{round(100 * alone)} %" in page
    assert f"{round(100 * leaning)} %" in page


def test_page_without_neighbours_says_nothing_of_them(
    cast: Cast, reference: None, client_for: Callable[[Person], Client]
) -> None:
    mine = kept(cast.colony, cast.alice, 9)

    page = client_for(cast.alice).get(reverse("counts:sample-detail", args=[mine.pk])).content.decode()

    assert "Read together" not in page


def test_queries_do_not_grow_with_neighbours(cast: Cast, reference: None) -> None:
    mine = kept(cast.colony, cast.alice, 9)
    counts = []
    for extra in (False, True):
        if extra:
            fill_region(cast, 3, cast.north)
        mine = MiteSample.objects.select_related("yard__region").get(pk=mine.pk)
        with CaptureQueriesContext(
            connection,
        ) as asked:
            neighbours_of(mine)
        counts.append(len(asked))
    assert counts == [1, 1]
