"""One region's month as the page Region by month shows it: a figure, a word why it is hidden, or no samples."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from apiaries.language import figure, mark, say
from apiaries.models import Region
from apiaries.templatetags.recount_words import month_year, one_decimal, plain, rate_range
from counts.action_levels import Level, LevelUnit
from reports.heat import is_uncertain, share_words
from reports.kinds import HIDDEN_WORDS
from reports.models import RegionMonth
from reports.parts import Part
from reports.pressure import SuppressReason

PART_WORDS = {
    Part.ALL: mark("All yards"),
    Part.WITH_BROOD: mark("With brood"),
    Part.WITHOUT_BROOD: mark("Without brood"),
    Part.TREATED_LATELY: mark("Treated within 6 weeks"),
    Part.TREATED_BEFORE: mark("Treated 6 weeks to 6 months ago"),
    Part.NOT_TREATED: mark("Not treated for 6 months, or none noted"),
}
LEVEL_UNITS = {
    LevelUnit.PER_100_BEES: mark("per 100 bees"),
    LevelUnit.PER_10_G: mark("per 10 g of bees"),
    LevelUnit.PER_50_G: mark("per 50 g of bees"),
    LevelUnit.PER_DAY: mark("per day"),
    LevelUnit.PER_2_DAYS: mark("per 2 days"),
    LevelUnit.PERCENT_CELLS: mark("% of cells"),
}
PAST_SURE = mark("{year}: {rate} ({range}), {amount}")
PAST_UNCERTAIN = mark("{year}: {rate} ({range}), {amount}, uncertain")
STANDINGS = {
    "above": mark("above {level}"),
    "either_side": mark("either side of {level}"),
    "below": mark("below {level}"),
}
"""How a mean stands to an action level."""
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
    uncertain: bool = False
    """By the same rule as a figure of the year shown."""

    @property
    def amount(self) -> str:
        """On how many bees or board days it rests."""
        return amount_words(self.bees, self.board_days)

    @property
    def told(self) -> str:
        return say(
            PAST_UNCERTAIN if self.uncertain else PAST_SURE,
            year=self.year,
            rate=say("none found") if self.rate == 0 else one_decimal(self.rate),
            range=rate_range(self.low, self.high),
            amount=self.amount,
        )


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
    """Class of the levelled rate: drawn towards the other regions of the month."""
    drawn: float | None = None
    """That rate, in the page's unit."""
    own_class: int | None = None
    """Class of the rate itself."""
    unusual: str = ""
    past: Sequence[Past] = ()
    """The same month of earlier years, the last first."""
    other: Past | None = None
    """The same month of the year to compare with."""

    @property
    def hidden(self) -> str:
        """Why the figures are not shown; empty where they are, or where there is nothing."""
        return say(HIDDEN_WORDS[SuppressReason(self.row.reason)]) if self.row and self.row.reason else ""

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
    def levelled(self) -> float | None:
        """The levelled rate where its class, and so the colour, is another than that of the figure in the cell."""
        return self.drawn if self.shown and self.own_class != self.heat else None

    @property
    def standing(self) -> str:
        """Key of how the mean stands to the action level: by its range; empty without a level."""
        level, low, high = self.level_rate, self.low, self.high
        if not self.shown or level is None or low is None or high is None:
            return ""
        return "above" if low > level else "below" if high < level else "either_side"

    @property
    def standing_words(self) -> str:
        """The same in words."""
        return say(STANDINGS[self.standing], level=plain(self.level_rate)) if self.standing else ""

    @property
    def change(self) -> str:
        """Beside the year to compare with, as far as ranges tell; empty where there is none."""
        if self.other is None or not self.shown or self.low is None or self.high is None:
            return ""
        if self.low > self.other.high:
            return say("higher than in {year}", year=self.other.year)
        if self.high < self.other.low:
            return say("lower than in {year}", year=self.other.year)
        return say("no clear difference")

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
            why = say("Hidden: {why}", why=self.hidden) if self.hidden else say("No samples of this kind")
            return f"{self.where}\n{why}"
        lines = [
            self.where,
            mean_words(self),
            counts_words(self.amount, row.samples, row.zeros),
            say(
                "{keepers} keepers, {yards} yards, {colonies} colonies",
                keepers=row.keepers,
                yards=row.yards,
                colonies=row.colonies,
            ),
        ]
        if self.share:
            lines.append(
                say(
                    "{share} of yards above {level} ({range})",
                    share=self.share,
                    level=plain(self.level_rate),
                    range=self.share_range,
                )
            )
        if self.uncertain:
            lines.append(say("Uncertain: wide range or few yards"))
        if self.unusual:
            lines.append(self.unusual[0].upper() + self.unusual[1:])
        if self.drawn is not None:
            drawn = one_decimal(self.drawn)
            lines.append(
                say("Levelled, for colour and order: {rate}, drawn towards the other regions", rate=drawn)
            )
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
        return say("{bees} bees", bees=figure(f"{bees:,}"))
    if board_days is not None:
        return say("{days} board days", days=figure(f"{board_days:,.0f}"))
    return say("number of days not kept")


class Told(Protocol):
    """A region's month, or a piece of it on the map."""

    @property
    def none_found(self) -> bool: ...
    @property
    def rate(self) -> float | None: ...
    @property
    def low(self) -> float | None: ...
    @property
    def high(self) -> float | None: ...
    @property
    def unit(self) -> str: ...


def mean_words(one: Told) -> str:
    """The mean of its yards with its range."""
    found = say("none found") if one.none_found else f"{one_decimal(one.rate)} {one.unit}"
    return say("Mean of the yards: {mean} ({range})", mean=found, range=rate_range(one.low, one.high))


def counts_words(amount: str, samples: int, zeros: int) -> str:
    """On how many counts it rests."""
    return say(
        "{amount} in {counts} counts, {zeros} with no mite", amount=amount, counts=samples, zeros=zeros
    )
