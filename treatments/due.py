"""What treatments ask for next: recounts, strips to take out, rounds to give, clear dates; one line and action each."""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from django.db.models import QuerySet
from django.urls import reverse

from apiaries.language import mark, say
from apiaries.models import Person, Yard
from apiaries.templatetags.recount_words import day
from treatments.around import Around, around_of, whole, whole_in
from treatments.constants import DEFAULTS
from treatments.dosed import Dosed
from treatments.models import Dose, Round, Treatment
from treatments.recount_rules import RecountStatus
from treatments.results import statuses_of
from treatments.status import TreatmentStatus, days_after, out_due_on

AHEAD_DAYS = 21
ALL_GONE = mark(
    "The treated colonies are all gone, or were united with others. Counts of other colonies say nothing about this "
    "treatment."
)
CLEAR_TOLD_DAYS = 3
"""So long after it a clear date is still told (our choice)."""


class DueKind(StrEnum):
    """What there is to do."""

    RECOUNT = "recount"
    TAKE_OUT = "take_out"
    GIVE_ROUND = "give_round"
    CLEAR = "clear"


class Urgency(StrEnum):
    """How soon, in the order of the list."""

    LATE = "late"
    DUE = "due"
    COMING = "coming"


@dataclass(frozen=True, slots=True)
class DueItem:
    """One thing to do. `on`: its day, None where only the label tells it. `until`: the last day of a recount."""

    kind: DueKind
    urgency: Urgency
    treatment: Treatment
    on: dt.date | None
    until: dt.date | None
    words: str
    action: str
    url: str
    closed: bool = False
    """A recount that cannot be made any more: only the reason is still asked for."""
    round: Round | None = None
    """The round to give or to take out."""

    @property
    def yard(self) -> Yard:
        return self.treatment.yard


def due_list(person: Person, on: dt.date) -> list[DueItem]:
    """Of all yards in which the person may log: late first, then due, then what comes within three weeks."""
    yards = Yard.objects.recordable_by(person).filter(closed_on=None)
    items = due_items(Treatment.objects.filter(yard__in=yards.values("pk")), on)
    order = list(Urgency)
    return sorted(
        items, key=lambda item: (order.index(item.urgency), item.on or on, item.yard.name, item.treatment.pk)
    )


def recounts_wanted(yard: Yard, on: dt.date) -> list[str]:
    """The recounts for which a yard's counts are wanted now, each in words with its days."""
    wanted = [
        item
        for item in due_items(Treatment.objects.filter(yard=yard), on)
        if item.kind is DueKind.RECOUNT and item.urgency is not Urgency.COMING and not item.closed
    ]
    return [
        say(
            "Recount after {treatment}: best on {ideal}, from {first} to {last}.",
            treatment=say(item.treatment.application.name),
            ideal=day(item.treatment.recount.ideal_on),
            first=day(item.treatment.recount.earliest_on),
            last=day(item.treatment.recount.latest_on),
        )
        for item in wanted
    ]


def due_items(treatments: "QuerySet[Treatment]", on: dt.date) -> list[DueItem]:
    """The next thing of each of these treatments, and the clear dates that have come. Constant queries."""
    return items_of(read_standing(treatments, on), on)


@dataclass(frozen=True, slots=True)
class Standing:
    """Treatments that were not cancelled, and what is known of them on a day."""

    treatments: Sequence[Treatment]
    statuses: Mapping[int, RecountStatus]
    """By recount's key, where it stands."""
    living: Mapping[int, int]
    """By treatment's key, how many of its treated colonies live. Without those that were never given to any."""


def read_standing(treatments: "QuerySet[Treatment]", on: dt.date, *, yards: Iterable[Yard] = ()) -> Standing:
    """Of these treatments those that stand. `yards`: theirs with club and keeper, if read. Constant queries."""
    standing = treatments.filter(cancelled_at=None)
    found = whole_in(standing, yards) if yards else list(whole(standing))
    return standing_of(found, around_of(found, on, with_others=False), on)


def standing_of(
    treatments: Sequence[Treatment],
    arounds: Mapping[int, Around],
    on: dt.date,
    doses: Iterable[Dosed] | None = None,
) -> Standing:
    """The same from what was read around them on that day. `doses`: all they gave, with others, where that is known;
    else one query, none without treatments."""
    found = [treatment for treatment in treatments if treatment.cancelled_at is None]
    around = {treatment.pk: arounds[treatment.pk] for treatment in found}
    given = (
        _given(list(around)) if doses is None else [_of(one) for one in doses if one.treatment_id in around]
    )
    return Standing(found, statuses_of(around, on), _living(given))


_Given = tuple[int, int, dt.date | None]
"""Treatment, colony, the day it ended."""


def _given(treatments: Collection[int]) -> Iterable[_Given]:
    if not treatments:
        return ()
    doses = Dose.objects.filter(round__treatment__in=treatments, voided_at=None)
    return doses.values_list("round__treatment_id", "colony_id", "colony__ended_on")


def _of(dose: Dosed) -> _Given:
    return dose.treatment_id, dose.colony_id, dose.ended_on


def _living(given: Iterable[_Given]) -> dict[int, int]:
    living: dict[int, int] = defaultdict(int)
    for treatment, _, ended_on in set(given):
        living[treatment] += ended_on is None
    return living


def items_of(standing: Standing, on: dt.date) -> list[DueItem]:
    """What they ask for next. No query."""
    # Whose treated colonies all died out or were united, nobody can count again.
    gone = {pk for pk, living in standing.living.items() if not living}
    statuses = standing.statuses
    found = [
        _item(treatment, statuses[treatment.recount.pk], on, treatment.pk in gone)
        for treatment in standing.treatments
    ]
    found += [_clear_date(treatment, on) for treatment in standing.treatments]
    return [item for item in found if item is not None]


def _item(treatment: Treatment, status: RecountStatus, on: dt.date, gone: bool) -> DueItem | None:
    """The next thing of one treatment. A recount that is due comes before a round that was left out."""
    if status in (RecountStatus.DUE, RecountStatus.LATE):
        return _recount(treatment, status, on, gone)
    if status is not RecountStatus.NOT_DUE:
        return _first([*_in_hive(treatment, on)], on)
    rounds = _first([*_in_hive(treatment, on), *_to_give(treatment, on)], on)
    return rounds or _soon(_recount(treatment, status, on, gone), on)


def _recount(treatment: Treatment, status: RecountStatus, on: dt.date, gone: bool) -> DueItem:
    recount = treatment.recount
    closed = gone or days_after(recount.latest_on, int(DEFAULTS.after_count_late_days.value)) < on
    urgency = {RecountStatus.LATE: Urgency.LATE, RecountStatus.DUE: Urgency.DUE}.get(status, Urgency.COMING)
    if closed:
        none = mark("No recount was made in time, so this treatment stays without an answer.")
        words = say(ALL_GONE if gone else none)
        action, url = say("Say why there was none"), reverse("treatments:recount-skip", args=[recount.pk])
    else:
        words, action = say(recount.reason), say("Count the yard")
        url = reverse("counts:yard-count", args=[treatment.yard_id])
    return DueItem(
        DueKind.RECOUNT, urgency, treatment, recount.ideal_on, recount.latest_on, words, action, url, closed
    )


def _clear_date(treatment: Treatment, on: dt.date) -> DueItem | None:
    """The end of a withdrawal period, in the first days after it; of a treatment that is noted as finished."""
    clear_on = treatment.clear_on()
    if not treatment.withdrawal_days or clear_on is None:
        return None
    if not clear_on <= on <= days_after(clear_on, CLEAR_TOLD_DAYS):
        return None
    if treatment.status(on) is not TreatmentStatus.FINISHED:
        return None
    words = say(
        "The withdrawal period of {days} days, as entered, ended. "
        "The label and local rules decide when honey may be taken.",
        days=treatment.withdrawal_days,
    )
    url = reverse("treatments:treatment-detail", args=[treatment.pk])
    return DueItem(
        DueKind.CLEAR, Urgency.DUE, treatment, clear_on, None, words, say("See the treatment"), url
    )


def _in_hive(treatment: Treatment, on: dt.date) -> Iterable[DueItem]:
    dates = dict(zip(_rounds(treatment), treatment.round_dates(), strict=True))
    for round_, one in dates.items():
        if one.is_in_hive(on):
            yield _to_take_out(round_, treatment, out_due_on(one), on)


def _to_take_out(round_: Round, treatment: Treatment, out_on: dt.date | None, on: dt.date) -> DueItem:
    """Where nobody published the days, the label's day is asked for: then it can be reminded of."""
    if out_on is not None:
        words = say("Take out what is in the hives.")
        return _round_item(DueKind.TAKE_OUT, round_, treatment, out_on, words, say("Note it is out"), on)
    words = say("Take it out on the day the label says. Enter that day to be reminded of it.")
    item = _round_item(DueKind.TAKE_OUT, round_, treatment, None, words, say("Enter the label’s day"), on)
    return replace(item, url=reverse("treatments:round-out-by", args=[treatment.pk, round_.number]))


def _to_give(treatment: Treatment, on: dt.date) -> Iterable[DueItem]:
    rounds = _rounds(treatment)
    for round_ in rounds:
        if round_.given_on is None:
            words = say("Give round {number} of {rounds}.", number=round_.number, rounds=len(rounds))
            action = say("Note it is given")
            yield _round_item(DueKind.GIVE_ROUND, round_, treatment, round_.planned_on, words, action, on)


def _round_item(
    kind: DueKind,
    round_: Round,
    treatment: Treatment,
    day: dt.date | None,
    words: str,
    action: str,
    on: dt.date,
) -> DueItem:
    name = "treatments:round-out" if kind is DueKind.TAKE_OUT else "treatments:round-give"
    url = reverse(name, args=[treatment.pk, round_.number])
    urgency = Urgency.COMING if day is None or day > on else Urgency.LATE if day < on else Urgency.DUE
    return DueItem(kind, urgency, treatment, day, None, words, action, url, round=round_)


def _rounds(treatment: Treatment) -> list[Round]:
    return sorted(treatment.rounds.all(), key=lambda round_: round_.number)


def _first(items: list[DueItem], on: dt.date) -> DueItem | None:
    """The earliest of them that is near enough; one without a day stands after those with one."""
    return _soon(min(items, key=lambda item: item.on or dt.date.max, default=None), on)


def _soon(item: DueItem | None, on: dt.date) -> DueItem | None:
    near = item is not None and (item.on or on) <= on + dt.timedelta(days=AHEAD_DAYS)
    return item if near else None
