"""What of treatments is open in yards: for lists of yards, one line each."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.urls import reverse

from apiaries.language import say
from apiaries.models import Yard
from treatments.around import around_of
from treatments.constants import DEFAULTS
from treatments.models import Round, Treatment
from treatments.recount_rules import RecountStatus
from treatments.results import statuses_of
from treatments.status import TreatmentStatus

DUE = (RecountStatus.DUE, RecountStatus.LATE)


@dataclass(frozen=True, slots=True)
class YardTreatment:
    """A treatment that is planned or going on, or whose recount is due, or late and still of use."""

    treatment: Treatment
    status: TreatmentStatus
    recount: str
    """`due` or `late`; empty while neither."""
    in_hive: bool

    @property
    def words(self) -> str:
        """Where it stands."""
        if self.in_hive:
            return say("in the hives")
        if self.status is TreatmentStatus.PLANNED:
            return say("planned")
        if self.status is TreatmentStatus.IN_PROGRESS:
            return say("further rounds to come")
        return say("finished")

    @property
    def url(self) -> str:
        """Its page."""
        return reverse("treatments:treatment-detail", args=[self.treatment.pk])


def yard_treatments(yards: Iterable[Yard], on: dt.date) -> dict[int, list[YardTreatment]]:
    """By yard's key, its open treatments in the order they were written down. A constant number of queries."""
    over_since = on - dt.timedelta(days=int(DEFAULTS.after_count_late_days.value))
    known = {yard.pk: yard for yard in yards}
    rows = _perhaps_open(over_since).filter(yard__in=list(known)).select_related("application", "recount")
    standing = list(rows.prefetch_related("rounds").order_by("recorded_at", "pk"))
    for treatment in standing:
        treatment.yard = known[treatment.yard_id]
    recounts = statuses_of(around_of(standing, on, with_others=False), on)
    found: dict[int, list[YardTreatment]] = defaultdict(list)
    for treatment in standing:
        status, recount = treatment.status(on), recounts[treatment.recount.pk]
        can_be_made = treatment.recount.latest_on >= over_since
        due = recount.value if recount in DUE and can_be_made else ""
        if due or status in (TreatmentStatus.PLANNED, TreatmentStatus.IN_PROGRESS):
            in_hive = any(one.is_in_hive(on) for one in treatment.round_dates())
            found[treatment.yard_id].append(YardTreatment(treatment, status, due, in_hive))
    return found


def _perhaps_open(over_since: dt.date) -> "QuerySet[Treatment]":
    """Without the many of past years that are surely over: all rounds given and out, no recount of use any more."""
    rounds = Round.objects.filter(treatment=OuterRef("pk"))
    to_give = rounds.filter(given_on=None)
    gone_at_once = Q(treatment__application__stays_in_days=0) & ~Q(
        treatment__application__row__stays_in_days=""  # only the label says
    )
    to_take_out = rounds.filter(out_on=None).exclude(gone_at_once)
    recent = Q(recount__latest_on__gte=over_since)
    return Treatment.objects.standing().filter(recent | Exists(to_give) | Exists(to_take_out))
