"""What the dates of a treatment say about where it stands. Pure."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum


def days_after(day: dt.date, days: int) -> dt.date:
    """So many days later, or earlier for fewer than none; the last or first day there is where the calendar ends.

    One absurd date, from wherever it came, must not keep what is due from everybody.
    """
    try:
        return day + dt.timedelta(days=days)
    except OverflowError:
        return dt.date.max if days > 0 else dt.date.min


class TreatmentStatus(StrEnum):
    """Where a treatment stands on a day."""

    PLANNED = "planned"
    IN_PROGRESS = "in_progress"
    FINISHED = "finished"
    CANCELLED = "cancelled"


@dataclass(frozen=True, slots=True)
class RoundDates:
    """One round: planned, given, and taken out again. `stays_in_days` is 0 for what is given and gone.

    `label_says`: it stays in, but how long only the label tells; over once somebody took it out. `out_by`: the day to
    take it out by the keeper's label, which goes before any published number of days.
    """

    planned_on: dt.date
    given_on: dt.date | None = None
    out_on: dt.date | None = None
    stays_in_days: int = 0
    label_says: bool = False
    out_by: dt.date | None = None

    @property
    def stays(self) -> bool:
        """Whether something of it stays in the hive at all."""
        return self.label_says or self.stays_in_days > 0

    @property
    def last_on(self) -> dt.date:
        """Last day of the round: the real one where it is known, else the planned one."""
        known = self.out_on or self.out_by
        if known is not None:
            return known
        return days_after(self.given_on or self.planned_on, self.stays_in_days)

    def is_given(self, on: dt.date) -> bool:
        """Given on that day or before."""
        return self.given_on is not None and self.given_on <= on

    def is_over(self, on: dt.date) -> bool:
        """Given, and nothing of it stays in the hive.

        What stays in is over only once somebody took it out.
        """
        if not self.is_given(on):
            return False
        return not self.stays or (self.out_on is not None and self.out_on <= on)

    def is_in_hive(self, on: dt.date) -> bool:
        """Given, and not taken out as far as anybody said."""
        return self.is_given(on) and not self.is_over(on)


def treatment_status(rounds: Sequence[RoundDates], cancelled: bool, on: dt.date) -> TreatmentStatus:
    """Status on a day.

    Strips past their days that nobody took out keep it in progress: they may still be in.
    """
    if cancelled:
        return TreatmentStatus.CANCELLED
    if not any(one.is_given(on) for one in rounds):
        return TreatmentStatus.PLANNED
    if all(one.is_over(on) for one in rounds):
        return TreatmentStatus.FINISHED
    return TreatmentStatus.IN_PROGRESS


def finished_on(rounds: Sequence[RoundDates]) -> dt.date | None:
    """Last day of the treatment, real where known, else planned; None without rounds."""
    return max((one.last_on for one in rounds), default=None)


def out_due_on(one: RoundDates) -> dt.date | None:
    """Day on which what stays in the hive is to be taken out; None when nothing is in, or the label says when."""
    if one.given_on is None or one.out_on is not None:
        return None
    return one.last_on if one.stays_in_days or one.out_by else None


def round_days(first: dt.date, rounds: int, gap_days: int) -> tuple[dt.date, ...]:
    """The days of so many rounds, each so many days after the one before; none for no rounds or gap."""
    if rounds < 1 or (gap_days < 1 and rounds > 1):
        return ()
    return tuple(first + dt.timedelta(days=gap_days * number) for number in range(rounds))
