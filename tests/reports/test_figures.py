"""Region figures follow the counts, hide small groups, and name any drift."""

import datetime as dt
import threading

import pytest
from django.db import connections, transaction

from apiaries.actions import edit_yard
from apiaries.models import Region
from counts.actions import void_sample
from counts.models import ActionLevel, MiteSample
from counts.samples import Kind, Method
from reports.constants import METHOD_VERSION
from reports.figures import level_of_month, levels_of, recompute_all, refresh_marked
from reports.models import RegionMonth, RegionMonthMark, YardMonth
from reports.pressure import YardCount, region_figures
from tests.reports.counting import AT, count

AUGUST = dt.date(2026, 8, 1)
LATER = AT + dt.timedelta(minutes=1)


def _north(cast, kind="wash"):
    return RegionMonth.objects.get(region=cast.north, month=AUGUST, kind=kind, part="all", frozen_at=None)


def test_figures_are_those_of_the_pure_sums(reference, cast, counted_north):
    assert refresh_marked(at=AT) == 1

    row = _north(cast)
    votes = [YardCount(y.mites, y.exposure, y.squared_cv, y.keeper_id, 2) for y in YardMonth.objects.all()]
    # USDA-ARS Tucson as quoted by a club page: act at 3 per 100
    expected = region_figures(votes, {"tucson": 0.03})
    share = expected.shares["tucson"]
    assert (row.yards, row.keepers, row.colonies, row.samples, row.zeros) == (5, 5, 10, 10, 2)
    assert (row.mites, row.bees, row.reason) == (60, 3000, "")
    # 60 mites on 5 x 600 bees of which a wash finds 95 %: every yard one vote of the same weight.
    assert row.rate == pytest.approx(60 / 2850)
    assert (row.low, row.high) == pytest.approx((expected.low, expected.high))
    assert row.shares["us_usda_ars_tucson_jar"] == pytest.approx([share.share, share.low, share.high])
    assert (row.tenth, row.median, row.ninetieth) == pytest.approx(
        (expected.tenth, expected.median, expected.ninetieth)
    )
    assert row.rate == pytest.approx(row.mites / row.exposure)
    assert (row.yards_effective, row.board_days) == (5, None)  # every yard has a keeper of its own
    assert row.basis.version == row.basis.constants["method"] == METHOD_VERSION


def test_boards_are_told_with_their_days_and_yards_of_one_keeper_count_less(cast, keeper_in):
    for name, yards in (("Kim", 3), ("Lee", 1), ("Mia", 1)):
        for yard in keeper_in(name, cast.north, yards):
            count(yard.colonies.first(), dt.date(2026, 8, 9), 12, Method.BOARD)
    refresh_marked(at=AT)

    row = _north(cast, "board")
    # 3, 1 and 1 yards with a likeness of 0.3 (our choice): 5 / (1 + 0.3 (11 / 5 - 1))
    assert (row.bees, row.board_days, row.yards_effective) == (None, 15, pytest.approx(5 / 1.36))


def test_no_mark_is_left_and_nothing_is_worked_out_twice(cast, counted_north):
    refresh_marked(at=AT)

    assert not RegionMonthMark.objects.exists()
    assert refresh_marked(at=LATER) == 0
    assert _north(cast).computed_at == AT


def test_four_yards_are_too_few(cast, counted_north):
    for sample in MiteSample.objects.filter(yard=counted_north[4]):
        void_sample(sample=sample, why="wrong jar", at=AT, by=counted_north[4].keeper)
    refresh_marked(at=AT)

    row = _north(cast)
    assert (row.reason, row.rate, row.low, row.median, row.shares) == ("too_few_yards", None, None, None, {})


def test_two_keepers_are_too_few(cast, keeper_in):
    for yard in keeper_in("Kim", cast.north, 3) + keeper_in("Lee", cast.north, 3):
        count(yard.colonies.first(), dt.date(2026, 8, 5), 4)
    refresh_marked(at=AT)

    assert _north(cast).reason == "too_few_keepers"


def test_a_keeper_with_most_yards_hides_the_month(cast, keeper_in):
    for name, yards in (("Kim", 4), ("Lee", 1), ("Mia", 1)):
        for yard in keeper_in(name, cast.north, yards):
            count(yard.colonies.first(), dt.date(2026, 8, 5), 4)
    refresh_marked(at=AT)

    assert _north(cast).reason == "one_keeper_dominates"  # 4 of 6 yards: more than 60 %


def test_kinds_are_never_mixed(cast, counted_north):
    for yard in counted_north:
        count(yard.colonies.first(), dt.date(2026, 8, 9), 12, Method.BOARD)
    refresh_marked(at=AT)

    assert _north(cast, "board").rate == pytest.approx(4.0)  # 12 mites in 3 days
    assert _north(cast, "board").bees is None
    assert _north(cast).samples == 10


def test_without_an_action_level_there_is_no_share(cast, counted_north):
    refresh_marked(at=AT)  # no levels were loaded

    row = _north(cast)
    assert row.shares == {}
    assert row.rate is not None


def test_shares_are_kept_for_every_level_that_a_reader_may_choose(reference, cast, counted_north):
    refresh_marked(at=AT)

    shares = _north(cast).shares
    assert {"us_usda_ars_tucson_jar", "us_penn_state_jar"} <= shares.keys()
    assert shares["us_penn_state_jar"][0] < shares["us_usda_ars_tucson_jar"][0]  # 5 and 3 per 100


def test_overlapping_levels_of_an_issuer_give_none(reference, cast):
    levels = [row.as_value() for row in ActionLevel.objects.filter(issuer="fr_alsace")]
    may = {level.act_rate for level in levels if level.applies(dt.date(2026, 5, 1), None)}

    assert len(may) == 2  # the sheet prints April-May and May-June
    assert level_of_month(levels, Kind.BOARD, dt.date(2026, 5, 1)) is None
    assert level_of_month(levels, Kind.BOARD, dt.date(2026, 7, 1)).key == "fr_alsace_jul"
    assert levels_of(cast.zoe.membership.club) == []  # that club chose no issuer


def test_a_region_left_by_its_only_yard_loses_its_row(cast):
    count(cast.colony, dt.date(2026, 8, 5), 3)
    refresh_marked(at=AT)
    edit_yard(
        yard=cast.alice_yard,
        name="Home yard",
        region=cast.south,
        latitude=None,
        longitude=None,
        by=cast.alice,
    )
    refresh_marked(at=LATER)

    assert list(RegionMonth.objects.values_list("region", flat=True)) == [cast.south.pk]


def test_a_published_month_stays_beside_the_one_that_follows_the_counts(cast, counted_north):
    refresh_marked(at=AT)
    before = _north(cast).rate
    RegionMonth.objects.update(frozen_at=AT)
    count(cast.colonies[3], dt.date(2026, 8, 20), 90)
    refresh_marked(at=LATER)

    published = RegionMonth.objects.get(region=cast.north, month=AUGUST, part="all", frozen_at=AT)
    assert (published.rate, published.computed_at) == (before, AT)
    assert _north(cast).rate > before
    assert recompute_all(at=LATER) == []


def test_nightly_recount_finds_no_drift_after_ordinary_work(cast, counted_north):
    refresh_marked(at=AT)
    count(cast.colonies[3], dt.date(2026, 8, 20), 90)  # marked, not drifted

    assert recompute_all(at=LATER) == []
    assert _north(cast).samples == 11


def test_nightly_recount_names_and_mends_drift(cast, counted_north):
    refresh_marked(at=AT)
    RegionMonth.objects.filter(part="all").update(mites=61)
    assert [drift.what for drift in recompute_all(at=LATER)] == ["North of Test club, 2026-08, wash all"]
    assert _north(cast).mites == 60

    YardMonth.objects.filter(yard=cast.alice_yard).update(mites=1)
    assert [drift.what for drift in recompute_all(at=LATER)] == [f"yard {cast.alice_yard.pk}, 2026-08"]
    assert recompute_all(at=LATER) == []


@pytest.mark.django_db(transaction=True)
def test_regions_that_another_process_holds_are_left_to_it(cast):
    count(cast.colony, dt.date(2026, 8, 5), 3)
    count(cast.charlie_yard.colonies.first(), dt.date(2026, 8, 5), 3)
    done = []

    def other_process():
        done.append(refresh_marked(at=AT))
        connections.close_all()

    with transaction.atomic():
        Region.objects.select_for_update(no_key=True).get(pk=cast.north.pk)
        thread = threading.Thread(target=other_process)
        thread.start()
        thread.join(10)
        assert done == [1]  # it did not wait, and worked out the other one

    assert RegionMonth.objects.filter(region=cast.south).exists()
    assert not RegionMonth.objects.filter(region=cast.north).exists()
    assert refresh_marked(at=AT) == 1
