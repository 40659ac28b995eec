"""Counts made at a visit are ordinary counts, kept with it or not at all, and changed only by who recorded it."""

import datetime as dt
from dataclasses import replace

import pytest

from apiaries.models import Visit, VisitState
from counts.actions import NotPossible, correct_sample
from counts.change_actions import restore_sample
from counts.models import MiteSample
from counts.visit_actions import NotOfThisVisit, correct_visit_and_counts, keep_visit, void_visit_and_counts
from tests.visiting import AT, ON, a_count, a_visit


def kept(cast, new=None, counts=None):
    counts = [a_count(one) for one in cast.colonies[:3]] if counts is None else counts
    return keep_visit(new=new or a_visit(cast), counts=counts, planned=None, at=AT, by=cast.ines)


def test_counts_are_the_yards_and_name_the_visit(cast):
    visit = kept(cast)

    samples = MiteSample.objects.filter(visit=visit)
    assert samples.count() == 3
    assert {one.recorded_by for one in samples} == {cast.ines}
    assert {one.yard for one in samples} == {cast.alice_yard}
    assert MiteSample.objects.visible_to(cast.alice).count() == 3


def test_both_or_neither(cast):
    impossible = replace(a_count(cast.colony), mites=1000)

    with pytest.raises(NotPossible):
        kept(cast, counts=[impossible])

    assert not Visit.objects.exists() and not MiteSample.objects.exists()


def test_sent_twice_is_kept_once(cast):
    new, counts = a_visit(cast), [a_count(cast.colony)]

    assert kept(cast, new, counts).pk == kept(cast, new, counts).pk
    assert MiteSample.objects.count() == 1


def test_counts_of_another_day_or_yard_are_no_part(cast):
    for count in (
        a_count(cast.colony, ON - dt.timedelta(days=1)),
        a_count(cast.charlie_yard.colonies.first()),
    ):
        with pytest.raises(NotOfThisVisit):
            kept(cast, counts=[count])


def test_only_who_recorded_the_visit_changes_its_counts(cast):
    kept(cast)
    (sample,) = MiteSample.objects.filter(colony=cast.colony)

    can = {
        name
        for name in ("alice", "bob", "charlie", "dana", "ines", "ivan", "adam", "zoe")
        if sample in MiteSample.objects.editable_by(getattr(cast, name))
    }

    assert can == {"ines"}, "not even the keeper"


def test_inspector_changes_no_count_of_the_keeper(cast):
    from counts.actions import record_sample

    sample = record_sample(count=a_count(cast.colony), at=AT, by=cast.alice)

    assert sample not in MiteSample.objects.editable_by(cast.ines)
    assert sample in MiteSample.objects.editable_by(cast.alice)


def test_corrected_count_stays_a_count_of_the_visit(cast):
    visit = kept(cast, counts=[a_count(cast.colony)])
    (sample,) = visit.samples.all()

    corrected = correct_sample(
        sample=sample, count=a_count(cast.colony, mites=4), why="misread", at=AT, by=cast.ines
    )

    assert corrected.visit == visit and visit.samples.standing().get() == corrected


def test_corrected_report_has_the_counts_of_the_one_before(cast):
    old = kept(cast)

    new = correct_visit_and_counts(
        visit=old, new=a_visit(cast, remarks="more"), why="left out", at=AT, by=cast.ines
    )

    assert new.samples.count() == 3 and not old.samples.exists()


def test_day_of_a_visit_with_counts_stays(cast):
    old = kept(cast)
    other_day = a_visit(cast, visited_on=ON - dt.timedelta(days=1))

    with pytest.raises(NotOfThisVisit):
        correct_visit_and_counts(visit=old, new=other_day, why="day", at=AT, by=cast.ines)

    old.refresh_from_db()
    assert old.state is VisitState.MADE


def test_voided_visit_takes_its_counts_along_and_one_may_be_restored(cast):
    visit = kept(cast)

    void_visit_and_counts(visit=visit, why="wrong yard", at=AT, by=cast.ines)

    assert not MiteSample.objects.standing().exists()
    restored = restore_sample(sample=visit.samples.first(), why="was right", at=AT, by=cast.ines)
    assert restored.voided_at is None
