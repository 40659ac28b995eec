"""Which yards are asked for a count besides recounts: by the club's calendar, by the outlook, by a count week.

A yard is asked by one of them at a time (`counts.call_rules` says which), and by none while a treatment is in a hive
or a recount is open in the same days: the recount is asked for then. Queries do not grow with the yards.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from django.db.models import Count, F, Min, Q, QuerySet
from django.db.models.functions import Coalesce

from apiaries.language import mark, say
from apiaries.models import Colony, Yard
from apiaries.second_lock import by_the_service
from apiaries.templatetags.recount_words import day, month_year
from counts.call_rules import (
    Call,
    CallWhy,
    again_call,
    again_subject,
    answers_call,
    blocked_by,
    calendar_call,
    calendar_subject,
    week_call,
    week_subject,
    yard_of,
)
from counts.models import CountLeftOut, CountWeek, MiteSample
from counts.samples import Kind, Method, kind_of
from treatments.models import Dose, Recount, YardOutlook
from treatments.models.ways import stays_in_hive
from treatments.recount_rules import RecountStatus
from treatments.results import recount_statuses

OPEN = (RecountStatus.NOT_DUE, RecountStatus.DUE, RecountStatus.LATE)
ZERO_COUNTS = mark("A count that finds no mites counts as much as any other.")


@dataclass(frozen=True, slots=True)
class CountCall:
    """One yard is asked for a count: why, from when, by when, and the last day on which to speak of it."""

    yard: Yard
    why: CallWhy
    subject: str
    first_on: dt.date
    last_on: dt.date
    over_on: dt.date
    reason: str
    colonies: int
    """Living colonies of the yard."""


@dataclass(frozen=True, slots=True)
class Asking:
    """A yard that may be asked, and how many colonies live there; and what is known of it already."""

    yard: Yard
    colonies: int
    treated: bool | None = None
    """Whether a living colony has something of a treatment in it; None: to be asked."""
    any_week: bool = True
    """Whether its club ever had a count week."""
    any_outlook: bool = True
    """Whether there is a row of its outlook."""


@dataclass(frozen=True, slots=True)
class _Asked:
    """A call that a yard may get: not yet held against counts, recounts and what was left out."""

    call: Call
    subject: str
    reason: str


def count_calls(
    yards: "QuerySet[Yard]", on: dt.date, statuses: Mapping[int, RecountStatus] | None = None
) -> list[CountCall]:
    """What these yards are asked for on that day, at most one call each; by the last day, then the yard's name.

    `statuses`: by recount's key, where it stands on that day, of those that are known already.
    """
    rows = with_asked(Yard.objects.filter(pk__in=yards.values("pk"), closed_on=None))
    return calls_in(asking_of(list(rows.order_by("pk"))), on, statuses or {})


def calls_in(yards: Iterable[Asking], on: dt.date, statuses: Mapping[int, RecountStatus]) -> list[CountCall]:
    """The same of open yards that are read already (with `club`). `statuses` as in `count_calls`."""
    living = [row for row in yards if row.colonies]
    unknown = [row.yard for row in living if row.treated is None]
    treated = _in_hive(unknown, on) if unknown else set()
    rows = [row for row in living if not row.treated and row.yard.pk not in treated]
    asked = _asked(rows, on)
    open_ones = _without_answered(_without_left_out(asked))
    found = _first_of(rows, _without_recounts(open_ones, on, statuses))
    return sorted(found, key=lambda one: (one.last_on, one.yard.name, one.yard.pk))


def call_of(yard: Yard, on: dt.date) -> CountCall | None:
    """What one yard is asked for on that day."""
    return next(iter(count_calls(Yard.objects.filter(pk=yard.pk), on)), None)


def calls_about(subjects: Iterable[str], today_of: Callable[[Yard], dt.date]) -> dict[str, CountCall]:
    """By subject, the calls that still stand on the day it is in each yard: not done, not left out, not over."""
    wanted = {subject: pk for subject in subjects if (pk := yard_of(subject)) is not None}
    by_day: dict[dt.date, list[int]] = defaultdict(list)  # it is one of three days somewhere
    for yard in Yard.objects.filter(pk__in=set(wanted.values())).select_related("keeper", "club"):
        by_day[today_of(yard)].append(yard.pk)
    calls = [
        call for today, pks in by_day.items() for call in count_calls(Yard.objects.filter(pk__in=pks), today)
    ]
    return {call.subject: call for call in calls if call.subject in wanted}


def with_asked(yards: "QuerySet[Yard]") -> "QuerySet[Yard]":
    """With all that asking them needs."""
    return yards.select_related("keeper", "club", "outlook")


def asking_of(yards: Sequence[Yard]) -> list[Asking]:
    """Of open yards `with_asked`, how many colonies live there. One query."""
    living = dict(_living(yards).values_list("yard_id").annotate(number=Count("pk")).order_by())
    return [Asking(yard, living.get(yard.pk, 0)) for yard in yards]


def _living(yards: Iterable[Yard]) -> "QuerySet[Colony]":
    return Colony.objects.living().filter(yard__in=[yard.pk for yard in yards])


@by_the_service
def _in_hive(yards: Iterable[Yard], on: dt.date) -> set[int]:
    """Yards where a living colony has something of a treatment in it, as far as anybody said, wherever it was given."""
    doses = Dose.objects.filter(
        Q(round__out_on=None) | Q(round__out_on__gt=on),
        stays_in_hive("round__treatment__application__"),
        colony__in=_living(yards),
        voided_at=None,
        round__given_on__lte=on,
    )
    return set(doses.values_list("colony__yard_id", flat=True).distinct())


def _asked(rows: Sequence[Asking], on: dt.date) -> dict[int, list[_Asked]]:
    """By yard, what it may be asked for on that day, the first before the others."""
    clubs = {row.yard.club_id for row in rows if row.any_week}
    weeks = {week.club_id: week for week in CountWeek.objects.running(on).filter(club__in=clubs)}
    found: dict[int, list[_Asked]] = {}
    for row in rows:
        yard, made_on = row.yard, row.yard.local_date(row.yard.made_at)
        outlook = _by_outlook(yard) if row.any_outlook else ()
        asked = [*_by_week(yard, weeks), *outlook, *_by_calendar(yard, on)]
        found[yard.pk] = [one for one in asked if one.call.is_spoken_of(on) and made_on <= one.call.last_on]
    return found


def _by_week(yard: Yard, weeks: Mapping[int, CountWeek]) -> Iterator[_Asked]:
    week = weeks.get(yard.club_id)
    if week is not None:
        first, last = day(week.first_on), day(week.last_on)
        words = say("The club counts together from {first} to {last}.", first=first, last=last)
        call, subject = week_call(week.first_on, week.last_on), week_subject(week.pk, yard.pk)
        yield _Asked(call, subject, " ".join((words, say(ZERO_COUNTS))))


def _by_outlook(yard: Yard) -> Iterator[_Asked]:
    row: YardOutlook | None = getattr(yard, "outlook", None)
    if row is not None and row.count_by is not None and row.sampled_on is not None:
        call = again_call(row.count_by, row.sampled_on)
        yield _Asked(call, again_subject(yard.pk, row.count_by), _again_words(row))


def _again_words(row: YardOutlook) -> str:
    if row.capped:
        return say(
            "The last wash or roll was on {day}, and no outlook reaches further. Count with a wash or a roll.",
            day=day(row.sampled_on),
        )
    return say(
        "By the count of {counted} there is a chance of 1 in 10 that the action level is reached by {by}. "
        "Count with a wash or a roll.",
        counted=day(row.sampled_on),
        by=day(row.count_by),
    )


def _by_calendar(yard: Yard, on: dt.date) -> Iterator[_Asked]:
    call = calendar_call(on, yard.club.count_months)
    if call is not None:
        month = month_year(call.first_on)
        words = say("The club asks for a count in every yard in {month}.", month=month)
        subject = calendar_subject(yard.pk, call.first_on)
        yield _Asked(call, subject, " ".join((words, say(ZERO_COUNTS))))


def _without_left_out(asked: Mapping[int, list[_Asked]]) -> dict[int, list[_Asked]]:
    subjects = [one.subject for several in asked.values() for one in several]
    if not subjects:
        return dict(asked)
    rows = CountLeftOut.objects.filter(yard__in=asked, subject__in=subjects)
    left_out = set(rows.values_list("yard_id", "subject"))
    return {
        yard: [one for one in several if (yard, one.subject) not in left_out]
        for yard, several in asked.items()
    }


def _without_answered(asked: Mapping[int, list[_Asked]]) -> dict[int, list[_Asked]]:
    counted = _counted(asked)
    return {
        yard: [one for one in several if not _is_answered(one.call, counted[yard])]
        for yard, several in asked.items()
    }


def _counted(asked: Mapping[int, list[_Asked]]) -> Mapping[int, list[tuple[Kind, dt.date]]]:
    """By yard, kinds and days of the counts that may answer."""
    calls = [one.call for several in asked.values() for one in several]
    found: dict[int, list[tuple[Kind, dt.date]]] = defaultdict(list)
    if not calls:
        return found
    days = min(call.answered_from for call in calls), max(call.over_on for call in calls)
    samples = MiteSample.objects.standing().filter(
        yard__in=[yard for yard, several in asked.items() if several],
        treatment_in_hive=False,
        sampled_on__range=days,
    )
    for yard, method, sampled_on in samples.values_list("yard_id", "method", "sampled_on").distinct():
        found[yard].append((kind_of(Method(method)), sampled_on))
    return found


def _is_answered(call: Call, counted: Iterable[tuple[Kind, dt.date]]) -> bool:
    return any(answers_call(call, kind=kind, sampled_on=sampled_on) for kind, sampled_on in counted)


def _without_recounts(
    asked: Mapping[int, list[_Asked]], on: dt.date, known: Mapping[int, RecountStatus]
) -> dict[int, list[_Asked]]:
    """Those in whose days no recount is open in the yard."""
    windows = _open_windows(asked, on, known)
    return {
        yard: [one for one in several if not any(blocked_by(one.call, *days) for days in windows[yard])]
        for yard, several in asked.items()
    }


def _open_windows(
    asked: Mapping[int, list[_Asked]], on: dt.date, known: Mapping[int, RecountStatus]
) -> Mapping[int, list[tuple[dt.date, dt.date]]]:
    """By yard, the days from the first dose to the end of an open recount: a count between them tells little.

    Before the first dose nothing stands in the way: such a count is the one before the treatment.
    """
    calls = {yard: [one.call for one in several] for yard, several in asked.items() if several}
    found: dict[int, list[tuple[dt.date, dt.date]]] = defaultdict(list)
    if not calls:
        return found
    first = min(call.first_on for several in calls.values() for call in several)
    last = max(call.last_on for several in calls.values() for call in several)
    rows = Recount.objects.open().filter(treatment__yard__in=calls)
    begun = rows.annotate(begun_on=Coalesce(Min("treatment__rounds__given_on"), F("earliest_on")))
    near = begun.filter(begun_on__lte=last, latest_on__gte=first)
    touching = list(near.select_related("treatment"))
    unknown = [recount for recount in touching if recount.pk not in known]
    statuses = {**known, **recount_statuses(unknown, on)} if unknown else known
    for recount in touching:
        if statuses[recount.pk] in OPEN:
            found[recount.treatment.yard_id].append((recount.begun_on, recount.latest_on))
    return found


def _first_of(rows: Iterable[Asking], asked: Mapping[int, list[_Asked]]) -> Iterator[CountCall]:
    for row in rows:
        for one in asked[row.yard.pk][:1]:
            call = one.call
            yield CountCall(
                yard=row.yard,
                why=call.why,
                subject=one.subject,
                first_on=call.first_on,
                last_on=call.last_on,
                over_on=call.over_on,
                reason=one.reason,
                colonies=row.colonies,
            )
