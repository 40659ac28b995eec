"""What happens beside a sheet while it is read, looked at and brought in: other attempts, other counts, errors."""

import datetime as dt
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from counts.actions import void_sample
from counts.imports import doing
from counts.imports.actions import (
    ChangedMeanwhile,
    agree_to_rows,
    answer_about_sheet,
    begin_bringing_in,
    bring_in_sheet,
    look_again,
    put_sheet_aside,
)
from counts.imports.doing import MOST_TRIES, work_on_all
from counts.imports.missing import missing_of
from counts.imports.presenting import progress_of
from counts.imports.said import Said
from counts.imports.working import read_batch, to_read
from counts.models import ImportBatch, ImportState, MiteSample
from tests.cast import Cast
from tests.counts.counting import AT, kept
from tests.counts.importing import GOOD, HEAD, MIXED, Lines, sheet_of, statuses


def test_late_attempt_leaves_the_rows_of_its_successor(cast: Cast, monkeypatch: Any) -> None:
    batch = sheet_of(cast.alice, GOOD)
    look_again(batch=batch, by=cast.alice)

    def overtaken(*_: Any) -> tuple[None, bool]:
        """Somebody says something about the sheet, and another attempt reads it to its end."""
        monkeypatch.undo()
        answer_about_sheet(batch=batch, said=Said(measure="half_cup"), by=cast.alice)
        assert read_batch(ImportBatch.objects.get(), table=Lines(GOOD))
        return None, False

    monkeypatch.setattr("counts.imports.working._order", overtaken)

    assert not read_batch(batch, table=Lines(GOOD))
    assert statuses(batch) == ["ready", "ready"]


def test_sheet_put_aside_while_it_is_read_ends_the_attempt_before_its_rows_go(cast: Cast) -> None:
    batch = sheet_of(cast.alice, GOOD)
    look_again(batch=batch, by=cast.alice)

    with CaptureQueriesContext(connection) as asked:
        put_sheet_aside(batch=batch, by=cast.alice)

    # The words of the history stand before each statement that writes.
    gone = [one["sql"].split("DELETE FROM ")[1].split()[0] for one in asked if "DELETE FROM " in one["sql"]]
    assert gone == ['"counts_importwork"', '"counts_importrow"']


def test_how_far_a_sheet_is_is_known_without_its_file(cast: Cast) -> None:
    batch = sheet_of(cast.alice, GOOD)
    look_again(batch=batch, by=cast.alice)
    batch.refresh_from_db()

    with CaptureQueriesContext(connection) as asked:
        assert progress_of(batch) == {"done": 0, "total": 2}
        assert list(to_read(AT)) == [batch]

    assert not [one["sql"] for one in asked if '"data"' in one["sql"]]


def test_sheet_that_breaks_stops_no_other_and_is_given_up_after_some_tries(
    cast: Cast, monkeypatch: Any
) -> None:
    broken, good = sheet_of(cast.alice, GOOD, name="broken.csv"), sheet_of(cast.bob, GOOD)
    for batch in (broken, good):
        begin_bringing_in(batch=batch, by=batch.by)

    def brought(*, batch: ImportBatch, **rest: Any) -> ImportBatch:
        if batch == broken:
            raise RuntimeError("no such thing")
        return bring_in_sheet(batch=batch, **rest)

    monkeypatch.setattr(doing, "bring_in_sheet", brought)
    for _ in range(MOST_TRIES - 1):
        work_on_all(at=AT)
    broken.refresh_from_db()
    good.refresh_from_db()
    assert (broken.state, good.state) == (ImportState.BRINGING, ImportState.IN)

    work_on_all(at=AT)
    broken.refresh_from_db()
    assert (broken.state, broken.refusal) == (ImportState.FAILED, {"code": "not-brought", "values": {}})


def test_sheet_that_breaks_while_it_is_read_stops_no_other(cast: Cast, monkeypatch: Any) -> None:
    broken, good = sheet_of(cast.alice, GOOD, name="broken.csv"), sheet_of(cast.bob, GOOD)
    for batch in (broken, good):
        look_again(batch=batch, by=batch.by)

    def read(batch: ImportBatch) -> bool:
        if batch == broken:
            raise RuntimeError("no such thing")
        return read_batch(batch, table=Lines(GOOD))

    monkeypatch.setattr(doing, "read_batch", read)

    assert work_on_all(at=AT) == 1
    good.refresh_from_db()
    assert good.state == ImportState.LOOK


def test_count_of_the_same_day_that_came_in_meanwhile_is_asked_about(cast: Cast) -> None:
    batch = sheet_of(cast.alice, GOOD)
    kept(cast.colony, cast.bob, 4, 300)

    with pytest.raises(ChangedMeanwhile):
        doing.bring_in(batch, at=AT)

    assert MiteSample.objects.count() == 1
    batch.refresh_from_db()
    assert (statuses(batch), batch.staged.first().kinds) == (["look", "ready"], ["same_day"])
    assert batch.refusal == {"code": "changed", "values": {}}
    agree_to_rows(batch=batch, kinds=["same_day"], by=cast.alice)
    done = bring_in_sheet(batch=batch, at=AT, by=cast.alice)
    assert (done.brought, done.refusal) == (2, None)


def test_voided_count_of_the_same_day_is_in_nobodys_way(cast: Cast) -> None:
    batch = sheet_of(cast.alice, GOOD)
    void_sample(sample=kept(cast.colony, cast.bob, 4, 300), why="spilt", at=AT, by=cast.bob)

    assert bring_in_sheet(batch=batch, at=AT, by=cast.alice).brought == 2


def test_worker_that_finds_another_count_leaves_the_reason(cast: Cast) -> None:
    batch = sheet_of(cast.alice, GOOD)
    begin_bringing_in(batch=batch, by=cast.alice)
    kept(cast.colony, cast.bob, 4, 300)

    work_on_all(at=AT)
    batch.refresh_from_db()
    assert (batch.state, batch.refusal["code"]) == (ImportState.READING, "changed")
    assert read_batch(batch, table=Lines(GOOD))
    batch.refresh_from_db()
    assert (batch.state, batch.refusal["code"]) == (ImportState.LOOK, "changed")
    answer_about_sheet(batch=batch, said=Said(measure="half_cup"), by=cast.alice)
    batch.refresh_from_db()
    assert batch.refusal is None


def test_numbers_of_the_sheet_are_those_of_its_rows_after_it_came_in(cast: Cast) -> None:
    batch = sheet_of(cast.alice, MIXED)
    kept(cast.colony, cast.bob, 9, 300)

    done = bring_in_sheet(batch=batch, at=AT, by=cast.alice)

    assert (done.ready, done.look, done.errors, done.here) == (1, 2, 2, 1)
    assert ImportBatch.objects.get().here == 1


def test_day_to_come_hides_no_missing_colony_and_is_not_when_it_was_there(
    cast: Cast, monkeypatch: Any
) -> None:
    days = ("2026-05-12", "2026-06-12", "2026-08-12")
    rows = "".join(f"Home yard,44,{day},co2,2,300\n" for day in days)
    batch = sheet_of(cast.alice, HEAD + rows)
    monkeypatch.setattr("counts.imports.missing.today_in", lambda _: dt.date(2026, 8, 11))

    ((one,), more) = missing_of(batch, cast.alice)

    assert (one.first, one.last, one.rows, more) == (dt.date(2026, 5, 12), dt.date(2026, 6, 12), 2, 0)
