"""What a month's bulletin rests on: the published figures of all regions, and how they are kept beside its text. Pure.

Nothing here is more than the page of published months shows: numbers are bands, hidden months have no figure.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from enum import StrEnum
from typing import Any, Self

from apiaries.language import figure as written
from apiaries.language import say
from counts.samples import Kind
from reports.kinds import UNITS


class State(StrEnum):
    """What is known of a region's month. That nobody counted is not the same as that too few did."""

    SHOWN = "shown"
    HIDDEN = "hidden"
    NOT_COUNTED = "not_counted"


@dataclass(frozen=True, slots=True)
class Figure:
    """A rate with its range, in the unit of its kind and to the decimal that was published."""

    rate: float
    low: float
    high: float
    none_found: bool = False
    """Mites were looked for and there was none; a rate that rounds to 0.0 is something else."""

    @property
    def range(self) -> str:
        """1.4 to 3.1"""
        return say("{low} to {high}", low=written(f"{self.low:.1f}"), high=self.most)

    @property
    def told(self) -> str:
        """The rate alone."""
        return written(f"{self.rate:.1f}")

    @property
    def most(self) -> str:
        """The upper end of the range."""
        return written(f"{self.high:.1f}")

    def is_above(self, other: Figure) -> bool:
        """Whether the whole range lies above the other's. Of two that do not overlap, one is clearly more."""
        return self.low > other.high


@dataclass(frozen=True, slots=True)
class Share:
    """Of the yards, how many in a hundred have a mean above an action level."""

    share: float
    low: float
    high: float
    level: float

    @property
    def told(self) -> str:
        """Whole per cent; never a bare 0 or 100."""
        whole = round(self.share * 100)
        return "<1 %" if whole < 1 else ">99 %" if whole > 99 else f"{whole} %"

    @property
    def range(self) -> str:
        return say("{low} to {high} %", low=round(self.low * 100), high=round(self.high * 100))


@dataclass(frozen=True, slots=True)
class RegionFigure:
    """One region's month of one kind of count."""

    name: str
    state: State
    why_hidden: str = ""
    """In the words of the code: they are said to each reader."""
    figure: Figure | None = None
    median: float | None = None
    share: Share | None = None
    keepers: str = ""
    yards: str = ""
    bees: int = 0
    board_days: int = 0
    """About how many stand behind the figure; of bees and board days at most one."""
    before: Figure | None = None
    """The same month a year before."""
    high_beside: int = 0
    """So many earlier years beside which it is unusually high; 0 where it is not."""
    uncertain: bool = False

    @property
    def none_found(self) -> bool:
        return self.figure is not None and self.figure.none_found

    @property
    def looked_at(self) -> str:
        return looked_at_words(self.bees, self.board_days)

    @classmethod
    def from_kept(cls, kept: Mapping[str, Any]) -> Self:
        figure, before, share = (kept[name] for name in ("figure", "before", "share"))
        return cls(
            **{
                **_in_numbers(kept),
                "state": State(kept["state"]),
                "figure": Figure(**figure) if figure else None,
                "before": Figure(**before) if before else None,
                "share": Share(**share) if share else None,
            }
        )


@dataclass(frozen=True, slots=True)
class KindFigures:
    """All regions of one kind of count, by name."""

    kind: Kind
    regions: tuple[RegionFigure, ...]

    @property
    def unit(self) -> str:
        return say(UNITS[self.kind])

    def of(self, state: State) -> list[RegionFigure]:
        return [region for region in self.regions if region.state is state]

    @property
    def shown(self) -> list[tuple[RegionFigure, Figure]]:
        """The regions that have a figure, with it."""
        return [(region, region.figure) for region in self.regions if region.figure is not None]

    @property
    def is_counted(self) -> bool:
        return any(region.state is not State.NOT_COUNTED for region in self.regions)


@dataclass(frozen=True, slots=True)
class MonthFigures:
    """A club's month: the kind with most figures first, and what else is known as its bulletin is written."""

    month: dt.date
    kinds: tuple[KindFigures, ...]
    warned: tuple[str, ...] = ()
    """Ingredients that fell short in unusually many yards."""
    count_asked: bool = False
    """The club asks for a count in every yard in the next month."""
    week: tuple[dt.date, dt.date] | None = None
    """First and last day of the count week to come."""

    def as_kept(self) -> dict[str, Any]:
        """Plain values, for a JSON column."""
        week = [day.isoformat() for day in self.week] if self.week else None
        return asdict(self) | {"month": self.month.isoformat(), "week": week}

    @classmethod
    def from_kept(cls, kept: Mapping[str, Any]) -> Self:
        return cls(
            month=dt.date.fromisoformat(kept["month"]),
            kinds=tuple(
                KindFigures(Kind(one["kind"]), tuple(map(RegionFigure.from_kept, one["regions"])))
                for one in kept["kinds"]
            ),
            warned=tuple(kept["warned"]),
            count_asked=kept["count_asked"],
            week=(_day(kept["week"][0]), _day(kept["week"][1])) if kept["week"] else None,
        )


def looked_at_words(bees: int, board_days: int) -> str:
    """About how many bees or board days stand behind a figure; empty where neither is known."""
    if bees:
        return say("about {bees} bees", bees=written(f"{bees:,}"))
    return say("about {days} board days", days=written(f"{board_days:,}")) if board_days else ""


def _in_numbers(kept: Mapping[str, Any]) -> dict[str, Any]:
    """What was kept, with numbers: the first bulletins kept words here, which only English readers understand."""
    plain = dict(kept)
    words = plain.pop("looked_at", "")
    if words:
        number = int("".join(filter(str.isdigit, words)))
        plain["board_days" if "board" in words else "bees"] = number
    return plain


def _day(kept: str) -> dt.date:
    """A day as it was kept; the first bulletins kept it in words (4 May 2027)."""
    try:
        return dt.date.fromisoformat(kept)
    except ValueError:
        return dt.datetime.strptime(kept, "%d %b %Y").date()  # noqa: DTZ007  (a calendar day has no zone)


def in_order(kinds: Sequence[KindFigures]) -> tuple[KindFigures, ...]:
    """The kinds in which anybody counted, that with most figures first; none is added to another."""
    order = list(Kind)
    counted = [kind for kind in kinds if kind.is_counted]
    return tuple(sorted(counted, key=lambda kind: (-len(kind.shown), order.index(kind.kind))))
