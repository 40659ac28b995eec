"""What a calendar feed tells: recounts, planned rounds, what to take out, clear dates. No counts and no places."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, replace
from urllib.parse import urlsplit

from django.conf import settings
from django.urls import reverse

from apiaries.language import mark, say
from apiaries.templatetags.recount_words import day as day_words
from reports.access import yards_of_feed
from reports.calendar_changes import Changes, changes_of, treated_colonies
from reports.calendar_text import FeedEvent
from reports.models import CalendarFeed
from treatments.around import around_of, whole
from treatments.models import Round, Treatment
from treatments.recount_rules import RecountStatus
from treatments.results import statuses_of
from treatments.status import days_after

ENDED_KEPT = dt.timedelta(days=30)  # our choice: calendar programs that ask rarely still hear of it
OPEN_KEPT = dt.timedelta(days=365)  # our choice: what nobody closed is not shown for ever
OTHERS_YARD = mark("a yard you help in")
"""Its name is its keeper's, and a feed may be read by anybody with the address."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Thing:
    """One thing with a day. `ended` says in a word how it ended, `ended_on` since when; both empty while open."""

    key: str
    on: dt.date
    what: str
    inside: str
    """The same inside a sentence: German keeps capitals there."""
    words: str
    ended: str = ""
    ended_on: dt.date | None = None

    def is_told(self, today: dt.date) -> bool:
        """Whether it is still of use in a calendar."""
        if self.ended_on is not None:
            return self.ended_on + ENDED_KEPT >= today
        return self.on + OPEN_KEPT >= today


def feed_events(feed: CalendarFeed, *, today: dt.date) -> list[FeedEvent]:
    """Everything the feed tells on a day. The queries do not grow with yards or treatments."""
    treatments = list(
        whole(
            Treatment.objects.filter(
                yard__in=yards_of_feed(feed).values("pk"), recount__latest_on__gte=today - OPEN_KEPT
            )
        )
    )
    statuses = statuses_of(around_of(treatments, today, with_others=False), today)
    treated = treated_colonies(treatments)
    changes = changes_of(treatments, treated)
    return [
        _event(thing, treatment, changes[treatment.pk], feed)
        for treatment in treatments
        for thing in _things(treatment, statuses[treatment.recount.pk], treated[treatment.pk].all_gone)
        if thing.is_told(today)
    ]


def _event(thing: Thing, treatment: Treatment, changes: Changes, feed: CalendarFeed) -> FeedEvent:
    yard = treatment.yard.name if treatment.yard.keeper_id == feed.person_id else say(OTHERS_YARD)
    what = f"{thing.ended}: {thing.inside}" if thing.ended else thing.what
    return FeedEvent(
        uid=f"{thing.key}-{treatment.entry_key}@{urlsplit(settings.SITE_URL).hostname}",
        on=thing.on,
        summary=f"{what}, {yard}",
        description=say("{words} Treatment: {way}.", words=thing.words, way=say(treatment.application.name)),
        url=settings.SITE_URL + reverse("treatments:treatment-detail", args=[treatment.pk]),
        ended=bool(thing.ended),
        sequence=changes.number,
        changed_at=changes.last_at,
    )


def _things(treatment: Treatment, status: RecountStatus, all_gone: bool) -> Iterator[Thing]:
    """All things of one treatment; a cancelled treatment and a closed yard end all that was still open."""
    recorded_on = treatment.yard.local_date(treatment.recorded_at)
    things = [thing for one in treatment.rounds.all() for thing in _of_round(one, treatment, recorded_on)]
    things += _recount(treatment, status, all_gone, recorded_on)
    things += _clear_date(treatment)
    if treatment.cancelled_at is not None:
        yield from (
            _ended(one, say("Cancelled"), treatment.yard.local_date(treatment.cancelled_at)) for one in things
        )
    elif treatment.yard.closed_on is not None:
        closed_on = treatment.yard.closed_on
        yield from (_ended(one, say("Yard closed"), closed_on) for one in things)
    else:
        yield from things


def _ended(thing: Thing, word: str, on: dt.date) -> Thing:
    return thing if thing.ended else replace(thing, ended=word, ended_on=on)


def _recount(
    treatment: Treatment, status: RecountStatus, all_gone: bool, recorded_on: dt.date
) -> Iterator[Thing]:
    """The recount on its ideal day; none for a treatment written down when it was late already."""
    recount = treatment.recount
    if recorded_on > recount.latest_on:
        return
    thing = Thing(
        key="recount",
        on=recount.ideal_on,
        what=say("Recount"),
        inside=say("recount"),
        words=say(
            "Count from {first} to {last}, best on {ideal}. {why}",
            first=day_words(recount.earliest_on),
            last=day_words(recount.latest_on),
            ideal=day_words(recount.ideal_on),
            why=say(recount.reason),
        ),
    )
    if recount.skipped_at is not None:
        yield _ended(thing, say("Skipped"), treatment.yard.local_date(recount.skipped_at))
    elif status is RecountStatus.DONE:
        yield _ended(thing, say("Done"), recount.latest_on)
    elif all_gone:
        yield _ended(thing, say("No treated colony left"), recount.latest_on)
    else:
        yield thing


def _of_round(one: Round, treatment: Treatment, recorded_on: dt.date) -> Iterator[Thing]:
    """To give it on its planned day, and to take out what stays in; not what was past when it was written down."""
    number, way = one.number, treatment.application
    give = Thing(
        key=f"round-{number}",
        on=one.planned_on,
        what=say("Give round {number}", number=number),
        inside=say("give round {number}", number=number),
        words=say("Read the label and the cautions first. The label decides."),
    )
    if one.given_on is None:
        yield give
        return
    if max(one.given_on, one.planned_on) > recorded_on:
        yield _ended(give, say("Done"), one.given_on)
    if way.stays_in_days or one.out_by:
        due_on = one.out_by or days_after(one.given_on, way.stays_in_days)
        take = Thing(
            key=f"out-{number}",
            on=due_on,
            what=say("Take out round {number}", number=number),
            inside=say("take out round {number}", number=number),
            words=say("Take out what is in the hives, on the day the label says."),
        )
        yield take if one.out_on is None else _ended(take, say("Done"), one.out_on)


def _clear_date(treatment: Treatment) -> Iterator[Thing]:
    """The end of the withdrawal period, where the keeper entered the label's days."""
    clear_on = treatment.clear_on()
    if clear_on is not None:
        yield Thing(
            key="clear",
            on=clear_on,
            what=say("Clear date"),
            inside=say("clear date"),
            words=say(
                "The end of the withdrawal period, from the days entered. The label and local rules decide."
            ),
        )
