"""How a count week goes, without naming anyone: keepers, yards and counts as numbers, and what may be shown of them."""

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.db.models import Count, Q

from apiaries.models import Club, Colony, Membership, Yard
from apiaries.second_lock import by_the_service
from apiaries.zones import zone_of
from counts.call_rules import answers_call, week_call
from counts.constants import DEFAULTS
from counts.models import CountWeek, MiteSample
from counts.samples import Method, kind_of

FAR = dt.date.max


@dataclass(frozen=True, slots=True)
class Progress:
    """Of the keepers and yards that were asked, how many counted; and how many of the counts found no mites."""

    keepers: int
    keepers_counted: int
    yards: int
    yards_counted: int
    counts: int
    none_found: int
    largest: int
    """Most counts of one keeper."""

    @property
    def is_shown(self) -> bool:
        """Whether enough keepers are asked that the numbers tell of nobody."""
        return self.keepers >= DEFAULTS.prior_keepers_min.value

    @property
    def none_is_shown(self) -> bool:
        """Whether the counts are those of enough keepers and yards, none of the keepers with most of them."""
        return (
            self.is_shown
            and self.keepers_counted >= DEFAULTS.prior_keepers_min.value
            and self.yards_counted >= DEFAULTS.prior_yards_min.value
            and self.largest <= DEFAULTS.prior_keeper_share_max.value * self.counts
        )


@dataclass(frozen=True, slots=True)
class _Counted:
    """Counts of one yard, day and method."""

    yard: int
    on: dt.date
    method: Method
    counts: int
    none_found: int


Days = tuple[dt.date, dt.date]


@by_the_service
def progress_of(club: Club, weeks: Sequence[CountWeek]) -> dict[int, Progress]:
    """By count week's key. Four queries, however many weeks, yards and counts there are."""
    if not weeks:
        return {}
    yards = list(Yard.objects.filter(club=club).only("keeper_id", "time_zone", "made_at", "closed_on"))
    colonies, members, counted = _colonies(club), _members(club), _counted(club, weeks)
    return {week.pk: _progress(week, yards, colonies, members, counted) for week in weeks}


def _progress(
    week: CountWeek,
    yards: Iterable[Yard],
    colonies: Mapping[int, Sequence[Days]],
    members: Mapping[int, Sequence[Days]],
    counted: Iterable[_Counted],
) -> Progress:
    call = week_call(week.first_on, week.last_on)
    answers: dict[int, list[_Counted]] = defaultdict(list)
    for one in counted:
        if answers_call(call, kind=kind_of(one.method), sampled_on=one.on):
            answers[one.yard].append(one)
    asked = {
        yard.pk: yard.keeper_id
        for yard in yards
        # What was counted stood there, wherever it has gone since.
        if (_within(colonies[yard.pk], week) or yard.pk in answers)
        and _within(members[yard.keeper_id], week)
        and _within([(yard.local_date(yard.made_at), yard.closed_on or FAR)], week)
    }
    of_keeper: Counter[int] = Counter()
    none_found = 0
    for yard_pk in asked.keys() & answers.keys():
        of_keeper[asked[yard_pk]] += sum(one.counts for one in answers[yard_pk])
        none_found += sum(one.none_found for one in answers[yard_pk])
    return Progress(
        keepers=len(set(asked.values())),
        keepers_counted=len(of_keeper),
        yards=len(asked),
        yards_counted=len(asked.keys() & answers.keys()),
        counts=of_keeper.total(),
        none_found=none_found,
        largest=max(of_keeper.values(), default=0),
    )


def _within(stretches: Iterable[Days], week: CountWeek) -> bool:
    """Whether one of these stretches of days, both ends included, touches the week."""
    return any(first <= week.last_on and last >= week.first_on for first, last in stretches)


def _colonies(club: Club) -> Mapping[int, list[Days]]:
    """By yard, the days on which each colony that stands there lived."""
    found: dict[int, list[Days]] = defaultdict(list)
    rows = Colony.objects.filter(yard__club=club).values_list("yard_id", "started_on", "ended_on")
    for yard, started_on, ended_on in rows.distinct():
        found[yard].append((started_on, ended_on or FAR))
    return found


def _members(club: Club) -> Mapping[int, list[Days]]:
    """By person, the days on which they were in the club."""
    zone, found = zone_of(club.time_zone), defaultdict(list)
    for one in Membership.objects.filter(club=club).only("person_id", "started_at", "ended_at"):
        last = one.ended_at.astimezone(zone).date() if one.ended_at else FAR
        found[one.person_id].append((one.started_at.astimezone(zone).date(), last))
    return found


def _counted(club: Club, weeks: Sequence[CountWeek]) -> list[_Counted]:
    days = Q()
    for week in weeks:
        days |= Q(sampled_on__range=(week.first_on, week.last_on))
    samples = MiteSample.objects.standing().filter(days, yard__club=club, treatment_in_hive=False)
    rows = samples.values_list("yard_id", "sampled_on", "method").annotate(
        number=Count("pk"), none=Count("pk", filter=Q(mites=0))
    )
    return [_Counted(yard, on, Method(method), *numbers) for yard, on, method, *numbers in rows.order_by()]
