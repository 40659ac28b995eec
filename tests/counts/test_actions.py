"""The writers of counts."""

import datetime as dt
import uuid
from collections.abc import Iterator
from typing import Any

import pytest

from apiaries.actions import add_yard, move_colony
from apiaries.standing import yards_on
from counts.actions import (
    AlreadyVoided,
    EntryKeyReused,
    NotPossible,
    correct_sample,
    record_sample,
    record_samples,
    void_sample,
)
from counts.models import MiteSample
from counts.samples import Method, Problem
from counts.signals import samples_changed
from tests.cast import Cast
from tests.counts.counting import AT, DAY, kept, wash


@pytest.fixture
def told() -> Iterator[list[frozenset[Any]]]:
    """What samples_changed was sent, in order."""
    heard: list[frozenset[Any]] = []

    def hear(touched: frozenset[Any], **_: Any) -> None:
        heard.append(touched)

    samples_changed.connect(hear)
    yield heard
    samples_changed.disconnect(hear)


def test_record_sample_keeps_the_estimate_beside_the_fact(cast: Cast) -> None:
    sample = kept(cast.colony, cast.alice, mites=9)

    # 9 of 300 at recovery 0.95: 9 / 285 (method: mites / (bees x recovery)).
    assert sample.rate == pytest.approx(9 / 285)
    assert 0 < sample.low < sample.rate < sample.high
    assert sample.basis.constants["recovery_wash"] == [0.95, 0.03]


def test_record_samples_keeps_all_or_none(cast: Cast) -> None:
    counts = [wash(cast.colonies[0]), wash(cast.colonies[1], mites=901), wash(cast.colonies[2])]

    with pytest.raises(NotPossible) as refused:
        record_samples(counts=counts, at=AT, by=cast.alice)

    assert (refused.value.row, refused.value.problems) == (1, (Problem.MITES_IMPOSSIBLE,))
    assert not MiteSample.objects.exists()


def test_same_key_twice_makes_one_count(cast: Cast) -> None:
    count = wash(cast.colony)

    first = record_sample(count=count, at=AT, by=cast.alice)
    second = record_sample(count=count, at=AT, by=cast.alice)

    assert first == second
    assert MiteSample.objects.count() == 1


def test_same_key_with_other_numbers_is_refused(cast: Cast) -> None:
    key = uuid.uuid4()
    record_sample(count=wash(cast.colony, mites=9, entry_key=key), at=AT, by=cast.alice)

    with pytest.raises(EntryKeyReused):
        record_sample(count=wash(cast.colony, mites=8, entry_key=key), at=AT, by=cast.alice)


def test_key_of_another_person_is_refused(cast: Cast) -> None:
    count = wash(cast.colony)
    record_sample(count=count, at=AT, by=cast.alice)

    with pytest.raises(EntryKeyReused):
        record_sample(count=count, at=AT, by=cast.bob)


def test_correct_sample_puts_another_in_its_place(cast: Cast) -> None:
    sample = kept(cast.colony, cast.alice, mites=73)

    corrected = correct_sample(sample=sample, count=wash(cast.colony, 7), why=" slip ", at=AT, by=cast.alice)

    sample.refresh_from_db()
    assert (sample.voided_by, sample.voided_why) == (cast.alice, "slip")
    assert (corrected.mites, corrected.corrects) == (7, sample)
    assert list(MiteSample.objects.standing()) == [corrected]


def test_correction_that_cannot_be_leaves_the_count_standing(cast: Cast) -> None:
    sample = kept(cast.colony, cast.alice)

    with pytest.raises(NotPossible):
        correct_sample(sample=sample, count=wash(cast.colony, 901), why="slip", at=AT, by=cast.alice)

    assert MiteSample.objects.standing().get() == sample


def test_void_sample_keeps_who_when_and_why(cast: Cast) -> None:
    voided = void_sample(sample=kept(cast.colony, cast.alice), why="typed twice", at=AT, by=cast.bob)

    assert (voided.voided_at, voided.voided_by, voided.voided_why) == (AT, cast.bob, "typed twice")
    assert not MiteSample.objects.standing().exists()


def test_voiding_twice_is_refused(cast: Cast) -> None:
    sample = kept(cast.colony, cast.alice)
    void_sample(sample=sample, why="typed twice", at=AT, by=cast.alice)

    with pytest.raises(AlreadyVoided):
        void_sample(sample=sample, why="again", at=AT, by=cast.alice)


def test_date_to_come_is_refused(cast: Cast) -> None:
    with pytest.raises(NotPossible) as refused:
        record_sample(count=wash(cast.colony, sampled_on=dt.date(2026, 8, 15)), at=AT, by=cast.alice)

    assert refused.value.problems == (Problem.IN_THE_FUTURE,)


def test_day_of_a_yard_east_of_greenwich_may_have_begun(cast: Cast) -> None:
    # 23:30 UTC is 1:30 of the next day in Berlin, where the yard is.
    late = dt.datetime(2026, 8, 14, 23, 30, tzinfo=dt.UTC)

    sample = record_sample(count=wash(cast.colony, sampled_on=dt.date(2026, 8, 15)), at=late, by=cast.alice)

    assert sample.sampled_on == dt.date(2026, 8, 15)


def test_yards_on_follows_the_moves(cast: Cast) -> None:
    meadow = add_yard(keeper=cast.alice, region=cast.north, name="Meadow", by=cast.alice)
    move_colony(colony=cast.colony, to_yard=meadow, moved_on=DAY, by=cast.alice)
    cast.colony.refresh_from_db()
    before = DAY - dt.timedelta(days=1)

    found = yards_on([(cast.colony, before), (cast.colony, DAY), (cast.colonies[1], DAY)])

    assert found == [cast.alice_yard, meadow, cast.alice_yard]


def test_count_before_a_move_belongs_to_the_old_yard(cast: Cast) -> None:
    meadow = add_yard(keeper=cast.alice, region=cast.north, name="Meadow", by=cast.alice)
    move_colony(colony=cast.colony, to_yard=meadow, moved_on=DAY, by=cast.alice)
    cast.colony.refresh_from_db()

    sample = kept(cast.colony, cast.alice, sampled_on=DAY - dt.timedelta(days=1))

    assert sample.yard == cast.alice_yard


def test_batch_tells_once_which_yards_and_months_it_touched(cast: Cast, told: list[frozenset[Any]]) -> None:
    counts = [wash(cast.colonies[0]), wash(cast.colonies[1], sampled_on=dt.date(2026, 7, 31))]

    record_samples(counts=counts, at=AT, by=cast.alice)

    yard = cast.alice_yard.pk
    assert told == [frozenset({(yard, dt.date(2026, 8, 1)), (yard, dt.date(2026, 7, 1))})]


def test_same_key_again_tells_nothing(cast: Cast, told: list[frozenset[Any]]) -> None:
    count = wash(cast.colony)
    record_sample(count=count, at=AT, by=cast.alice)
    record_sample(count=count, at=AT, by=cast.alice)

    assert len(told) == 1


def test_drone_brood_has_no_estimate(cast: Cast) -> None:
    facts = {"method": Method.DRONE_BROOD, "bees_by": None, "cells_counted": 60}

    sample = kept(cast.colony, cast.alice, mites=7, bees=None, **facts)

    assert (sample.rate, sample.basis) == (None, None)
