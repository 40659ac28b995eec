"""The map's rows follow counts, places and treatments, and are held against the counts like all other figures."""

import datetime as dt

import h3
import numpy as np
import pytest

from apiaries.actions import edit_yard
from apiaries.models import Yard
from counts.actions import void_sample
from counts.models import MiteSample
from reports.constants import DEFAULTS
from reports.figures import recompute_all, refresh_marked
from reports.models import AreaMonth, RegionMonth, RegionMonthMark
from reports.pressure import YardCounts, mean_figures, region_figures
from tests.reports.counting import AT, count

AUGUST = dt.date(2026, 8, 1)
HERE, THERE = h3.latlng_to_cell(43.6, -77.9, 5), h3.latlng_to_cell(43.6, -75.9, 5)


@pytest.fixture
def two_places(cast, keeper_in):
    """Five keepers with a yard here and one there, all washed in August: two pieces."""
    yards = []
    for number, name in enumerate(("Kim", "Lee", "Mia", "Noa", "Oda")):
        here, there = keeper_in(name, cast.north, 2)
        Yard.objects.filter(pk=here.pk).update(cell=HERE)
        Yard.objects.filter(pk=there.pk).update(cell=THERE)
        count(here.colonies.first(), dt.date(2026, 8, 5), number)
        count(there.colonies.first(), dt.date(2026, 8, 5), 10 + number)
        yards += [here, there]
    refresh_marked(at=AT)
    return yards


def test_pieces_have_their_own_figures(two_places):
    here, there = AreaMonth.objects.get(piece=HERE), AreaMonth.objects.get(piece=THERE)

    assert (here.yards, here.keepers, here.samples, here.zeros, here.mites, here.bees) == (
        5,
        5,
        5,
        1,
        10,
        1500,
    )
    assert (there.mites, there.cells, there.yards_effective) == (60, [THERE], 5)
    # A wash finds 95 %: 10 mites on five times 285 bees.
    assert here.rate == pytest.approx(10 / (5 * 285))
    assert here.low < here.rate < here.high < there.high


def test_a_region_that_cannot_be_told_apart_is_one_area(cast, counted_north):
    Yard.objects.filter(pk__in=[yard.pk for yard in counted_north]).update(cell=HERE)
    yard = counted_north[0]
    Yard.objects.filter(pk=yard.pk).update(cell="")
    refresh_marked(at=AT)

    area, row = AreaMonth.objects.get(), RegionMonth.objects.get(part="all")
    assert (area.piece, area.cells, area.yards) == ("", [HERE], 5)
    assert (area.rate, area.low, area.high) == pytest.approx((row.rate, row.low, row.high))


def test_a_hidden_month_has_no_area(cast, two_places):
    for sample in MiteSample.objects.filter(yard__in=two_places[:7]):
        void_sample(sample=sample, why="wrong jar", at=AT, by=sample.yard.keeper)
    refresh_marked(at=AT)

    assert not AreaMonth.objects.exists()
    assert RegionMonth.objects.get(part="all").reason == "too_few_keepers"


def test_a_yard_that_gets_another_place_takes_its_counts_along(cast, two_places):
    yard = two_places[0]
    edit_yard(yard=yard, name=yard.name, region=yard.region, latitude=None, longitude=None, by=yard.keeper)
    assert RegionMonthMark.objects.exists()
    refresh_marked(at=AT)

    # Four here are too few for a piece; with the one that is nowhere now they may be left over.
    assert set(AreaMonth.objects.values_list("piece", flat=True)) == {"", THERE}


def test_the_map_goes_back_as_far_as_its_constant_says(cast, two_places):
    years = int(DEFAULTS.map_years.value)
    later = AT.replace(year=AT.year + years - 1)
    assert recompute_all(at=later) == [] and AreaMonth.objects.count() == 3

    # A year on it is out of the map, which is no drift.
    assert recompute_all(at=later.replace(year=later.year + 1)) == []
    assert not AreaMonth.objects.exists()


def test_an_area_that_drifted_is_named_and_put_right(cast, two_places):
    AreaMonth.objects.filter(piece=HERE).update(mites=11)

    drifts = recompute_all(at=AT)
    assert [drift.what for drift in drifts] == [f"North of {cast.club}, 2026-08, wash map {HERE}"]
    assert AreaMonth.objects.get(piece=HERE).mites == 10 and recompute_all(at=AT) == []


def test_a_pieces_mean_is_that_of_the_regions_sums():
    yards = YardCounts(
        np.asarray([0.0, 3, 6, 9, 12]), np.full(5, 285.0), np.full(5, 0.4), np.arange(5), np.ones(5, np.int64)
    )
    brief, full = mean_figures(yards), region_figures(yards)
    assert (brief.rate, brief.low, brief.high, brief.c2) == (full.rate, full.low, full.high, full.c2)
    assert brief.median is None and full.median is not None
