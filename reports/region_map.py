"""The map of a month: regions, or pieces of them where they may be told apart, with the table beside it."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Q

from apiaries.language import say
from apiaries.models import Region
from apiaries.templatetags.recount_words import month_year, one_decimal
from counts.samples import Kind
from reports.constants import DEFAULTS
from reports.heat import heat_class, is_uncertain
from reports.kinds import PER, UNITS
from reports.map_shapes import Shape, Sheet, laid_out, middle_shape, shared_out
from reports.models import AreaMonth
from reports.parts import Part
from reports.presenters import RegionTable
from reports.pressure import drawn_together
from reports.region_cells import amount_words, counts_words, mean_words

PIECES_UP_TO = 8
"""With more regions than these side by side, each is one area; its pieces are on its own page (our choice)."""


@dataclass(frozen=True)
class Area:
    """One area of the map and line of its table."""

    number: int
    region: Region
    row: AreaMonth
    heat: int
    drawn: float
    """The rate drawn towards the other areas, in the page's unit: what the class goes by."""
    shapes: Sequence[Shape]
    """What is drawn of it; nothing where its cells are another one's, or too few keepers counted in each."""
    per: float
    unit: str

    @property
    def name(self) -> str:
        return say("{region}, a part", region=self.region.name) if self.row.piece else self.region.name

    @property
    def rate(self) -> float:
        return self.row.rate * self.per

    @property
    def low(self) -> float:
        return self.row.low * self.per

    @property
    def high(self) -> float:
        return self.row.high * self.per

    @property
    def none_found(self) -> bool:
        return self.row.mites == 0

    @property
    def uncertain(self) -> bool:
        return is_uncertain(self.row.rate, self.row.low, self.row.high, self.row.yards_effective)

    @property
    def amount(self) -> str:
        return amount_words(self.row.bees, self.row.board_days)

    @property
    def label(self) -> Shape | None:
        """Where its figure is written."""
        return middle_shape(self.shapes) if self.shapes else None

    @property
    def outline(self) -> str:
        """Its shapes as one path of SVG: written by a template, ten thousand corners take half a second."""
        corners = ([f"{x:g} {y:g}" for x, y in shape.corners] for shape in self.shapes)
        return "".join(f"M{'L'.join(around)}Z" for around in corners)

    @property
    def told(self) -> str:
        """All of it, a line each."""
        lines = [
            f"{self.number}: {self.name}, {month_year(self.row.month)}",
            mean_words(self),
            counts_words(self.amount, self.row.samples, self.row.zeros),
            say("{keepers} keepers, {yards} yards", keepers=self.row.keepers, yards=self.row.yards),
        ]
        if self.uncertain:
            lines.append(say("Uncertain: wide range or few yards"))
        drawn = one_decimal(self.drawn)
        lines.append(say("Levelled, for colour: {rate}, drawn towards the other areas", rate=drawn))
        return "\n".join(lines)


@dataclass(frozen=True)
class RegionMap:
    """A month of the year on the page."""

    month: dt.date
    months: int
    """The slider goes from January to this one."""
    areas: Sequence[Area]
    sheet: Sheet
    first_year: int
    """How far back there is a map."""

    @property
    def before(self) -> int | None:
        return self.month.month - 1 if self.month.month > 1 else None

    @property
    def after(self) -> int | None:
        return self.month.month + 1 if self.month.month < self.months else None

    @property
    def drawn(self) -> list[Area]:
        return [area for area in self.areas if area.shapes]

    @property
    def has_pieces(self) -> bool:
        return any(area.row.piece for area in self.areas)

    @property
    def alt(self) -> str:
        """What the map says, for those who do not see it."""
        said = [f"{area.number}, {area.name}: {one_decimal(area.rate)}" for area in self.drawn]
        return say(
            "Map of {month}. {areas}. The table beside it has every figure.",
            month=month_year(self.month),
            areas="; ".join(said),
        )


def region_map(
    table: RegionTable, asked: str, *, today: dt.date, regions: Sequence[Region] = ()
) -> RegionMap | None:
    """The map of the month asked for, else of the last one with figures; none for a part of the yards. One query.

    Areas are levelled with those of all `regions` of the club, so that one region's page shows what all of them do.
    """
    choice = table.choice
    if choice.part is not Part.ALL or not table.months:
        return None
    shown = [cell.month for cell in table.cells if cell.shown]
    number = int(asked) if asked.isascii() and asked.isdigit() and len(asked) < 3 else 0
    usual = max(shown, default=table.months[-1])
    month = table.months[number - 1] if 1 <= number <= len(table.months) else usual
    beside = regions or table.regions
    found = AreaMonth.objects.filter(region__in=beside, month=month, kind=choice.kind)
    if len(beside) > PIECES_UP_TO:
        found = found.filter(Q(piece="") | Q(region=choice.region) if choice.region else Q(piece=""))
    rows = list(found)
    # A piece that holds all yards of its region is no part of it.
    whole = {row.region_id: row for row in rows if not row.piece}
    parts = [row for row in rows if row.piece and row.yards < whole[row.region_id].yards]
    apart = {row.region_id for row in parts}
    undivided = [row for region_id, row in whole.items() if region_id not in apart]
    areas, sheet = _areas([*parts, *undivided], table.regions, choice.kind)
    first_year = today.year - int(DEFAULTS.map_years.value) + 1
    return RegionMap(month, len(table.months), areas, sheet, first_year)


def _areas(rows: Sequence[AreaMonth], regions: Sequence[Region], kind: Kind) -> tuple[list[Area], Sheet]:
    names = {region.pk: region for region in regions}
    shown = [row for row in rows if row.region_id in names]
    if not shown:
        return [], laid_out([])
    levelled = drawn_together(
        [row.mites for row in rows], [row.exposure for row in rows], [row.squared_cv for row in rows]
    ).tolist()
    rate_of = {row.pk: rate for row, rate in zip(rows, levelled, strict=True)}
    order = sorted(shown, key=lambda row: (names[row.region_id].name, row.region_id, row.piece))
    rates = [rate_of[row.pk] for row in order]
    cells = shared_out([(row.cells, row.yards) for row in order])
    sheet = laid_out(sorted(cell for own in cells for cell in own))
    made = [
        Area(
            number,
            names[row.region_id],
            row,
            heat_class(rate, kind),
            rate * PER[kind],
            [sheet.shapes[cell] for cell in own],
            PER[kind],
            say(UNITS[kind]),
        )
        for number, (row, rate, own) in enumerate(zip(order, rates, cells, strict=True), start=1)
    ]
    return made, sheet
