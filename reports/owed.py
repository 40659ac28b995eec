"""Which recounts are open, and what their keepers are owed: asked by the planner, the sender and the health page."""

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db.models import CharField, Exists, OuterRef, Q, QuerySet, Value
from django.db.models.functions import Cast, Concat

from apiaries.models import Membership, Person
from counts.models import MiteSample
from reports.due_days import SOON_DAYS, DueNotice, due_notice, end_of_day, local_day
from reports.models import Notice, NoticeKind
from treatments.constants import DEFAULTS
from treatments.models import Dose, Recount
from treatments.recount_rules import RecountStatus
from treatments.results import recount_statuses

FARTHEST_AHEAD = dt.timedelta(hours=14)  # of UTC: no zone's calendar is further on


@dataclass(frozen=True)
class Owed:
    """One notice that a keeper is owed now."""

    person: Person
    recount: Recount
    due: DueNotice
    colonies: int
    """Treated colonies that still live."""

    @property
    def subject(self) -> str:
        return subject_of(self.recount)

    @property
    def key(self) -> tuple[int, str, str, dt.date]:
        """What makes it the same notice however often it is planned."""
        return self.person.pk, self.due.stage.value, self.subject, self.due.on

    @property
    def useless_after(self) -> dt.datetime:
        return end_of_day(self.due.last_useful_on, self.person.time_zone)


def subject_of(recount: Recount) -> str:
    """What a notice about this recount is filed under."""
    return f"recount:{recount.pk}"


def recount_pk_of(subject: str) -> int:
    """The recount that a notice is about."""
    return int(subject.removeprefix("recount:"))


def owed_notices(*, at: dt.datetime) -> list[Owed]:
    """Everything owed at this moment, planned or not, the most urgent first. Open-ended: nothing is too long ago."""
    return owed_for(_candidates(at), at=at)


def owed_for(recounts: Iterable[Recount], *, at: dt.datetime) -> list[Owed]:
    """What the keepers of these recounts are owed; nothing for recounts that are done, or of colonies all gone."""
    due: list[tuple[Recount, DueNotice]] = []
    for recount in recounts:
        yard = recount.treatment.yard
        today = local_day(at, yard.keeper.time_zone)
        recorded_on = yard.local_date(recount.treatment.recorded_at)
        notice = due_notice(recount.window, recorded_on=recorded_on, today=today)
        if notice is not None:
            due.append((recount, notice))
    open_ones = _open_among(due, at=at)
    living = _living_colonies([recount for recount, _ in open_ones])
    owed = [
        Owed(recount.treatment.yard.keeper, recount, notice, living[recount.treatment_id])
        for recount, notice in open_ones
        if living[recount.treatment_id]
    ]
    return sorted(
        owed, key=lambda one: (one.recount.latest_on, one.recount.treatment.yard.name, one.recount.pk)
    )


def reachable_recounts() -> "QuerySet[Recount]":
    """Of those, the ones whose keepers want mail and can be reached."""
    keeper = "treatment__yard__keeper"
    return open_for_their_keepers().filter(**{f"{keeper}__wants_mail": True, f"{keeper}__suspension": None})


def open_for_their_keepers() -> "QuerySet[Recount]":
    """Open recounts of open yards whose keepers are in the club and may sign in."""
    keeper = "treatment__yard__keeper"
    member = Membership.objects.current().filter(
        person=OuterRef(keeper), club=OuterRef("treatment__yard__club")
    )
    return (
        Recount.objects.open()
        .filter(Exists(member), treatment__yard__closed_on=None, **{f"{keeper}__is_active": True})
        .select_related("treatment__yard__club", f"{keeper}", "treatment__application")
        .order_by("pk")
    )


def _candidates(at: dt.datetime) -> "QuerySet[Recount]":
    """Recounts about which there may be something to say; the exact rules follow in Python."""
    last_day = (at + FARTHEST_AHEAD).date()
    said_last = Notice.objects.filter(
        person=OuterRef("treatment__yard__keeper"),
        kind=NoticeKind.RECOUNT_LATE,
        subject=Concat(Value("recount:"), Cast(OuterRef("pk"), CharField())),
    )
    counted = MiteSample.objects.standing().filter(
        colony__doses__round__treatment=OuterRef("treatment"), sampled_on__gte=OuterRef("earliest_on")
    )
    # Recounts of past seasons that have some count after them are done for good: they need no closer look.
    long_ago = last_day - dt.timedelta(days=int(DEFAULTS.after_count_late_days.value) + 2)
    return (
        reachable_recounts()
        .filter(ideal_on__lte=last_day + dt.timedelta(days=SOON_DAYS))
        .exclude(Exists(said_last))
        .exclude(Q(latest_on__lt=long_ago) & Exists(counted))
    )


def _open_among(
    due: Sequence[tuple[Recount, DueNotice]], *, at: dt.datetime
) -> list[tuple[Recount, DueNotice]]:
    """Those that the pages call due or late, too: not done, and nothing of the treatment still in a hive."""
    by_day: dict[dt.date, list[Recount]] = defaultdict(list)  # it is one of three days somewhere
    for recount, _ in due:
        by_day[local_day(at, recount.treatment.yard.keeper.time_zone)].append(recount)
    status: dict[int, RecountStatus] = {}
    for today, recounts in by_day.items():
        status |= recount_statuses(recounts, today)
    return [pair for pair in due if status[pair[0].pk] in (RecountStatus.DUE, RecountStatus.LATE)]


def _living_colonies(recounts: Iterable[Recount]) -> Counter[int]:
    """By treatment: how many of its treated colonies live."""
    treatments = [recount.treatment_id for recount in recounts]
    doses = Dose.objects.filter(round__treatment__in=treatments, voided_at=None, colony__ended_on=None)
    return Counter(treatment for treatment, _ in set(doses.values_list("round__treatment_id", "colony_id")))
