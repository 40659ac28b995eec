"""Counts that do not fit those around them: asked once, told on the page, kept all the same."""

import datetime as dt
from collections.abc import Callable, Iterator
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from apiaries.models import Person
from counts.actions import void_sample
from counts.beside import odd_about, odd_beside
from counts.models import MiteSample
from counts.samples import Method
from tests.cast import Cast
from tests.counts.counting import AT, DAY, kept, typed, wash
from tests.treatments.making import treat

HOT = "This is far above the other colonies here. A hot colony or a typing error?"
ROSE = "This rose faster than mites can breed in a colony."
FELL = "This fell a great deal without a treatment on record. Is a treatment missing?"
BEFORE = DAY - dt.timedelta(days=14)


@pytest.fixture(autouse=True)
def _on_that_day() -> Iterator[None]:
    with time_machine.travel(AT, tick=False):
        yield


@pytest.fixture
def alice(cast: Cast, reference: None, client_for: Callable[[Person], Client]) -> Client:
    return client_for(cast.alice)


def _rows(cast: Cast, *found: int) -> dict[str, Any]:
    return {f"c{colony.pk}-mites": mites for colony, mites in zip(cast.colonies, found, strict=False)}


def _send(client: Client, cast: Cast, sent: dict[str, str]) -> Any:
    return client.post(reverse("counts:yard-count", args=[cast.alice_yard.pk]), sent)


def test_hot_colony_of_a_yard_is_asked_about_at_its_row_and_kept_when_ticked(
    alice: Client, cast: Cast
) -> None:
    sent = typed(**_rows(cast, 2, 3, 1, 45))

    response = _send(alice, cast, sent)
    (asked,) = [row for row in response.context["formset"] if row.questions]

    assert (asked.colony, asked.questions) == (cast.colonies[3], [HOT])
    assert not MiteSample.objects.exists()
    assert _send(alice, cast, sent | {asked.sure_name: asked.sure_value}).status_code == 302
    assert MiteSample.objects.count() == 4


def test_one_count_is_held_against_those_of_its_yards_last_days(alice: Client, cast: Cast) -> None:
    for colony, mites in zip(cast.colonies[1:4], (2, 3, 1), strict=True):
        kept(colony, cast.alice, mites, sampled_on=DAY - dt.timedelta(days=2))
    url = reverse("counts:sample-add", args=[cast.colony.pk])

    assert HOT in alice.post(url, typed(mites=45)).content.decode()
    assert alice.post(url, typed(mites=3)).status_code == 302


def test_colonies_counted_long_before_do_not_make_it_odd(alice: Client, cast: Cast) -> None:
    for colony, mites in zip(cast.colonies[1:4], (2, 3, 1), strict=True):
        kept(colony, cast.alice, mites, sampled_on=DAY - dt.timedelta(days=3))

    url = reverse("counts:sample-add", args=[cast.colony.pk])
    assert alice.post(url, typed(mites=45)).status_code == 302


def test_rise_no_colony_breeds_is_asked_about_with_the_count_before(alice: Client, cast: Cast) -> None:
    kept(cast.colony, cast.alice, 1, sampled_on=BEFORE)

    page = alice.post(reverse("counts:sample-add", args=[cast.colony.pk]), typed(mites=45)).content.decode()

    assert ROSE in page
    assert "The count before: 1 in about 300 bees on 29 Jul 2026." in page


@pytest.mark.parametrize("treated", [False, True])
def test_fall_is_asked_about_unless_a_treatment_explains_it(alice: Client, cast: Cast, treated: bool) -> None:
    kept(cast.colony, cast.alice, 45, sampled_on=BEFORE)
    if treated:
        treat([cast.colony], BEFORE + dt.timedelta(days=3))

    page = alice.post(
        reverse("counts:sample-add", args=[cast.colony.pk]), typed(mites=1), follow=True
    ).content.decode()

    assert (FELL in page) is not treated
    assert MiteSample.objects.count() == (2 if treated else 1)


@pytest.mark.parametrize(
    ("day", "explained"),
    [
        (BEFORE - dt.timedelta(days=1), False),
        (BEFORE, True),
        (DAY, True),
        (DAY + dt.timedelta(days=1), False),
    ],
)
def test_treatment_must_lie_between_the_counts(
    cast: Cast, reference: None, day: dt.date, explained: bool
) -> None:
    kept(cast.colony, cast.alice, 45, sampled_on=BEFORE)
    treat([cast.colony], day)

    found = odd_beside([wash(cast.colony, 1)], method=Method.ALCOHOL_WASH, on=DAY, yard_id=cast.alice_yard.pk)

    assert bool(found) is not explained


def test_another_colonys_treatment_explains_nothing(cast: Cast, reference: None) -> None:
    kept(cast.colony, cast.alice, 45, sampled_on=BEFORE)
    treat([cast.colonies[1]], BEFORE + dt.timedelta(days=3))

    assert odd_beside([wash(cast.colony, 1)], method=Method.ALCOHOL_WASH, on=DAY, yard_id=cast.alice_yard.pk)


def test_page_of_a_kept_count_says_it_and_the_count_still_counts(alice: Client, cast: Cast) -> None:
    kept(cast.colony, cast.alice, 45, sampled_on=BEFORE)
    sample = kept(cast.colony, cast.alice, 1)

    page = alice.get(reverse("counts:sample-detail", args=[sample.pk])).content.decode()

    assert "Worth a second look" in page and FELL in page
    assert sample in MiteSample.objects.standing()


def test_voided_counts_neither_ask_nor_are_asked_about(cast: Cast) -> None:
    before = kept(cast.colony, cast.alice, 45, sampled_on=BEFORE)
    sample = kept(cast.colony, cast.alice, 1)
    assert odd_about(sample)

    void_sample(sample=before, why="another colony's jar", at=AT, by=cast.alice)
    assert odd_about(sample) == []
    void_sample(sample=sample, why="spilt", at=AT, by=cast.alice)
    sample.refresh_from_db()
    assert odd_about(sample) == []


def test_count_being_corrected_is_not_held_against_itself(alice: Client, cast: Cast) -> None:
    for colony, mites in zip(cast.colonies[1:4], (2, 3, 1), strict=True):
        kept(colony, cast.alice, mites)
    wrong = kept(cast.colony, cast.alice, 45)

    sent = typed(mites=4, why="read the slip wrongly")
    assert alice.post(reverse("counts:sample-correct", args=[wrong.pk]), sent).status_code == 302


def test_queries_do_not_grow_with_colonies(cast: Cast, reference: None) -> None:
    for colony in cast.colonies:
        kept(colony, cast.alice, 45, sampled_on=BEFORE)
    asked = []
    for number in (1, 6):
        counts = [wash(colony, 1) for colony in cast.colonies[:number]]
        with CaptureQueriesContext(connection) as queries:
            found = odd_beside(counts, method=Method.ALCOHOL_WASH, on=DAY, yard_id=cast.alice_yard.pk)
        assert len(found) == number
        asked.append(len(queries))
    assert asked == [2, 2]
