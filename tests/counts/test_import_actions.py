"""Sheets: understood, brought in whole or not at all, undone; twice, at once, and killed in the middle."""

import datetime as dt
from typing import Any

import pytest
from django.db import DatabaseError, connection

from apiaries.actions import end_helper, move_colony
from apiaries.models import Colony, Yard
from counts.actions import correct_sample, void_sample
from counts.imports import actions, doing
from counts.imports.actions import (
    ChangedMeanwhile,
    NewColony,
    NothingReady,
    NotNow,
    agree_to_rows,
    answer_about_sheet,
    bring_in_sheet,
    look_again,
    put_sheet_aside,
    remember_headings,
    set_up_missing,
    take_agreement_back,
    take_in_sheet,
)
from counts.imports.columns import Column, Meaning
from counts.imports.days import DayOrder
from counts.imports.doing import work_on_all
from counts.imports.missing import missing_of
from counts.imports.said import LEAVE_OUT, Said
from counts.imports.undoing import NothingLeft, TooLate, undo_sheet
from counts.imports.working import PORTION, read_batch
from counts.models import ImportBatch, ImportedCount, ImportRow, ImportState, ImportWork, MiteSample
from counts.samples import Method
from counts.signals import samples_changed
from tests.cast import Cast
from tests.counts.counting import AT, DAY, kept, wash
from tests.counts.importing import GOOD, HEAD, MIXED, Lines, sheet_of, statuses

LATER = AT + dt.timedelta(days=1)


def brought(cast: Cast, text: str = GOOD, **said: Any) -> ImportBatch:
    return bring_in_sheet(batch=sheet_of(cast.alice, text, **said), at=AT, by=cast.alice)


def test_rows_are_sorted_and_nothing_counts_yet(cast: Cast) -> None:
    batch = sheet_of(cast.alice, MIXED)

    assert statuses(batch) == ["ready", "ready", "look", "error", "look", "error"]
    assert (batch.ready, batch.look, batch.errors, batch.here, batch.rows) == (2, 2, 2, 0, 6)
    assert batch.state == ImportState.LOOK
    assert not MiteSample.objects.exists()


def test_counts_that_come_in_are_as_if_typed(cast: Cast) -> None:
    typed = kept(cast.colonies[3], cast.alice, 9, 300)
    batch = brought(cast)

    sample = MiteSample.objects.get(colony=cast.colony)
    assert (sample.rate, sample.exposure, sample.basis) == (typed.rate, typed.exposure, typed.basis)
    assert (sample.yard, sample.recorded_by, sample.recorded_at) == (cast.alice_yard, cast.alice, AT)
    assert (batch.state, batch.brought, batch.brought_at) == (ImportState.IN, 2, AT)
    assert sample.imported.batch == batch


def test_history_says_who_and_by_which_verb(cast: Cast) -> None:
    brought(cast)

    event = MiteSample.pgh_event_model.objects.select_related("pgh_context").first()
    told = event.pgh_context.metadata
    assert (told["by"], told["verb"]) == (cast.alice.pk, "bring_in_sheet")


def test_whoever_adds_up_hears_of_every_yard_and_month(cast: Cast) -> None:
    heard: list[Any] = []
    samples_changed.connect(listener := lambda touched, **_: heard.append(touched), weak=False)
    try:
        brought(cast, GOOD + "Home yard,3,2026-07-01,alcohol wash,1,300\n")
    finally:
        samples_changed.disconnect(listener)

    assert heard == [{(cast.alice_yard.pk, dt.date(2026, 8, 1)), (cast.alice_yard.pk, dt.date(2026, 7, 1))}]


def test_row_that_needs_a_look_comes_in_only_when_agreed_to(cast: Cast) -> None:
    batch = sheet_of(cast.alice, MIXED)

    assert agree_to_rows(batch=batch, kinds=["many_mites"], by=cast.alice) == 1
    bring_in_sheet(batch=batch, at=AT, by=cast.alice)

    assert sorted(MiteSample.objects.values_list("mites", flat=True)) == [0, 9, 73]


def test_row_with_two_questions_needs_both_answers(cast: Cast) -> None:
    batch = sheet_of(cast.alice, HEAD + "Home yard,1,2026-01-12,alcohol wash,73,300\n")

    agree_to_rows(batch=batch, kinds=["many_mites"], by=cast.alice)
    assert batch.staged.get().open == ["early"]
    agree_to_rows(batch=batch, numbers=[2], by=cast.alice)
    assert batch.staged.get().open == []
    take_agreement_back(batch=batch, by=cast.alice)
    assert set(batch.staged.get().open) == {"many_mites", "early"}


def test_row_that_makes_no_count_cannot_be_agreed_to(cast: Cast) -> None:
    batch = sheet_of(cast.alice, HEAD + "Home yard,1,2026-08-12,alcohol wash,,300\n")

    assert agree_to_rows(batch=batch, kinds=["not_counted"], numbers=[2], by=cast.alice) == 0
    with pytest.raises(NothingReady):
        bring_in_sheet(batch=batch, at=AT, by=cast.alice)


def test_early_row_that_was_agreed_to_moves_the_colonys_start(cast: Cast) -> None:
    batch = sheet_of(cast.alice, HEAD + "Home yard,1,2026-01-12,alcohol wash,1,300\n")
    agree_to_rows(batch=batch, kinds=["early"], by=cast.alice)

    bring_in_sheet(batch=batch, at=AT, by=cast.alice)

    assert Colony.objects.get(pk=cast.colony.pk).started_on == dt.date(2026, 1, 12)


def test_second_time_everything_is_already_here(cast: Cast) -> None:
    brought(cast)
    again = sheet_of(cast.alice, GOOD)

    assert statuses(again) == ["here", "here"]
    with pytest.raises(NothingReady):
        bring_in_sheet(batch=again, at=AT, by=cast.alice)
    assert MiteSample.objects.count() == 2


def test_two_sheets_looked_at_together_bring_each_count_in_once(cast: Cast) -> None:
    one, two = (
        sheet_of(cast.alice, GOOD),
        sheet_of(cast.bob, GOOD + "Home yard,3,2026-08-12,alcohol wash,1,300\n"),
    )

    bring_in_sheet(batch=one, at=AT, by=cast.alice)
    bring_in_sheet(batch=two, at=AT, by=cast.bob)

    assert MiteSample.objects.count() == 3
    assert ImportedCount.objects.filter(batch=two).count() == 1
    assert statuses(two) == ["here", "here", "ready"]


def test_count_typed_while_the_sheet_was_looked_at_is_not_doubled(cast: Cast) -> None:
    batch = sheet_of(cast.alice, GOOD)
    kept(cast.colony, cast.bob, 9, 300)

    bring_in_sheet(batch=batch, at=AT, by=cast.alice)

    assert MiteSample.objects.filter(colony=cast.colony).count() == 1


def test_brought_in_twice_it_comes_in_once(cast: Cast) -> None:
    batch = brought(cast)

    with pytest.raises(NotNow):
        bring_in_sheet(batch=batch, at=AT, by=cast.alice)


def test_what_changed_since_the_look_is_looked_at_again(cast: Cast) -> None:
    batch = sheet_of(cast.bob, GOOD)
    end_helper(helper=cast.alice_yard.helpers.get(), at=AT, by=cast.alice)

    with pytest.raises(ChangedMeanwhile):
        bring_in_sheet(batch=batch, at=AT, by=cast.bob)

    assert not MiteSample.objects.exists()


def test_colony_that_moved_is_found_where_it_stood_on_the_day(cast: Cast) -> None:
    away = Yard.objects.get(pk=cast.alice_yard.pk)
    away.pk, away.name = None, "Heath"
    away.save()
    move_colony(colony=cast.colony, to_yard=away, moved_on=dt.date(2026, 8, 1), by=cast.alice)
    rows = "Home yard,1,2026-07-12,co2,9,300\nHeath,1,2026-08-12,co2,9,300\nHeath,1,2026-07-12,co2,8,300\n"

    batch = sheet_of(cast.alice, HEAD + rows)

    assert statuses(batch) == ["ready", "ready", "error"]
    assert [row.yard.name for row in batch.staged.exclude(yard=None)] == ["Home yard", "Heath"]


@pytest.mark.parametrize("name", ["Hive 3", "Volk 3", "03", "#3", "no. 3"])
def test_colony_is_found_by_its_bare_name(cast: Cast, name: str) -> None:
    batch = sheet_of(cast.alice, HEAD + f"home  YARD,{name},2026-08-12,alcohol wash,9,300\n")

    assert batch.staged.get().colony == cast.colonies[2]


def test_two_different_counts_of_a_day_in_one_sheet_are_asked_about(cast: Cast) -> None:
    twice = HEAD + "Home yard,1,2026-08-12,alcohol wash,9,300\nHome yard,1,2026-08-12,alcohol wash,4,300\n"
    batch = sheet_of(cast.alice, twice + "Home yard,1,2026-08-12,alcohol wash,9,300\n")

    assert statuses(batch) == ["ready", "look", "here"]
    assert batch.staged.get(number=3).kinds == ["same_day_in_sheet"]


def test_answers_for_the_whole_sheet(cast: Cast) -> None:
    text = "yard,hive,date,method,mites,bees\n,1,03/04/26,wash,9,\nMy garden,2,03/05/26,,4,\nElsewhere,3,03/04/26,,4,\n"
    said = {
        "order": DayOrder.MONTH_FIRST,
        "method": Method.CO2,
        "method_words": {"wash": Method.SOAP_WASH},
        "measure": "half_cup",
        "yard": cast.alice_yard.pk,
        "yards": {"my garden": cast.alice_yard.pk, "elsewhere": LEAVE_OUT},
    }

    batch = sheet_of(cast.alice, text, **said)

    told = list(batch.staged.values_list("sampled_on", "method", "bees", "status"))
    assert told == [
        (dt.date(2026, 3, 4), "soap_wash", 300, "look"),  # before the colonies were noted
        (dt.date(2026, 3, 5), "co2", 300, "look"),
    ]


def test_order_of_day_and_month_is_taken_from_other_days_or_asked_once(cast: Cast) -> None:
    shown = sheet_of(cast.alice, HEAD + "Home yard,1,06/07/26,co2,9,300\nHome yard,1,25/07/26,co2,9,300\n")
    asked = sheet_of(cast.alice, HEAD + "Home yard,1,06/07/26,co2,9,300\n")

    assert shown.staged.first().sampled_on == dt.date(2026, 7, 6)
    assert (asked.taken_for["order_open"], asked.staged.first().kinds) == (True, ["day_two_meanings"])
    answer_about_sheet(batch=asked, said=Said(order=DayOrder.DAY_FIRST), by=cast.alice)
    asked.refresh_from_db()
    read_batch(asked, table=Lines(HEAD + "Home yard,1,06/07/26,co2,9,300\n"))
    assert asked.staged.first().sampled_on == dt.date(2026, 7, 6)


def test_unclear_headings_are_asked_before_any_row_is_understood(cast: Cast) -> None:
    text = "hive,colony,date,method,mites,bees\n1,2,2026-08-12,co2,9,300\n"

    batch = sheet_of(cast.alice, text)
    assert (batch.taken_for["unclear"], batch.rows) == ([["colony", [0, 1]]], 0)

    remember_headings(club=cast.club, meanings={"hive": None}, at=AT, by=cast.alice)
    assert sheet_of(cast.alice, text).ready == 1
    remember_headings(club=cast.club, meanings={"hive": Meaning(Column.NOTE)}, at=AT, by=cast.alice)
    assert sheet_of(cast.alice, text).staged.get().note == "1"


def test_whole_sheet_is_undone_and_what_was_corrected_since_is_left(cast: Cast) -> None:
    batch = brought(cast, GOOD + "Home yard,3,2026-08-12,alcohol wash,1,300\n")
    nine, one = MiteSample.objects.get(mites=9), MiteSample.objects.get(mites=1)
    correct_sample(sample=nine, count=wash(cast.colony, 8), why="miscounted", at=AT, by=cast.alice)
    void_sample(sample=one, why="spilt", at=AT, by=cast.alice)

    undone = undo_sheet(batch=batch, why="wrong year", at=LATER, by=cast.alice)

    told = dict(MiteSample.objects.values_list("mites", "voided_why"))
    assert told == {9: "miscounted", 8: "", 0: "wrong year", 1: "spilt"}
    assert (undone.state, undone.undone_by, undone.undone_why) == (
        ImportState.UNDONE,
        cast.alice,
        "wrong year",
    )
    with pytest.raises(NotNow):
        undo_sheet(batch=batch, why="again", at=LATER, by=cast.alice)


def test_undone_rows_can_come_in_again_but_voided_ones_stay_out(cast: Cast) -> None:
    batch = brought(cast)
    void_sample(sample=MiteSample.objects.get(mites=9), why="spilt", at=AT, by=cast.alice)
    undo_sheet(batch=batch, why="too early", at=LATER, by=cast.alice)

    again = sheet_of(cast.alice, GOOD)
    assert statuses(again) == ["here", "ready"]
    bring_in_sheet(batch=again, at=LATER, by=cast.alice)
    assert list(MiteSample.objects.standing().values_list("mites", flat=True)) == [0]
    undo_sheet(batch=again, why="once more", at=LATER + dt.timedelta(hours=1), by=cast.alice)
    third = bring_in_sheet(batch=sheet_of(cast.alice, GOOD), at=LATER, by=cast.alice)
    assert (third.brought, MiteSample.objects.count()) == (1, 4)


def test_helper_who_no_longer_helps_undoes_nothing(cast: Cast) -> None:
    batch = bring_in_sheet(batch=sheet_of(cast.bob, GOOD), at=AT, by=cast.bob)
    end_helper(helper=cast.alice_yard.helpers.get(), at=AT, by=cast.alice)

    with pytest.raises(NothingLeft):
        undo_sheet(batch=batch, why="mine", at=LATER, by=cast.bob)

    assert MiteSample.objects.standing().count() == 2
    assert ImportBatch.objects.get().state == ImportState.IN


def test_after_thirty_days_a_sheet_stays(cast: Cast) -> None:
    batch = brought(cast)

    with pytest.raises(TooLate):
        undo_sheet(batch=batch, why="late", at=AT + dt.timedelta(days=31), by=cast.alice)


def test_missing_colonies_are_set_up_when_agreed_to(cast: Cast) -> None:
    days = (("44", "2026-08-12"), ("Hive 44", "2026-05-12"), ("45", "2021-05-12"))
    rows = "".join(f"Home yard,{name},{day},co2,2,300\n" for name, day in days)
    batch = sheet_of(cast.alice, HEAD + rows)
    missing, more = missing_of(batch, cast.alice)

    assert [(one.name, one.first, one.last, one.rows, one.likely) for one in missing] == [
        ("44", dt.date(2026, 5, 12), DAY, 2, "here"),
        ("45", dt.date(2021, 5, 12), dt.date(2021, 5, 12), 1, "gone"),
    ]
    assert more == 0
    chosen = [
        NewColony(missing[0].yard, "44", missing[0].first),
        NewColony(missing[1].yard, "45", *[missing[1].last] * 2),
    ]
    set_up_missing(colonies=chosen, why_gone="not noted", by=cast.alice)
    look_again(batch=batch, by=cast.alice)
    read_batch(batch, table=Lines(HEAD + rows))

    assert statuses(batch) == ["ready"] * 3
    gone = Colony.objects.get(name="45")
    assert (gone.ended_on, gone.ended_why, gone.started_known) == (dt.date(2021, 5, 12), "not noted", False)


def test_helper_is_offered_no_colonies_to_set_up(cast: Cast) -> None:
    batch = sheet_of(cast.bob, HEAD + "Home yard,44,2026-08-12,co2,2,300\n")

    assert missing_of(batch, cast.bob) == ([], 0)


def test_sheet_put_aside_leaves_neither_file_nor_rows(cast: Cast) -> None:
    batch = sheet_of(cast.alice, GOOD)

    put_sheet_aside(batch=batch, by=cast.alice)

    assert not ImportRow.objects.exists()
    assert not ImportWork.objects.exists()
    assert ImportBatch.objects.get().state == ImportState.REFUSED
    with pytest.raises(NotNow):
        bring_in_sheet(batch=batch, at=AT, by=cast.alice)


# What a worker does, and what a kill leaves


def test_worker_reads_and_brings_in_what_waits(cast: Cast, monkeypatch: Any) -> None:
    data = GOOD.encode()
    batch = take_in_sheet(club=cast.club, name="x.csv", data=data, said=Said(), at=AT, by=cast.alice)

    assert work_on_all(at=AT) == 1
    batch.refresh_from_db()
    assert (batch.state, batch.ready) == (ImportState.LOOK, 2)
    monkeypatch.setattr(doing, "ROWS_AT_ONCE", 1)
    assert doing.bring_in(batch, at=AT).state == ImportState.BRINGING
    work_on_all(at=AT)
    batch.refresh_from_db()
    assert (batch.state, batch.brought) == (ImportState.IN, 2)


def test_attempt_that_died_is_begun_anew_and_its_rows_are_not_doubled(cast: Cast, monkeypatch: Any) -> None:
    data = GOOD.encode()
    batch = take_in_sheet(club=cast.club, name="x.csv", data=data, said=Said(), at=AT, by=cast.alice)
    monkeypatch.setattr("counts.imports.working._end", _killed)
    with pytest.raises(Killed):
        read_batch(batch, table=Lines(GOOD))
    monkeypatch.undo()

    assert not read_batch(batch, table=Lines(GOOD))  # the dead one seems to be alive still
    ImportWork.objects.update(seen_at=AT)
    work_on_all(at=AT + dt.timedelta(minutes=5))

    batch.refresh_from_db()
    assert (batch.state, batch.staged.count(), batch.ready) == (ImportState.LOOK, 2, 2)


def test_attempt_that_was_overtaken_stops(cast: Cast, monkeypatch: Any) -> None:
    batch = sheet_of(cast.alice, GOOD)
    look_again(batch=batch, by=cast.alice)
    monkeypatch.setattr("counts.imports.working._order", lambda *_: answered(batch, cast) or (None, False))

    assert not read_batch(batch, table=Lines(GOOD))
    batch.refresh_from_db()
    assert batch.state == ImportState.READING


def answered(batch: ImportBatch, cast: Cast) -> None:
    """Somebody says something about the sheet while it is being read."""
    answer_about_sheet(batch=batch, said=Said(measure="half_cup"), by=cast.alice)


class Killed(BaseException):
    pass


def _killed(*_: Any, **__: Any) -> None:
    raise Killed


@pytest.mark.parametrize("place", ["insert_counts", "_starts_back", "_tell"])
def test_kill_while_it_comes_in_leaves_nothing_and_can_be_begun_again(
    cast: Cast, monkeypatch: Any, place: str
) -> None:
    batch = sheet_of(cast.alice, GOOD)
    monkeypatch.setattr(actions, place, _killed)
    with pytest.raises(Killed):
        bring_in_sheet(batch=batch, at=AT, by=cast.alice)

    assert not MiteSample.objects.exists()
    assert not ImportedCount.objects.exists()
    monkeypatch.undo()
    assert bring_in_sheet(batch=batch, at=AT, by=cast.alice).brought == 2


def test_sheet_the_database_refuses_is_given_up_with_words(cast: Cast, monkeypatch: Any) -> None:
    batch = sheet_of(cast.alice, GOOD)
    monkeypatch.setattr(doing, "ROWS_AT_ONCE", 1)
    doing.bring_in(batch, at=AT)
    ImportRow.objects.update(bees=0, mites=0)  # no such jar may be kept

    work_on_all(at=AT)

    batch.refresh_from_db()
    assert (batch.state, batch.refusal["code"]) == (ImportState.FAILED, "not-brought")
    assert not MiteSample.objects.exists()


def test_file_that_cannot_be_read_three_times_is_given_up(cast: Cast) -> None:
    batch = sheet_of(cast.alice, GOOD)
    look_again(batch=batch, by=cast.alice)
    ImportWork.objects.update(attempts=3)

    work_on_all(at=AT)

    batch.refresh_from_db()
    assert batch.state == ImportState.FAILED


def test_old_files_and_rows_go_and_the_batch_stays(cast: Cast) -> None:
    batch, waits = brought(cast), sheet_of(cast.alice, MIXED)

    work_on_all(at=AT + dt.timedelta(days=29))
    assert ImportWork.objects.count() == 2
    work_on_all(at=AT + dt.timedelta(days=31))

    assert not ImportRow.objects.exists()
    assert {one.state for one in ImportBatch.objects.all()} == {ImportState.IN, ImportState.REFUSED}
    assert ImportedCount.objects.filter(batch=batch).count() == 2
    assert waits.counts.count() == 0


def test_many_rows_take_no_more_questions_than_portions(
    cast: Cast, django_assert_max_num_queries: Any
) -> None:
    lines = "".join(
        f"Home yard,{1 + n % 6},2026-0{5 + n % 3}-{1 + n % 27:02},co2,{n % 4},300\n" for n in range(600)
    )
    assert PORTION > 600

    with django_assert_max_num_queries(30):
        batch = sheet_of(cast.alice, HEAD + lines)
    with django_assert_max_num_queries(30):
        bring_in_sheet(batch=batch, at=AT, by=cast.alice)


def test_database_knows_batches_that_are_whole(cast: Cast) -> None:
    batch = sheet_of(cast.alice, GOOD)

    for broken in ({"state": "in"}, {"state": "undone"}, {"state": "lost"}, {"undone_why": "x"}):
        with pytest.raises(DatabaseError), connection.cursor() as cursor:  # noqa: PT012
            cursor.execute("SAVEPOINT one")
            try:
                ImportBatch.objects.filter(pk=batch.pk).update(**broken)
            finally:
                cursor.execute("ROLLBACK TO SAVEPOINT one")
