"""One region's month as the page Region by month shows it: a figure, a word why it is hidden, or no samples."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from apiaries.models import Region
from apiaries.templatetags.recount_words import month_year, one_decimal, plain, rate_range
from counts.action_levels import Level, LevelUnit
from reports.heat import is_uncertain, share_words
from reports.kinds import HIDDEN_WORDS
from reports.models import RegionMonth
from reports.parts import Part
from reports.pressure import SuppressReason

PART_WORDS = {
    Part.ALL: "All yards",
    Part.WITH_BROOD: "With brood",
    Part.WITHOUT_BROOD: "Without brood",
    Part.TREATED_LATELY: "Treated within 6 weeks",
    Part.TREATED_BEFORE: "Treated 6 weeks to 6 months ago",
    Part.NOT_TREATED: "Not treated for 6 months, or none noted",
}
LEVEL_UNITS = {
    LevelUnit.PER_100_BEES: "per 100 bees",
    LevelUnit.PER_10_G: "per 10 g of bees",
    LevelUnit.PER_50_G: "per 50 g of bees",
    LevelUnit.PER_DAY: "per day",
    LevelUnit.PER_2_DAYS: "per 2 days",
    LevelUnit.PERCENT_CELLS: "% of cells",
}
PAST_TOLD = 3
"""So many of the past years are told in a cell; the page of one region has them all."""

Ends = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Past:
    """The same month of another year, as far as it may be shown; rates in the page's unit."""

    year: int
    rate: float
    low: float
    high: float
    bees: int | None
    board_days: float | None

    @property
    def amount(self) -> str:
        """On how many bees or board days it rests."""
        return amount_words(self.bees, self.board_days)

    @property
    def told(self) -> str:
        said = "none found" if self.rate == 0 else one_decimal(self.rate)
        return f"{self.year}: {said} ({rate_range(self.low, self.high)}), {self.amount}"


@dataclass(frozen=True)
class Cell:
    """One region's month. Exactly one of three: a figure, a word why it is hidden, or no samples at all."""

    month: dt.date
    region: Region
    row: RegionMonth | None
    level: Level | None
    """The action level that the share of yards is about, if one is chosen or the club's issuer has just one."""
    per: float
    unit: str
    ends: Ends | None = None
    """The share of yards above the level with its range, where it was read apart from the row."""
    heat: int | None = None
    """Class of the rate, drawn towards the other regions."""
    drawn: float | None = None
    """That rate, in the page's unit."""
    unusual: str = ""
    past: Sequence[Past] = ()
    """The same month of earlier years, the last first."""
    other: Past | None = None
    """The same month of the year to compare with."""

    @property
    def hidden(self) -> str:
        """Why the figures are not shown; empty where they are, or where there is nothing."""
        return HIDDEN_WORDS[SuppressReason(self.row.reason)] if self.row and self.row.reason else ""

    @property
    def shown(self) -> bool:
        return self.row is not None and not self.row.reason and self.row.rate is not None

    @property
    def rate(self) -> float | None:
        return self._in_unit(self.row.rate if self.row else None)

    @property
    def low(self) -> float | None:
        return self._in_unit(self.row.low if self.row else None)

    @property
    def high(self) -> float | None:
        return self._in_unit(self.row.high if self.row else None)

    @property
    def median(self) -> float | None:
        return self._in_unit(self.row.median if self.row else None)

    @property
    def tenth(self) -> float | None:
        return self._in_unit(self.row.tenth if self.row else None)

    @property
    def ninetieth(self) -> float | None:
        return self._in_unit(self.row.ninetieth if self.row else None)

    @property
    def none_found(self) -> bool:
        return self.shown and self.row is not None and self.row.mites == 0

    @property
    def uncertain(self) -> bool:
        """Whether the figure carries the mark for a wide range or few yards."""
        row = self.row
        if row is None or row.rate is None or row.low is None or row.high is None:
            return False
        return is_uncertain(row.rate, row.low, row.high, row.yards_effective)

    @property
    def amount(self) -> str:
        """On how many bees or board days the figure rests."""
        return amount_words(self.row.bees, self.row.board_days) if self.row else ""

    @property
    def level_rate(self) -> float | None:
        """The action level that the share is about, in the page's unit."""
        return self._in_unit(self.level.act_rate if self.level else None)

    @property
    def share(self) -> str:
        """The share of yards above the level in whole per cent; never a bare 0 or 100."""
        return share_words(*self._shares, self.row.yards)[0] if self._shares and self.row else ""

    @property
    def share_range(self) -> str:
        return share_words(*self._shares, self.row.yards)[1] if self._shares and self.row else ""

    @property
    def where(self) -> str:
        """What the cell is about."""
        return f"{self.region.name}, {month_year(self.month)}"

    @property
    def told(self) -> str:
        """All that the cell has to say, a line each: shown on hover and focus, and read out."""
        row = self.row
        if row is None or not self.shown:
            return f"{self.where}\n{f'Hidden: {self.hidden}' if self.hidden else 'No samples'}"
        counts = f"{row.samples} counts, {row.zeros} with no mite"
        found = "none found" if self.none_found else f"{one_decimal(self.rate)} {self.unit}"
        lines = [
            self.where,
            f"Mean of the yards: {found} ({rate_range(self.low, self.high)})",
            f"{self.amount} in {counts}",
            f"{row.keepers} keepers, {row.yards} yards, {row.colonies} colonies",
        ]
        if self.share:
            lines.append(f"{self.share} of yards above {plain(self.level_rate)} ({self.share_range})")
        if self.uncertain:
            lines.append("Uncertain: wide range or few yards")
        if self.unusual:
            lines.append(self.unusual[0].upper() + self.unusual[1:])
        if self.drawn is not None:
            lines.append(f"For colour and order {one_decimal(self.drawn)}, drawn towards the other regions")
        told = [self.other] if self.other else []
        told += [one for one in self.past[:PAST_TOLD] if one != self.other]
        return "\n".join([*lines, *(one.told for one in told)])

    @property
    def _shares(self) -> Ends | None:
        if self.ends is not None or self.level is None or self.row is None:
            return self.ends
        found = self.row.shares.get(self.level.key) if "shares" in self.row.__dict__ else None
        return tuple(found) if found else None

    def _in_unit(self, rate: float | None) -> float | None:
        return None if rate is None else rate * self.per


def amount_words(bees: int | None, board_days: float | None) -> str:
    """On how many bees or board days something rests."""
    if bees is not None:
        return f"{bees:,} bees"
    return f"{board_days:,.0f} board days" if board_days is not None else "number of days not kept"
