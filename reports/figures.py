"""Keeps the figures of regions and months up with the counts, a minute or two behind them."""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from math import isclose

from django.db import transaction

from apiaries.models import Club, Region
from counts.action_levels import Level, LevelKind, levels_for
from counts.constants import METHOD_VERSION as COUNT_METHOD
from counts.models import ActionLevel
from counts.samples import Kind
from reports.constants import DEFAULTS
from reports.models import RegionMonth, RegionMonthMark, YardMonth
from reports.pressure import Population, YardCount, region_figures, yard_population
from reports.rollup import all_keys, mend

MARKS_AT_ONCE = 2000
LEVEL_KINDS = {Kind.WASH: LevelKind.JAR, Kind.ROLL: LevelKind.JAR, Kind.BOARD: LevelKind.BOARD}
METHOD = DEFAULTS.as_stored() | {"counts": COUNT_METHOD}

EXACT = ("yards", "keepers", "colonies", "samples", "zeros", "mites", "bees", "level_key", "reason")
MEASURED = ("rate", "low", "high", "median", "share_above", "share_low", "share_high")
KEPT = [*EXACT, *MEASURED, "method", "computed_at"]


@dataclass(frozen=True)
class Drift:
    """A figure that did not agree with the counts although nothing marked it: `what` names it. Put right since."""

    what: str


@transaction.atomic
def refresh_marked(*, at: dt.datetime) -> int:
    """Work out the marked regions and months anew; how many. Marks that another process holds are left to it."""
    marks = list(RegionMonthMark.objects.select_for_update(skip_locked=True).order_by("pk")[:MARKS_AT_ONCE])
    marked = {(mark.region_id, mark.month) for mark in marks}
    _refresh(marked, at=at)
    RegionMonthMark.objects.filter(pk__in=[mark.pk for mark in marks]).delete()
    return len(marked)


def recompute_all(*, at: dt.datetime) -> list[Drift]:
    """Work out everything from the counts; what had drifted. Figures that were merely marked are no drift."""
    while refresh_marked(at=at):
        pass
    wrong = [key for keys in all_keys() for key in mend(keys)]
    drifts = [Drift(f"yard {yard_id}, {month:%Y-%m}") for yard_id, month in wrong]
    while refresh_marked(at=at):
        pass
    keys = {
        *YardMonth.objects.values_list("region_id", "month").distinct(),
        *RegionMonth.objects.values_list("region_id", "month").distinct(),
    }
    by_region = defaultdict(set)
    for region_id, month in keys:
        by_region[region_id].add((region_id, month))
    for region_id in sorted(by_region):
        with transaction.atomic():
            drifts += _refresh(by_region[region_id], at=at)
    return drifts


def level_of_month(levels: Iterable[Level], kind: Kind, month: dt.date) -> Level | None:
    """The action level that a month is held against: the issuer's only one, or none where it prints several."""
    found = [level for level in levels_for(levels, LEVEL_KINDS[kind], month) if level.act_rate is not None]
    return found[0] if len({level.act_rate for level in found}) == 1 else None


def levels_of(club: Club) -> list[Level]:
    """What the club's issuer publishes."""
    return [row.as_value() for row in ActionLevel.objects.filter(issuer=club.action_level_issuer)]


def _refresh(region_months: Collection[tuple[int, dt.date]], *, at: dt.datetime) -> list[Drift]:
    """Write the figures of these regions and months; those that changed. Frozen ones stay as they were published."""
    # Two processes may hold marks of one region: the second waits, so that it cannot write what it read before.
    regions = {
        region.pk: region
        for region in Region.objects.select_for_update(of=("self",), no_key=True)
        .filter(pk__in={region_id for region_id, _ in region_months})
        .select_related("club")
        .order_by("pk")
    }
    pairs = set(region_months)
    stored = {
        (row.region_id, row.month, row.kind): row
        for row in RegionMonth.objects.filter(region_id__in=regions, month__in={month for _, month in pairs})
        if (row.region_id, row.month) in pairs
    }
    fresh = _worked_out(pairs, regions, at=at)
    frozen = {key for key, row in stored.items() if row.frozen_at is not None}
    drifts = [
        Drift(f"{regions[key[0]]} of {regions[key[0]].club}, {key[1]:%Y-%m}, {key[2]}")
        for key in sorted((fresh.keys() | stored.keys()) - frozen)
        if not _alike(fresh.get(key), stored.get(key))
    ]
    gone = [row.pk for key, row in stored.items() if key not in fresh and key not in frozen]
    RegionMonth.objects.filter(pk__in=gone).delete()
    RegionMonth.objects.bulk_create(
        [fresh[key] for key in sorted(fresh.keys() - frozen)],
        update_conflicts=True,
        unique_fields=["region", "month", "kind"],
        update_fields=KEPT,
    )
    return drifts


def _worked_out(
    pairs: set[tuple[int, dt.date]], regions: dict[int, Region], *, at: dt.datetime
) -> dict[tuple[int, dt.date, str], RegionMonth]:
    grouped: dict[tuple[int, dt.date, str], list[YardMonth]] = defaultdict(list)
    rows = YardMonth.objects.filter(region_id__in=regions, month__in={month for _, month in pairs})
    for row in rows.order_by("pk"):
        if (row.region_id, row.month) in pairs:
            grouped[row.region_id, row.month, row.kind].append(row)
    levels = {club: levels_of(club) for club in {region.club for region in regions.values()}}
    return {
        key: _region_month(regions[key[0]], key[1], Kind(key[2]), own, levels[regions[key[0]].club], at)
        for key, own in grouped.items()
    }


def _region_month(
    region: Region,
    month: dt.date,
    kind: Kind,
    rows: Sequence[YardMonth],
    levels: list[Level],
    at: dt.datetime,
) -> RegionMonth:
    level = level_of_month(levels, kind, month)
    few = len(rows) < DEFAULTS.own_yards_min.value
    figures = region_figures(
        [_vote(row) for row in rows],
        level.act_rate if level else None,
        population=_population_of_club(region.club, month, kind) if few else None,
    )
    shown = figures.share_above is not None
    return RegionMonth(
        region=region,
        month=month,
        kind=kind,
        yards=figures.yards,
        keepers=figures.keepers,
        colonies=figures.colonies,
        samples=sum(row.samples for row in rows),
        zeros=sum(row.zeros for row in rows),
        mites=sum(row.mites for row in rows),
        bees=None if kind is Kind.BOARD else sum(row.bees or 0 for row in rows),
        level_key=level.key if level and shown else "",
        reason=figures.reason or "",
        method=METHOD,
        computed_at=at,
        **{name: getattr(figures, name) for name in MEASURED},
    )


def _vote(row: YardMonth) -> YardCount:
    return YardCount(row.mites, row.exposure, row.squared_cv, row.keeper_id, row.colonies)


def _population_of_club(club: Club, month: dt.date, kind: Kind) -> Population:
    """How yards of all the club's regions were that month: what a region with few yards leans on."""
    rows = YardMonth.objects.filter(region__club=club, month=month, kind=kind)
    mites, exposure, c2 = zip(*rows.values_list("mites", "exposure", "squared_cv"), strict=True)
    return yard_population(mites, exposure, c2)


def _alike(one: RegionMonth | None, other: RegionMonth | None) -> bool:
    if one is None or other is None:
        return one is other
    return all(getattr(one, name) == getattr(other, name) for name in EXACT) and all(
        _close(getattr(one, name), getattr(other, name)) for name in MEASURED
    )


def _close(one: float | None, other: float | None) -> bool:
    return one is other if one is None or other is None else isclose(one, other, rel_tol=1e-9, abs_tol=1e-12)
