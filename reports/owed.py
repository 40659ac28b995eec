"""What keepers are owed a notice about: asked by the planner, the sender and the health page."""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass

from django.db.models import (
    CharField,
    DateField,
    Exists,
    ExpressionWrapper,
    F,
    OuterRef,
    Q,
    QuerySet,
    Value,
)
from django.db.models.functions import Cast, Coalesce, Concat

from apiaries.models import Membership, Person, Yard
from counts.models import MiteSample
from reports.due_days import (
    CLEAR_USEFUL_DAYS,
    OUT_USEFUL_DAYS,
    ROUND_SOON_DAYS,
    ROUND_USEFUL_DAYS,
    SOON_DAYS,
    DueNotice,
    due_notice,
    end_of_day,
    local_day,
)
from reports.matters import Matter, MatterKind, call_matters, keys_by_kind, treatment_matters
from reports.models import Notice, NoticeKind, PutOff
from treatments.constants import DEFAULTS
from treatments.count_calls import CountCall, calls_about, count_calls
from treatments.models import Recount, Round, Treatment

MOVED_DAYS = 10
"""By how much a clear date worked out here may miss the one worked out from the rounds; the exact one decides."""


@dataclass(frozen=True)
class Owed:
    """One notice that a keeper is owed now."""

    person: Person
    matter: Matter
    due: DueNotice

    @property
    def subject(self) -> str:
        return self.matter.subject

    @property
    def kind(self) -> NoticeKind:
        return NoticeKind(f"{self.matter.kind}_{self.due.stage}")

    @property
    def key(self) -> tuple[int, str, str, dt.date]:
        """What makes it the same notice however often it is planned."""
        return self.person.pk, self.kind.value, self.subject, self.due.on

    @property
    def useless_after(self) -> dt.datetime:
        return end_of_day(self.due.last_useful_on, self.person.time_zone)


def owed_notices(*, at: dt.datetime) -> list[Owed]:
    """Everything owed at this moment, planned or not, the most urgent first. Open-ended: nothing is too long ago."""
    matters: list[Matter] = []
    for on, zones in _days_now(at):
        yards = reachable_yards().filter(keeper__time_zone__in=zones)
        wanted = yards.filter(keeper__wants_mail=True)
        matters += treatment_matters(_owing_treatments(wanted, on), on)
        matters += call_matters(count_calls(yards.filter(keeper__wants_calls=True), on))
    return _owed(matters, at=at)


def owed_about(notices: Collection[Notice], *, at: dt.datetime) -> list[Owed]:
    """What is still owed of planned notices: a person's one mail, asked while it is sent."""
    subjects = {notice.subject for notice in notices}
    yards = reachable_yards().filter(keeper__in={notice.person_id for notice in notices})
    matters: list[Matter] = []
    keys = keys_by_kind(subjects)
    if keys:
        named = (
            Q(recount__in=keys[MatterKind.RECOUNT])
            | Q(rounds__in=keys[MatterKind.ROUND] | keys[MatterKind.OUT])
            | Q(pk__in=keys[MatterKind.CLEAR])
        )
        treatments = Treatment.objects.filter(named).values("pk")
        wanted = Treatment.objects.filter(
            pk__in=treatments, yard__in=yards.filter(keeper__wants_mail=True).values("pk")
        )
        for on, zones in _days_now(at, [notice.person.time_zone for notice in notices]):
            matters += treatment_matters(wanted.filter(yard__keeper__time_zone__in=zones), on)
    calls = subjects - {f"{kind}:{key}" for kind, found in keys.items() for key in found}
    if calls:
        matters += call_matters(_wanted_calls(calls, yards, at=at))
    return [owed for owed in _owed(matters, at=at) if owed.subject in subjects]


def _wanted_calls(subjects: Collection[str], yards: "QuerySet[Yard]", *, at: dt.datetime) -> list[CountCall]:
    wanted = set(yards.filter(keeper__wants_calls=True).values_list("pk", flat=True))
    calls = calls_about(subjects, lambda yard: local_day(at, yard.keeper.time_zone))
    return [call for call in calls.values() if call.yard.pk in wanted]


def kept_yards() -> "QuerySet[Yard]":
    """Open yards whose keepers are in the club and may sign in."""
    member = Membership.objects.current().filter(person=OuterRef("keeper"), club=OuterRef("club"))
    return Yard.objects.filter(Exists(member), closed_on=None, keeper__is_active=True)


def reachable_yards() -> "QuerySet[Yard]":
    """Of those, the ones whose keepers can be written to."""
    return kept_yards().filter(keeper__suspension=None)


def open_for_their_keepers() -> "QuerySet[Recount]":
    """Open recounts of open yards whose keepers are in the club and may sign in."""
    return (
        Recount.objects.open()
        .filter(treatment__yard__in=kept_yards().values("pk"))
        .select_related("treatment__yard__club", "treatment__yard__keeper", "treatment__application")
        .order_by("pk")
    )


def _owed(matters: Iterable[Matter], *, at: dt.datetime) -> list[Owed]:
    """The notices of matters that a keeper is to hear of now; nothing about colonies that are all gone."""
    living = [matter for matter in matters if matter.colonies]
    put_off = _put_off(living)
    owed = [one for matter in living if (one := _of_matter(matter, put_off, at)) is not None]
    return sorted(owed, key=lambda one: (one.due.last_useful_on, one.matter.yard.name, one.subject))


def _of_matter(matter: Matter, put_off: dict[tuple[int, str], dt.date], at: dt.datetime) -> Owed | None:
    keeper = matter.yard.keeper
    if matter.course is None:
        return None
    due = due_notice(
        matter.course,
        known_on=matter.known_on,
        today=local_day(at, keeper.time_zone),
        put_off_until=put_off.get((keeper.pk, matter.subject)),
    )
    return Owed(keeper, matter, due) if due is not None else None


def _put_off(matters: Collection[Matter]) -> dict[tuple[int, str], dt.date]:
    rows = PutOff.objects.filter(subject__in={matter.subject for matter in matters})
    return {
        (person, subject): until for person, subject, until in rows.values_list("person", "subject", "until")
    }


def _days_now(at: dt.datetime, zones: Iterable[str] | None = None) -> Iterator[tuple[dt.date, list[str]]]:
    """The local days that it is now, at most three, each with the zones of keepers where it is that day."""
    if zones is None:
        zones = Person.objects.order_by().values_list("time_zone", flat=True).distinct()
    by_day: dict[dt.date, list[str]] = defaultdict(list)
    for zone in set(zones):
        by_day[local_day(at, zone)].append(zone)
    yield from sorted(by_day.items())


def _owing_treatments(yards: "QuerySet[Yard]", on: dt.date) -> "QuerySet[Treatment]":
    """Treatments about which there may be something to say; the exact rules follow in Python."""
    standing = Treatment.objects.standing().filter(yard__in=yards.values("pk"))
    return standing.filter(
        Exists(_owing_recounts(on).filter(treatment=OuterRef("pk")))
        | Exists(_rounds_to_give(on).filter(treatment=OuterRef("pk")))
        | Exists(_rounds_to_take_out(on).filter(treatment=OuterRef("pk")))
        | _clears_about(on)
    )


def _owing_recounts(on: dt.date) -> "QuerySet[Recount]":
    counted = MiteSample.objects.standing().filter(
        colony__doses__round__treatment=OuterRef("treatment"), sampled_on__gte=OuterRef("earliest_on")
    )
    # Recounts of past seasons that have some count after them are done for good: they need no closer look.
    long_ago = on - dt.timedelta(days=int(DEFAULTS.after_count_late_days.value) + 2)
    return (
        Recount.objects.open()
        .filter(ideal_on__lte=on + dt.timedelta(days=SOON_DAYS))
        .exclude(Q(latest_on__lt=long_ago) & Exists(counted))
        .exclude(_told_for_good(MatterKind.RECOUNT, NoticeKind.RECOUNT_LATE))
    )


def _rounds_to_give(on: dt.date) -> "QuerySet[Round]":
    first = on - dt.timedelta(days=ROUND_USEFUL_DAYS)
    last = on + dt.timedelta(days=ROUND_SOON_DAYS)
    return Round.objects.filter(given_on=None, planned_on__range=(first, last)).exclude(
        _told_for_good(MatterKind.ROUND, NoticeKind.ROUND_LATE)
    )


def _rounds_to_take_out(on: dt.date) -> "QuerySet[Round]":
    stays = F("treatment__application__stays_in_days")
    published = ExpressionWrapper(F("given_on") + stays, output_field=DateField())
    first, last = on - dt.timedelta(days=OUT_USEFUL_DAYS), on + dt.timedelta(days=SOON_DAYS)
    return (
        Round.objects.filter(given_on__isnull=False, out_on=None)
        .exclude(out_by=None, treatment__application__stays_in_days=0)
        .annotate(due_out_on=Coalesce("out_by", published))
        .filter(due_out_on__range=(first, last))
        .exclude(_told_for_good(MatterKind.OUT, NoticeKind.OUT_LATE))
    )


def _clears_about(on: dt.date) -> Q:
    """Treatments whose clear date is near, by the recount's earliest day, which lies fixed days after the end."""
    ended_on = F("recount__earliest_on") - F("application__recount_earliest_days")
    clear_on = ExpressionWrapper(ended_on + F("withdrawal_days"), output_field=DateField())
    near = Treatment.objects.filter(withdrawal_days__gt=0).annotate(clear_on_about=clear_on)
    days = (
        on - dt.timedelta(days=MOVED_DAYS + CLEAR_USEFUL_DAYS),
        on + dt.timedelta(days=MOVED_DAYS),
    )
    return Q(pk__in=near.filter(clear_on_about__range=days).values("pk"))


def _told_for_good(kind: MatterKind, last: NoticeKind) -> Q:
    """The last notice about it was planned, and nobody put it off since: there is nothing more to say."""
    subject = Concat(Value(f"{kind}:"), Cast(OuterRef("pk"), CharField()))
    return Exists(Notice.objects.filter(kind=last, subject=subject)) & ~Exists(
        PutOff.objects.filter(subject=subject)
    )
