"""When a person may be written to: their mail hour, no night, no quiet day of the week. Pure."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection

from reports.due_days import end_of_day, instant_of, local_day

NIGHT_FROM, NIGHT_TO = dt.time(21), dt.time(7)
"""No mail leaves between these readings of a person's clock (common practice, no source)."""
CHOSEN_HOUR = dt.timedelta(hours=1)
"""A mail hour chosen inside the night is meant: so long from it mail leaves all the same (our choice)."""
LOOK_AHEAD = 14
"""Days looked at: six quiet ones may follow each other, and clocks may skip some more."""

Span = tuple[dt.datetime, dt.datetime]
"""From an instant on, until just before another."""


def next_opening(
    moment: dt.datetime, *, zone: str, mail_at: dt.time, quiet_days: Collection[int]
) -> dt.datetime:
    """The earliest instant at or after a moment at which the person may be written to.

    ValueError if every day of the week is quiet.
    """
    today = local_day(moment, zone)
    for ahead in range(LOOK_AHEAD):
        on = today + dt.timedelta(days=ahead)
        if on.weekday() in quiet_days:
            continue
        for opens, closes in open_spans(on, zone=zone, mail_at=mail_at):
            if moment < closes:
                return max(moment, opens)
    raise ValueError("There is no day of the week without quiet.")


def open_spans(on: dt.date, *, zone: str, mail_at: dt.time) -> list[Span]:
    """When mail may leave on a day that is not quiet, in order; a day that the clocks skip has no such time.

    An hour chosen late in the evening ends with its day: the next one has a mail of its own.
    """
    hour = instant_of(on, mail_at, zone)
    spans = [(max(hour, instant_of(on, NIGHT_TO, zone)), instant_of(on, NIGHT_FROM, zone))]
    if not NIGHT_TO <= mail_at < NIGHT_FROM:
        spans.append((hour, min(hour + CHOSEN_HOUR, end_of_day(on, zone))))
    return sorted((opens, closes) for opens, closes in spans if opens < closes)
