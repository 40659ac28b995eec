"""Keeps the figures of regions and months up with the counts, a minute or two behind them."""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from math import isclose
from multiprocessing import get_context
from typing import Any

import django
import numpy as np
from django.db import connection, transaction
from django.db.models import Exists, F, OuterRef

from apiaries.models import Club, Region
from counts.action_levels import Level, LevelKind, levels_for
from counts.constants import METHOD_VERSION as COUNT_METHOD
from counts.models import ActionLevel, EstimateBasis
from counts.samples import Kind
from reports import areas_kept, rollup, yard_sums
from reports._binary import Rows, date_of
from reports._disclosure import SuppressReason
from reports.areas_kept import votes_of
from reports.constants import DEFAULTS
from reports.models import AreaMonth, BroodSeen, RegionEdition, RegionMonth, RegionMonthMark, YardMonth
from reports.parts import DIVISIONS, Mask, Part, part_masks, shown_parts
from reports.pressure import RegionFigures, region_figures
from reports.yard_sums import BROOD, KINDS

REGIONS_AT_ONCE = 4
ROWS_AT_ONCE = 500
LEVEL_KINDS = {Kind.WASH: LevelKind.JAR, Kind.ROLL: LevelKind.JAR, Kind.BOARD: LevelKind.BOARD}
METHOD = DEFAULTS.as_stored() | {"counts": COUNT_METHOD}

EXACT = ("yards", "keepers", "colonies", "samples", "zeros", "mites", "bees", "reason")
COLUMNS = ("rate", "low", "high", "exposure", "median", "tenth", "ninetieth")
MEASURED = (*COLUMNS, "squared_cv", "board_days", "yards_effective")

Place = tuple[int, dt.date]
Key = tuple[int, dt.date, str, str]


@dataclass(frozen=True)
class Drift:
    """A figure that did not agree with the counts although nothing marked it: `what` names it. Put right since."""

    what: str


@transaction.atomic
def refresh_marked(*, at: dt.datetime) -> int:
    """Work out the marked months of some regions anew; how many. Regions that another process holds are left to it, and
    its marks with them."""
    marked = Exists(RegionMonthMark.objects.filter(region=OuterRef("pk")))
    free = Region.objects.select_for_update(no_key=True, skip_locked=True).filter(marked).order_by("pk")
    regions = [region.pk for region in free[:REGIONS_AT_ONCE]]
    marks = list(RegionMonthMark.objects.filter(region__in=regions))
    places = {(mark.region_id, mark.month) for mark in marks}
    _refresh(places, at=at)
    RegionMonthMark.objects.filter(pk__in=[mark.pk for mark in marks]).delete()
    return len(places)


def refresh_all_marked(*, at: dt.datetime) -> int:
    """The same until no region with marks is left that nobody else holds; how many regions and months."""
    done = 0
    while some := refresh_marked(at=at):
        done += some
    return done


def recompute_all(*, at: dt.datetime) -> list[Drift]:
    """Hold everything against a recount; what had drifted, put right. Figures that were merely marked are no drift."""
    refresh_all_marked(at=at)
    drifts = [Drift(f"yard {yard_id}, {month:%Y-%m}") for yard_id, month in rollup.drifted()]
    refresh_all_marked(at=at)
    places = {
        *YardMonth.objects.values_list("region_id", "month").distinct(),
        *RegionMonth.objects.filter(frozen_at=None).values_list("region_id", "month").distinct(),
    }
    by_region = defaultdict(set)
    for region_id, month in places:
        by_region[region_id].add((region_id, month))
    for region_id in sorted(by_region):
        with transaction.atomic():
            drifts += _refresh(by_region[region_id], at=at)
    return drifts


def write_anew(*, at: dt.datetime, processes: int = 1) -> None:
    """Everything from the counts, taking nothing that is there for granted: after a restore or for a new method.

    Several processes share the marks as those of the schedule do.
    """
    if processes == 1:
        for portion in rollup.portions():
            rollup.rebuild(portion)
    else:
        with ProcessPoolExecutor(processes, get_context("spawn"), django.setup) as others:
            list(others.map(rollup.rebuild, rollup.portions()))
            for working in [others.submit(refresh_all_marked, at=at) for _ in range(processes)]:
                working.result()
    refresh_all_marked(at=at)
    with connection.cursor() as cursor:
        # Written whole, they are not what the planner last saw; by itself it would be told of that only later.
        cursor.execute("ANALYZE reports_yardmonth, reports_regionmonth, reports_areamonth")


def levels_of_month(levels: Iterable[Level], kind: Kind, month: dt.date) -> dict[str, float]:
    """By their keys, the rates of the action levels that a month's yards may be held against."""
    found = levels_for(levels, LEVEL_KINDS[kind], month)
    return {level.key: level.act_rate for level in found if level.act_rate is not None}


def level_of_month(levels: Iterable[Level], kind: Kind, month: dt.date) -> Level | None:
    """The action level that a month is held against: the issuer's only one, or none where it prints several."""
    found = [level for level in levels_for(levels, LEVEL_KINDS[kind], month) if level.act_rate is not None]
    return found[0] if len({level.act_rate for level in found}) == 1 else None


def levels_of(club: Club) -> list[Level]:
    """What the club's issuer publishes."""
    return [row.as_value() for row in ActionLevel.objects.filter(issuer=club.action_level_issuer)]


def _refresh(places: Collection[Place], *, at: dt.datetime) -> list[Drift]:
    """Write the figures of these regions and months; those that changed. What was published stays as it was."""
    # Two processes may hold marks of one region: the second waits, so that it cannot write what it read before.
    locked = Region.objects.select_for_update(no_key=True).filter(pk__in={region for region, _ in places})
    regions = [region.pk for region in locked.order_by("pk")]
    wanted = set(places)
    months = {month for _, month in wanted}
    rows = RegionMonth.objects.filter(region__in=regions, month__in=months, frozen_at=None)
    stored = {_key(row): row for row in rows if (row.region_id, row.month) in wanted}
    areas: list[AreaMonth] = []
    fresh = {_key(row): row for row in _worked_out(wanted, areas, at=at)}
    RegionMonth.objects.filter(pk__in=[row.pk for row in stored.values()]).delete()
    RegionMonth.objects.bulk_create(fresh.values(), batch_size=ROWS_AT_ONCE)
    moved = areas_kept.replace(wanted, areas, at=at)
    keys = sorted(fresh.keys() | stored.keys())
    wrong = [key for key in keys if not _alike(fresh.get(key), stored.get(key))]
    wrong += [(*key[:3], f"map {key[3]}".strip()) for key in moved]
    _tell_edition(regions, changed={key[0] for key in wrong}, at=at)
    return _named(wrong)


def _tell_edition(regions: Collection[int], *, changed: Collection[int], at: dt.datetime) -> None:
    """The regions' rows are locked, so nobody else writes these."""
    editions = [RegionEdition(region_id=region_id, worked_out_at=at) for region_id in regions]
    RegionEdition.objects.bulk_create(
        editions, update_conflicts=True, unique_fields=["region"], update_fields=["worked_out_at"]
    )
    RegionEdition.objects.filter(region__in=changed).update(edition=F("edition") + 1)


def _named(wrong: Collection[Key]) -> list[Drift]:
    if not wrong:
        return []
    regions = Region.objects.select_related("club").in_bulk({key[0] for key in wrong})
    told = [(regions[key[0]], key[1], " ".join(key[2:])) for key in wrong]
    return [Drift(f"{region} of {region.club}, {month:%Y-%m}, {kind}") for region, month, kind in told]


def _worked_out(
    places: Collection[Place], areas: list[AreaMonth], *, at: dt.datetime
) -> Iterator[RegionMonth]:
    """The rows that the yards' months ask for; those of the map are put to `areas`."""
    cells = areas_kept.cells_of(places, at=at)
    basis, _ = EstimateBasis.objects.get_or_create(version=DEFAULTS.version, constants=METHOD)
    levels = [row.as_value() for row in ActionLevel.objects.all()]
    asked = [[region_id for region_id, _ in places], [month for _, month in places]]
    for region_id, month, kind, own in _cells(yard_sums.stored(_OF_REGIONS, asked)):
        by_level = levels_of_month(levels, kind, month)
        parts = list(_parts(own, by_level))
        if parts[0][2].reason is None and areas_kept.is_kept(month, at=at):
            told = {part for part, _, figures in parts if figures.reason is None}
            divisions = _divisions(own, told)
            areas += areas_kept.areas_of(own, parts[0][2], cells, divisions, place=(region_id, month, kind))
        for part, yards, figures in parts:
            yield RegionMonth(
                region_id=region_id,
                month=month,
                kind=kind,
                part=part,
                samples=int(yards["samples"].sum()),
                zeros=int(yards["zeros"].sum()),
                mites=int(yards["mites"].sum()),
                bees=None if kind is Kind.BOARD else int(yards["bees"].sum()),
                board_days=float(yards["exposure"].sum()) if kind is Kind.BOARD else None,
                yards_effective=figures.effective,
                basis=basis,
                computed_at=at,
                **_columns(figures),
            )


_OF_REGIONS = "JOIN unnest(%s::bigint[], %s::date[]) AS asked (region_id, month) USING (region_id, month)"


def _cells(rows: Rows) -> Iterator[tuple[int, dt.date, Kind, Rows]]:
    """The rows of each region, month and kind, those of one yard after those of another; keepers are numbered from 0 in
    each, as nothing but telling them apart is needed."""
    rows = rows[np.lexsort((rows["yard_id"], rows["kind"], rows["month"], rows["region_id"]))]
    places = np.stack([rows["region_id"], rows["month"], rows["kind"]])
    begins = np.flatnonzero(np.any(places[:, 1:] != places[:, :-1], axis=0)) + 1
    for own in np.split(rows, begins):
        if len(own):
            own["keeper_id"] = np.unique(own["keeper_id"], return_inverse=True)[1]
            yield int(own["region_id"][0]), date_of(own["month"][0]), KINDS[own["kind"][0]], own


def _parts(own: Rows, by_level: dict[str, float]) -> Iterator[tuple[Part, Rows, RegionFigures]]:
    """All yards, and the parts of them that may be told apart."""
    whole = region_figures(votes_of(own), by_level)
    yield Part.ALL, own, whole
    if whole.reason is not None:
        return
    masks = _masks(own)
    shown = shown_parts(masks, own["keeper_id"])
    for part, mask in masks.items():
        yards = own[mask]
        if part in shown:
            yield part, yards, region_figures(votes_of(yards), by_level)
        elif len(yards):
            keepers = len(np.unique(yards["keeper_id"]))
            sizes = len(yards), keepers, int(yards["colonies"].sum())
            yield part, yards, RegionFigures(*sizes, reason=SuppressReason.SMALL_PART)


def _masks(own: Rows) -> dict[Part, Mask]:
    return part_masks(
        own["brood"] == BROOD.index(BroodSeen.WITH),
        own["brood"] == BROOD.index(BroodSeen.WITHOUT),
        own["treated_days"],
    )


def _divisions(own: Rows, told: Collection[Part]) -> list[list[Mask]]:
    """The divisions of which parts are told, as groups of yards."""
    masks = _masks(own)
    return [[masks[part] for part in parts] for parts in DIVISIONS if set(parts) & set(told)]


def _columns(figures: RegionFigures) -> dict[str, Any]:
    named = {name: getattr(figures, name) for name in ("yards", "keepers", "colonies", *COLUMNS)}
    return named | {
        "squared_cv": figures.c2,
        "reason": figures.reason or "",
        "shares": {key: [one.share, one.low, one.high] for key, one in figures.shares.items()},
    }


def _key(row: RegionMonth) -> Key:
    return row.region_id, row.month, row.kind, row.part


def _alike(one: RegionMonth | None, other: RegionMonth | None) -> bool:
    if one is None or other is None:
        return one is other
    if one.shares.keys() != other.shares.keys():
        return False
    ends = [pair for key in one.shares for pair in zip(one.shares[key], other.shares[key], strict=True)]
    measured = [(getattr(one, name), getattr(other, name)) for name in MEASURED]
    return all(getattr(one, name) == getattr(other, name) for name in EXACT) and all(
        _close(*pair) for pair in [*measured, *ends]
    )


def _close(one: float | None, other: float | None) -> bool:
    return one is other if one is None or other is None else isclose(one, other, rel_tol=1e-9, abs_tol=1e-12)
