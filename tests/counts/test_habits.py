"""Hints about a member's washes reach a coordinator who may see them, and nobody else."""

import datetime as dt
from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from apiaries.actions import set_sharing
from apiaries.models import Person
from counts.habits import members_panel
from counts.models import MiteSample
from tests.cast import Cast
from tests.counts.counting import DAY, kept

ROUND = "Many of these counts end in 0 or 5."
EMPTY = "None of these washes found a mite."


def _count(cast: Cast, found: list[int]) -> None:
    colony = cast.charlie_yard.colonies.order_by("pk").first()
    for n, mites in enumerate(found):
        kept(colony, cast.charlie, mites, sampled_on=DAY - dt.timedelta(days=n))


def _page(client: Client) -> str:
    return client.get(reverse("apiaries:member-list")).content.decode()


@pytest.mark.parametrize(
    ("found", "words"),
    [([10, 15, 20, 25, 30] * 3, ROUND), ([0] * 10, EMPTY)],
)
def test_coordinator_gets_the_hint_once_the_member_shares(
    cast: Cast, reference: None, client_for: Callable[[Person], Client], found: list[int], words: str
) -> None:
    _count(cast, found)
    dana = client_for(cast.dana)
    assert words not in _page(dana)

    set_sharing(membership=cast.charlie.membership, shares_counts=True, by=cast.charlie)

    page = _page(dana)
    assert words in page
    assert f"Charlie</strong>, {len(found)} washes" in page
    assert words not in _page(client_for(cast.adam))
    assert MiteSample.objects.standing().count() == len(found)  # a hint changes nothing


@pytest.mark.parametrize("found", [[11, 12, 13, 14, 17] * 3, [10, 15, 20], [0] * 9, [0] * 9 + [1]])
def test_ordinary_washes_give_no_hint(cast: Cast, reference: None, found: list[int]) -> None:
    set_sharing(membership=cast.charlie.membership, shares_counts=True, by=cast.charlie)
    _count(cast, found)

    assert members_panel(cast.dana, cast.club) is None


def test_nobody_is_told_about_their_own_washes(cast: Cast, reference: None) -> None:
    _count(cast, [0] * 10)

    assert members_panel(cast.charlie, cast.club) is None
