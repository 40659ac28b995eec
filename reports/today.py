"""The list of what to do: over all yards in which somebody may log, or one; late first, one next action each."""

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.urls import reverse

from apiaries.language import mark, say
from apiaries.models import Person, Yard
from reports.matters import Matter, MatterKind, call_matters, matters_of
from reports.models import PutOff
from treatments.count_calls import CountCall, asking_of, calls_in, with_asked
from treatments.due import Standing, Urgency, read_standing
from treatments.models import Treatment


@dataclass(frozen=True, slots=True)
class TodayItem:
    """One thing to do as the page shows it: where, what, by when, its one action, and the ways not to do it now."""

    matter: Matter
    urgency: Urgency
    title: str
    words: str
    action: str
    url: str
    title_url: str
    skip_url: str
    """Where to say that it will not be done; empty where that cannot be said."""
    put_off_until: dt.date | None
    is_put_off: bool
    """Until a day that has not come."""
    can_wait: bool
    """Whether it can be put off for three days and still be of use then."""

    @property
    def name(self) -> str:
        """What is to be done, where nothing beside it says so."""
        named = {
            MatterKind.RECOUNT: mark("Recount after: {title}"),
            MatterKind.ROUND: mark("Round: {title}"),
            MatterKind.OUT: mark("To take out: {title}"),
        }.get(self.matter.kind)
        return say(named, title=self.title) if named else self.title

    @property
    def earlier_url(self) -> str:
        """Where to add a count that was made and not logged yet; empty for what is no count."""
        counts = (MatterKind.RECOUNT, MatterKind.COUNT, MatterKind.WEEK)
        open_now = self.urgency is not Urgency.COMING and not self.closed
        return f"{self.url}?earlier=1" if self.matter.kind in counts and open_now else ""

    @property
    def out_url(self) -> str:
        """Where to note that something was taken out."""
        about = self.matter.about
        if isinstance(about, CountCall) or about.round is None:
            return ""
        return reverse("treatments:round-out", args=[about.treatment.pk, about.round.number])

    @property
    def closed(self) -> bool:
        """A recount for which it is too late."""
        return not isinstance(self.matter.about, CountCall) and self.matter.about.closed


@dataclass(frozen=True, slots=True)
class TodayList:
    """What is to be done now, and what the reader put off."""

    now: list[TodayItem]
    put_off: list[TodayItem]

    @property
    def all(self) -> list[TodayItem]:
        """Both together."""
        return self.now + self.put_off


def today_list(person: Person, on: dt.date, *, yard: Yard | None = None) -> TodayList:
    """What is to be done on a day, in all open yards in which the person may log or in one. Constant queries."""
    return today_in_yards(open_yards(person, yard=yard), person, on)


def open_yards(person: Person, *, yard: Yard | None = None) -> list[Yard]:
    """Open yards in which the person may log, all or that one, by name, with what their list asks for. One query."""
    yards = with_asked(Yard.objects.recordable_by(person).filter(closed_on=None))
    return list(yards if yard is None else yards.filter(pk=yard.pk))


def today_in_yards(yards: Sequence[Yard], person: Person, on: dt.date) -> TodayList:
    """The same of `open_yards`."""
    treatments = Treatment.objects.filter(yard__in=[yard.pk for yard in yards])
    standing = read_standing(treatments, on, yards=yards)
    return today_of(standing, calls_in(asking_of(yards), on, standing.statuses), person, on)


def today_of(standing: Standing, calls: Iterable[CountCall], person: Person, on: dt.date) -> TodayList:
    """The same of yards whose treatments and calls for a count are known already."""
    items = _items(standing, calls, person, on)
    order = list(Urgency)
    items.sort(
        key=lambda one: (order.index(one.urgency), one.matter.last_on or on, one.matter.yard.name, one.url)
    )
    return TodayList(
        now=[one for one in items if not one.is_put_off], put_off=[one for one in items if one.is_put_off]
    )


def item_about(person: Person, subject: str, on: dt.date) -> TodayItem | None:
    """The one thing on a person's list that is filed under this; None if it is done, over or not theirs."""
    return next((one for one in today_list(person, on).all if one.matter.subject == subject), None)


def _items(standing: Standing, calls: Iterable[CountCall], person: Person, on: dt.date) -> list[TodayItem]:
    matters = matters_of(standing, on) + call_matters(calls)
    if not matters:
        return []
    rows = PutOff.objects.filter(person=person, subject__in=[one.subject for one in matters])
    put_off = dict(rows.values_list("subject", "until"))
    return [_item(matter, put_off.get(matter.subject), on) for matter in matters]


def _item(matter: Matter, until: dt.date | None, on: dt.date) -> TodayItem:
    about = matter.about
    if isinstance(about, CountCall):
        return _of_call(matter, about, until, on)
    return TodayItem(
        matter=matter,
        urgency=about.urgency,
        title=say(about.treatment.application.name),
        words=about.words,
        action=about.action,
        url=about.url,
        title_url=reverse("treatments:treatment-detail", args=[about.treatment.pk]),
        skip_url=_skip_url(matter),
        put_off_until=until,
        is_put_off=until is not None and until > on,
        can_wait=matter.comes_back_on(on) is not None,
    )


def _of_call(matter: Matter, call: CountCall, until: dt.date | None, on: dt.date) -> TodayItem:
    leave_out = reverse("treatments:count-leave-out", args=[call.yard.pk])
    return TodayItem(
        matter=matter,
        urgency=Urgency.DUE if on <= call.last_on else Urgency.LATE,
        title=say("Count week") if matter.kind is MatterKind.WEEK else say("Routine count"),
        words=call.reason,
        action=say("Count the yard"),
        url=reverse("counts:yard-count", args=[call.yard.pk]),
        title_url=reverse("counts:count-week-list")
        if matter.kind is MatterKind.WEEK
        else reverse("apiaries:yard-detail", args=[call.yard.pk]),
        skip_url=f"{leave_out}?about={call.subject}",
        put_off_until=until,
        is_put_off=until is not None and until > on,
        can_wait=matter.comes_back_on(on) is not None,
    )


def _skip_url(matter: Matter) -> str:
    """A recount can be skipped from its first day on; what cannot be counted any more has that as its one action."""
    about = matter.about
    if isinstance(about, CountCall) or matter.kind is not MatterKind.RECOUNT:
        return ""
    if about.closed or about.urgency is Urgency.COMING:
        return ""
    return reverse("treatments:recount-skip", args=[about.treatment.recount.pk])
