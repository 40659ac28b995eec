"""The roll-up agrees with a recount from scratch, whatever was done to the counts, and holds nobody else up."""

import datetime as dt
import random
import threading
from collections import defaultdict

import pytest
from django.db import DatabaseError, connection, connections, transaction
from django.test.utils import CaptureQueriesContext

from apiaries.actions import add_yard, edit_yard, move_colony
from counts.actions import correct_sample, record_samples, void_sample
from counts.estimate import yard_mean
from counts.models import MiteSample
from counts.samples import Method
from reports import rollup
from reports.models import RegionMonthMark, YardMonth
from reports.rollup import drifted, portions, rebuild, recompute_yard_months
from tests.reports.counting import AT, count, new_count

AUGUST = dt.date(2026, 8, 1)
KINDS = {
    Method.ALCOHOL_WASH: "wash",
    Method.SOAP_WASH: "wash",
    Method.SUGAR_ROLL: "roll",
    Method.BOARD: "board",
}


def _plain_totals():
    """Yard, month and kind to (counts, zeros, mites), added up the slow way."""
    totals = defaultdict(lambda: [0, 0, 0])
    for sample in MiteSample.objects.filter(voided_at=None, rate__isnull=False):
        key = (sample.yard_id, sample.sampled_on.replace(day=1), KINDS[Method(sample.method)])
        totals[key] = [
            old + new for old, new in zip(totals[key], (1, sample.mites == 0, sample.mites), strict=True)
        ]
    return dict(totals)


def _stored_totals():
    return {
        (row.yard_id, row.month, row.kind): [row.samples, row.zeros, row.mites]
        for row in YardMonth.objects.all()
    }


def test_rollup_equals_a_recount_after_random_changes(cast):
    dice = random.Random(20260803)
    second = add_yard(keeper=cast.alice, region=cast.south, name="Heath", by=cast.alice)
    for step in range(60):
        colony = dice.choice(cast.colonies)
        sampled_on = dt.date(2026, dice.randint(4, 9), dice.randint(1, 28))
        standing = list(MiteSample.objects.standing())
        kind_of_change = dice.choice(["add", "add", "correct", "void", "move"])
        if kind_of_change == "add" or not standing:
            count(colony, sampled_on, dice.choice([0, 3, 30]), dice.choice(list(KINDS)))
        elif kind_of_change == "correct":
            wrong = dice.choice(standing)
            fresh = new_count(wrong.colony, sampled_on, step)
            correct_sample(sample=wrong, count=fresh, why="typo", at=AT, by=cast.alice)
        elif kind_of_change == "void":
            void_sample(sample=dice.choice(standing), why="wrong hive", at=AT, by=cast.alice)
        else:
            colony.refresh_from_db()
            target = second if colony.yard_id != second.pk else cast.alice_yard
            move_colony(colony=colony, to_yard=target, moved_on=dt.date(2026, 6, 15), by=cast.alice)

    assert _plain_totals() == _stored_totals()
    assert drifted() == []


def test_row_holds_the_yard_estimate_of_added_up_colonies(cast):
    first, second = cast.colonies[:2]
    for colony, mites in ((first, 2), (first, 4), (second, 9)):
        count(colony, dt.date(2026, 8, 5), mites)

    row = YardMonth.objects.get()
    # Independent of the roll-up: two jars of one colony are one sample; a counted wash recovers 0.95 +/- 0.03.
    own = (1 + 0.2**2) * (1 + (0.03 / 0.95) ** 2) - 1
    shares = ((570**2 + 0) * own / 2 + 285**2 * own) / (570**2 + 285**2)
    expected = yard_mean([6, 9], [600, 300], recovery=0.95, within_c2=shares)
    assert (row.samples, row.colonies, row.zeros, row.mites, row.bees) == (3, 2, 0, 15, 900)
    assert row.exposure == pytest.approx(855.0)
    assert row.squared_cv == pytest.approx(expected.chance_c2)


def test_board_with_a_treatment_in_the_hive_is_left_out(cast):
    count(cast.colony, dt.date(2026, 8, 5), 80, Method.BOARD, treatment_in_hive=True)
    assert not YardMonth.objects.exists()

    count(cast.colony, dt.date(2026, 8, 20), 12, Method.BOARD)
    row = YardMonth.objects.get()
    assert (row.kind, row.mites, row.exposure, row.bees) == ("board", 12, 3.0, None)


def test_voiding_the_only_count_leaves_no_row(cast):
    sample = count(cast.colony, dt.date(2026, 8, 5), 3)
    void_sample(sample=sample, why="wrong hive", at=AT, by=cast.alice)

    assert not YardMonth.objects.exists()


def test_doing_it_twice_changes_nothing(cast):
    count(cast.colony, dt.date(2026, 8, 5), 3)
    before = list(YardMonth.objects.values_list("kind", "mites", "exposure", "squared_cv"))

    recompute_yard_months([(cast.alice_yard.pk, AUGUST)])

    assert list(YardMonth.objects.values_list("kind", "mites", "exposure", "squared_cv")) == before


def test_a_yard_that_changes_region_takes_its_months_along(cast):
    count(cast.colony, dt.date(2026, 8, 5), 3)
    RegionMonthMark.objects.all().delete()

    edit_yard(
        yard=cast.alice_yard,
        name="Home yard",
        region=cast.south,
        latitude=None,
        longitude=None,
        by=cast.alice,
    )

    assert YardMonth.objects.get().region == cast.south
    assert set(RegionMonthMark.objects.values_list("region", "month")) == {
        (cast.north.pk, AUGUST),
        (cast.south.pk, AUGUST),
    }


@pytest.mark.parametrize(
    "wrong",
    [{"mites": 4}, {"exposure": 2.0}, {"brood": "with"}, {"treated_days": 5}, {"bees": 1}, {"kind": "roll"}],
)
def test_a_row_that_disagrees_is_named_and_put_right(cast, wrong):
    count(cast.colony, dt.date(2026, 8, 5), 3)
    right = YardMonth.objects.values().get()
    YardMonth.objects.update(**wrong)

    assert drifted() == [(cast.alice_yard.pk, AUGUST)]
    assert YardMonth.objects.values().get() == right | {"id": YardMonth.objects.get().pk}
    assert drifted() == []


def test_rows_too_many_and_too_few_are_named_and_put_right(cast):
    count(cast.colony, dt.date(2026, 8, 5), 3)
    YardMonth.objects.update(month=dt.date(2026, 7, 1))

    assert drifted() == [(cast.alice_yard.pk, dt.date(2026, 7, 1)), (cast.alice_yard.pk, AUGUST)]
    assert YardMonth.objects.get().month == AUGUST


def test_building_all_anew_gives_what_was_kept_up(cast, monkeypatch):
    monkeypatch.setattr(rollup, "YARDS_AT_ONCE", 1)
    for colony, method in zip(cast.colonies, KINDS, strict=False):
        count(colony, dt.date(2026, 8, 5), 3, method)
    names = [field.name for field in YardMonth._meta.fields if field.name != "id"]
    kept_up = list(YardMonth.objects.order_by("kind").values(*names))
    RegionMonthMark.objects.all().delete()

    assert len(kept_up) == 3 and len(portions()) > 1
    assert [rebuild(portion) for portion in portions()] == [0] * len(portions())
    assert RegionMonthMark.objects.values_list("region", "month").distinct().get() == (cast.north.pk, AUGUST)
    YardMonth.objects.all().delete()
    assert sum(rebuild(portion) for portion in portions()) == 1
    assert list(YardMonth.objects.order_by("kind").values(*names)) == kept_up


def test_building_anew_puts_right_whatever_is_there(cast):
    count(cast.colony, dt.date(2026, 8, 5), 3)
    count(cast.colonies[1], dt.date(1999, 12, 5), 3)
    names = [field.name for field in YardMonth._meta.fields if field.name != "id"]
    right = list(YardMonth.objects.order_by("month").values(*names))
    YardMonth.objects.filter(month=AUGUST).update(month=dt.date(2026, 7, 1))
    YardMonth.objects.filter(month__year=1999).update(region=cast.south)
    RegionMonthMark.objects.all().delete()
    for portion in portions():
        rebuild(portion)

    assert list(YardMonth.objects.order_by("month").values(*names)) == right
    marked = set(RegionMonthMark.objects.values_list("region", "month"))
    old = dt.date(1999, 12, 1)
    north, south = cast.north.pk, cast.south.pk
    assert marked == {(north, AUGUST), (north, dt.date(2026, 7, 1)), (north, old), (south, old)}


def test_few_months_and_many_go_different_ways_to_the_same_rows(cast, monkeypatch):
    for number, (colony, method) in enumerate(zip(cast.colonies * 2, list(KINDS) * 3, strict=False)):
        count(colony, dt.date(2026, 4 + number % 6, 5), number, method)
    names = [field.name for field in YardMonth._meta.fields if field.name != "id"]
    keys = [(cast.alice_yard.pk, dt.date(2026, month, 1)) for month in range(3, 11)]

    ways = []
    for few in (100, 0):
        monkeypatch.setattr(rollup, "FEW", few)
        YardMonth.objects.filter(month=AUGUST).update(month=dt.date(2026, 3, 1))
        YardMonth.objects.filter(month=dt.date(2026, 5, 1)).update(mites=999)
        RegionMonthMark.objects.all().delete()
        made = recompute_yard_months(keys)
        rows = list(YardMonth.objects.order_by("month", "kind").values(*names))
        ways.append((made, rows, sorted(RegionMonthMark.objects.values_list("region", "month"))))

    assert ways[0] == ways[1]
    assert ways[0][0] == len(ways[0][1]) >= 6 and len(ways[0][2]) == len(keys)
    assert recompute_yard_months([]) == 0


def test_many_months_need_no_more_queries_than_one(cast):
    months = [dt.date(2026, month, 1) for month in range(1, 13)]
    counts = [new_count(cast.colonies[0], dt.date(2026, month, 5), 3) for month in range(4, 10)]
    record_samples(counts=counts, at=AT, by=cast.alice)
    with CaptureQueriesContext(connection) as one:
        recompute_yard_months([(cast.alice_yard.pk, AUGUST)])
    with CaptureQueriesContext(connection) as many:
        recompute_yard_months([(cast.alice_yard.pk, month) for month in months])

    assert len(one) == len(many)


def _in_another_connection(work):
    """Run work in a thread with its own connection; the error it raised, if any."""
    caught = []

    def run():
        try:
            with connection.cursor() as cursor:
                cursor.execute("SET lock_timeout = '2s'")
            work()
        except DatabaseError as error:
            caught.append(error)
        finally:
            connections.close_all()

    thread = threading.Thread(target=run)
    thread.start()
    thread.join(20)
    assert not thread.is_alive()
    return caught


@pytest.mark.django_db(transaction=True)
@pytest.mark.owner
def test_a_slow_writer_in_another_yard_of_the_region_blocks_nobody(cast):
    heath = add_yard(keeper=cast.bob, region=cast.north, name="Heath", by=cast.bob)
    move_colony(colony=cast.colonies[5], to_yard=heath, moved_on=dt.date(2026, 5, 1), by=cast.alice)
    cast.colonies[5].refresh_from_db()
    # The first count ever also keeps the names of its constants.
    count(cast.colonies[5], dt.date(2026, 5, 2), 1)
    with transaction.atomic():  # it stays open while the other one saves
        count(cast.colonies[0], dt.date(2026, 8, 5), 3)
        errors = _in_another_connection(lambda: count(cast.colonies[5], dt.date(2026, 8, 6), 7))

    assert errors == []
    assert sorted(YardMonth.objects.filter(month=AUGUST).values_list("mites", flat=True)) == [3, 7]


@pytest.mark.django_db(transaction=True)
@pytest.mark.owner
def test_writers_of_one_yard_wait_and_lose_nothing(cast):
    def second():
        count(cast.colonies[1], dt.date(2026, 8, 6), 7)

    # The first count ever also keeps the names of its constants.
    count(cast.colonies[1], dt.date(2026, 5, 2), 1)
    started = threading.Event()

    def run():
        started.set()
        second()
        connections.close_all()

    thread = threading.Thread(target=run)
    with transaction.atomic():
        count(cast.colonies[0], dt.date(2026, 8, 5), 3)
        thread.start()
        started.wait(5)
        thread.join(0.5)
        assert thread.is_alive()  # it waits for this transaction
    thread.join(20)

    assert YardMonth.objects.get(month=AUGUST).mites == 10
