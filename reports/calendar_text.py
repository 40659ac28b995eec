"""A calendar feed as text, after RFC 5545 and RFC 7986 (both from memory); the library folds and escapes."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from icalendar import Calendar, Event, vDuration

from treatments.status import days_after

ASK_AGAIN = dt.timedelta(hours=12)  # our choice: calendar programs keep their own pace anyway
PRODUCT = "-//Recount//Recounts and treatments//EN"


@dataclass(frozen=True, kw_only=True, slots=True)
class FeedEvent:
    """One day in the feed. `sequence` and `changed_at` come from the rows, so that asking again changes nothing."""

    uid: str
    on: dt.date
    summary: str
    description: str
    url: str
    ended: bool
    sequence: int
    changed_at: dt.datetime


def calendar_text(events: Sequence[FeedEvent], *, name: str) -> bytes:
    """The whole feed, events by day."""
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("method", "PUBLISH")
    calendar.add("x-wr-calname", name)
    calendar.add("refresh-interval", ASK_AGAIN, parameters={"VALUE": "DURATION"})
    calendar.add("x-published-ttl", vDuration(ASK_AGAIN).to_ical().decode())
    for event in sorted(events, key=lambda event: (event.on, event.uid)):
        calendar.add_component(_component(event))
    return calendar.to_ical()


def _component(event: FeedEvent) -> Event:
    """All day in whatever zone it is read: a date has none. It ends on the day after, which is excluded."""
    component = Event()
    component.add("uid", event.uid)
    component.add("dtstamp", event.changed_at)
    component.add("last-modified", event.changed_at)
    component.add("sequence", event.sequence)
    component.add("dtstart", event.on)
    component.add("dtend", days_after(event.on, 1))
    component.add("summary", event.summary)
    component.add("description", event.description)
    component.add("url", event.url)
    component.add("transp", "TRANSPARENT")
    component.add("class", "PRIVATE")
    if event.ended:
        component.add("status", "CANCELLED")
    return component
