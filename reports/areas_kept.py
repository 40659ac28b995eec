"""Keeps what the map of a region's month shows: the region as a whole, and its pieces where it has any."""

import datetime as dt
from collections.abc import Collection, Iterator, Mapping, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from apiaries.models import Yard
from counts.samples import Kind
from reports._binary import Rows
from reports.areas import footprint, pieces_of
from reports.constants import DEFAULTS
from reports.models import AreaMonth
from reports.pressure import RegionFigures, YardCounts, mean_figures

Mask = npt.NDArray[np.bool_]
Cells = Mapping[int, str]
AT_ONCE = 500


def is_kept(month: dt.date, *, at: dt.datetime) -> bool:
    """Whether the map goes back to this month."""
    return month.year > at.year - DEFAULTS.map_years.value


def cells_of(places: Collection[tuple[int, dt.date]], *, at: dt.datetime) -> Cells:
    """The coarse cells of the yards of these regions, as far as the map goes back."""
    regions = {region_id for region_id, month in places if is_kept(month, at=at)}
    return dict(Yard.objects.filter(region__in=regions).exclude(cell="").values_list("pk", "cell"))


def areas_of(
    own: Rows,
    whole: RegionFigures,
    cells: Cells,
    divisions: Sequence[Sequence[Mask]],
    *,
    place: tuple[int, dt.date, Kind],
) -> Iterator[AreaMonth]:
    """The rows of one region, month and kind that may be shown, the whole with its figures among them: `divisions` are
    those of which parts are told too."""
    of_yards = [cells.get(yard_id, "") for yard_id in own["yard_id"].tolist()]
    pieces = pieces_of(of_yards, own["keeper_id"], divisions)
    for cell, mask in pieces.items():
        yield _area(own[mask], mean_figures(votes_of(own[mask])), place, piece=cell, cells=[cell])
    yield _area(own, whole, place, piece="", cells=footprint(of_yards, own["keeper_id"]))


def replace(
    places: Collection[tuple[int, dt.date]], areas: Sequence[AreaMonth], *, at: dt.datetime
) -> list[tuple[int, dt.date, str, str]]:
    """Write these rows in place of all there are of these regions and months; those that changed, by region, month,
    kind and piece."""
    months = {month for _, month in places}
    rows = AreaMonth.objects.filter(region__in={region_id for region_id, _ in places}, month__in=months)
    old = [row for row in rows if (row.region_id, row.month) in places]
    AreaMonth.objects.filter(pk__in=[row.pk for row in old]).delete()
    AreaMonth.objects.bulk_create(areas, batch_size=AT_ONCE)
    stood = {_exact(row) for row in old if is_kept(row.month, at=at)}
    return sorted({exact[:4] for exact in stood ^ {_exact(row) for row in areas}})


def _exact(row: AreaMonth) -> tuple[int, dt.date, str, str, tuple[object, ...]]:
    """What has to agree to the last digit; the rest follows from it."""
    cells = tuple(sorted(row.cells))
    numbers = (row.yards, row.keepers, row.samples, row.zeros, row.mites, row.bees, cells)
    return row.region_id, row.month, str(row.kind), row.piece, numbers


def votes_of(rows: Rows) -> YardCounts:
    """One vote for each of the rows."""
    return YardCounts(
        rows["mites"].astype(np.float64),
        rows["exposure"],
        rows["squared_cv"],
        rows["keeper_id"],
        rows["colonies"],
    )


def _area(
    yards: Rows, figures: RegionFigures, place: tuple[int, dt.date, Kind], *, piece: str, cells: Sequence[str]
) -> AreaMonth:
    region_id, month, kind = place
    boards = kind is Kind.BOARD
    measured: dict[str, Any] = {name: getattr(figures, name) for name in ("rate", "low", "high", "exposure")}
    measured |= {"squared_cv": figures.c2, "yards_effective": figures.effective}
    return AreaMonth(
        region_id=region_id,
        month=month,
        kind=kind,
        piece=piece,
        cells=list(cells),
        yards=figures.yards,
        keepers=figures.keepers,
        samples=int(yards["samples"].sum()),
        zeros=int(yards["zeros"].sum()),
        mites=int(yards["mites"].sum()),
        bees=None if boards else int(yards["bees"].sum()),
        board_days=float(yards["exposure"].sum()) if boards else None,
        **measured,
    )
