"""Time zones by their names. Pure."""

from functools import cache
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError, available_timezones


@cache
def zone_of(name: str) -> ZoneInfo:
    """The zone; UTC for a name that the time zone data base of this machine does not have.

    Names are checked when they are entered, but a data base can lose one. Hours that are off then do less harm than
    a page that cannot be shown and mails that cannot be sent.
    """
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError):
        return ZoneInfo("UTC")


@cache
def zone_names() -> frozenset[str]:
    """All there are. Kept: Python reads some hundred files each time it is asked, and every saved yard asks."""
    return frozenset(available_timezones())
