"""The only writers of treatments. Callers have passed a gate first.

The recount is born in the transaction that saves the treatment, and follows every change of its dates.
"""

import datetime as dt
import uuid
from collections.abc import Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, field
from decimal import Decimal

from django.db.backends.postgresql.psycopg_any import DateRange

from apiaries.history import action
from apiaries.language import say
from apiaries.models import Colony, Person, Yard
from treatments.dose import unit_of
from treatments.entry_keys import EntryKeyReused, reuse_told
from treatments.models import Application, Dose, Recount, Round, Treatment
from treatments.recount_rules import recount_window
from treatments.refused import refused_as
from treatments.signals import treatment_changed

TYPED = (
    "product",
    "batch",
    "registration",
    "supplier",
    "supplier_address",
    "proof",
    "vet",
    "given_by",
    "note",
)


@dataclass(frozen=True)
class NewDose:
    """What one colony got, in the application's unit."""

    colony: Colony
    amount: Decimal
    why_above: str = ""
    """The keeper's reason, where the amount is above the published limit."""


@dataclass(frozen=True)
class NewRound:
    """A round: planned, or given with its doses; `out_on` for what was taken out again."""

    planned_on: dt.date
    given_on: dt.date | None = None
    out_on: dt.date | None = None
    doses: tuple[NewDose, ...] = ()


@dataclass(frozen=True)
class NewTreatment:
    """A treatment as the keeper tells it. `withdrawal_days` is the label's, and 0 must be said."""

    yard: Yard
    application: Application
    rounds: tuple[NewRound, ...]
    product: str = ""
    batch: str = ""
    registration: str = ""
    supplier: str = ""
    supplier_address: str = ""
    proof: str = ""
    vet: str = ""
    given_by: str = ""
    withdrawal_days: int | None = None
    note: str = ""
    entry_key: uuid.UUID = field(default_factory=uuid.uuid4)


class NotPossible(ValueError):
    """The dates or doses contradict each other; the message names the contradiction."""


class TwiceAtOnce(ValueError):
    """A colony already has this ingredient in it on one of these days."""


class AlreadyClosed(ValueError):
    """The treatment was cancelled, or the recount skipped, before."""


@action
def record_treatment(*, new: NewTreatment, at: dt.datetime, by: Person) -> Treatment:
    """Keep a treatment with its rounds and doses, and the recount it owes. The same entry key makes no second one.

    Errors: NotPossible and TwiceAtOnce for what contradicts itself; EntryKeyReused if the key is another's.
    """
    # Two sends of one form at the same instant: the second waits here, then finds what the first kept.
    Yard.objects.hold([new.yard.pk])
    earlier = Treatment.objects.filter(entry_key=new.entry_key).first()
    if earlier is not None and (earlier.yard_id, earlier.recorded_by_id) == (new.yard.pk, by.pk):
        return earlier
    if earlier is not None:
        raise EntryKeyReused("Another treatment has this entry key.")
    _refuse_contradictions(new.rounds, on=new.yard.local_date(at))
    treatment = Treatment(
        yard=new.yard,
        application=new.application,
        withdrawal_days=new.withdrawal_days,
        entry_key=new.entry_key,
        recorded_at=at,
        recorded_by=by,
        **{name: getattr(new, name).strip() for name in TYPED},
    )
    treatment.clean_fields()
    with reuse_told():
        treatment.save()
    for number, new_round in enumerate(new.rounds, start=1):
        round_ = Round(treatment=treatment, number=number, planned_on=new_round.planned_on)
        round_.given_on, round_.out_on = new_round.given_on, new_round.out_on
        round_.save()
        _give(round_, new_round.doses)
    _set_recount(treatment)
    treatment_changed.send(Treatment, treatment=treatment)
    return treatment


@action
def give_round(
    *,
    round_: Round,
    given_on: dt.date,
    out_on: dt.date | None = None,
    doses: Sequence[NewDose],
    at: dt.datetime,
    by: Person,
) -> Round:
    """A planned round was given. The recount moves with it."""
    locked = _locked(round_)
    if locked.given_on is not None or locked.treatment.cancelled_at is not None:
        raise AlreadyClosed("This round was given before, or its treatment was cancelled.")
    told = NewRound(planned_on=locked.planned_on, given_on=given_on, out_on=out_on, doses=tuple(doses))
    _refuse_contradictions([told], on=locked.treatment.yard.local_date(at))
    others = locked.treatment.rounds.exclude(pk=locked.pk)
    wrong = others.filter(number__lt=locked.number, given_on__gte=given_on) | others.filter(
        number__gt=locked.number, given_on__lte=given_on
    )
    if wrong.exists():
        raise NotPossible(say("Each round comes after the one before."))
    locked.given_on, locked.out_on = given_on, out_on
    locked.save(update_fields=["given_on", "out_on"])
    _give(locked, doses)
    _set_recount(locked.treatment)
    treatment_changed.send(Treatment, treatment=locked.treatment)
    return locked


@action
def take_out(*, round_: Round, out_on: dt.date, at: dt.datetime, by: Person) -> Round:
    """What stays in the hive was taken out on that day. The recount moves with it."""
    locked = _locked(round_)
    if locked.given_on is None or locked.out_on is not None or locked.treatment.cancelled_at is not None:
        raise AlreadyClosed("Nothing of this round is in the hive.")
    if not locked.given_on <= out_on <= locked.treatment.yard.local_date(at):
        raise NotPossible(say("It is taken out on or after the day it went in, and not in the future."))
    locked.out_on = out_on
    locked.save(update_fields=["out_on"])
    with _twice_at_once_told():
        locked.doses.filter(voided_at=None).update(in_hive=days_in_hive(locked))
    _set_recount(locked.treatment)
    treatment_changed.send(Treatment, treatment=locked.treatment)
    return locked


@action
def set_out_by(*, round_: Round, out_by: dt.date, at: dt.datetime, by: Person) -> Round:
    """The day on which the keeper's label says to take it out. The recount moves with it."""
    locked = _locked(round_)
    if locked.given_on is None or locked.out_on is not None or locked.treatment.cancelled_at is not None:
        raise AlreadyClosed("Nothing of this round is in the hive.")
    if out_by < locked.given_on:
        raise NotPossible(say("It is taken out on or after the day it went in."))
    locked.out_by = out_by
    locked.save(update_fields=["out_by"])
    with _twice_at_once_told():
        locked.doses.filter(voided_at=None).update(in_hive=days_in_hive(locked))
    _set_recount(locked.treatment)
    treatment_changed.send(Treatment, treatment=locked.treatment)
    return locked


@action
def cancel_treatment(*, treatment: Treatment, why: str, at: dt.datetime, by: Person) -> Treatment:
    """It was not done, or was entered by mistake. It stays to be seen; its doses no longer count."""
    locked = Treatment.objects.select_for_update().get(pk=treatment.pk)
    if locked.cancelled_at is not None:
        raise AlreadyClosed("This treatment was cancelled before.")
    locked.cancelled_at, locked.cancelled_by, locked.cancelled_why = at, by, why.strip()
    locked.save(update_fields=["cancelled_at", "cancelled_by", "cancelled_why"])
    Dose.objects.filter(round__treatment=locked, voided_at=None).update(
        voided_at=at, voided_by=by, voided_why=why.strip()
    )
    treatment_changed.send(Treatment, treatment=locked)
    return locked


@action
def skip_recount(*, recount: Recount, why: str, at: dt.datetime, by: Person) -> Recount:
    """There will be no after-count, for a reason."""
    locked = Recount.objects.select_for_update(of=("self",)).select_related("treatment").get(pk=recount.pk)
    if locked.skipped_at is not None:
        raise AlreadyClosed("This recount was skipped before.")
    locked.skipped_at, locked.skipped_by, locked.skipped_why = at, by, why.strip()
    locked.save(update_fields=["skipped_at", "skipped_by", "skipped_why"])
    treatment_changed.send(Treatment, treatment=locked.treatment)
    return locked


def _locked(round_: Round) -> Round:
    """The round and its treatment, both locked: nobody cancels the one while the other is written."""
    rows = Round.objects.select_for_update(of=("self", "treatment"))
    return rows.select_related("treatment__yard", "treatment__application").get(pk=round_.pk)


def _refuse_contradictions(rounds: Sequence[NewRound], *, on: dt.date) -> None:
    if not rounds:
        raise NotPossible(say("A treatment has at least one round."))
    days = [new_round.given_on or new_round.planned_on for new_round in rounds]
    if any(later <= earlier for earlier, later in zip(days, days[1:], strict=False)):
        raise NotPossible(say("Each round comes after the one before."))
    for new_round in rounds:
        if new_round.given_on is None and (new_round.doses or new_round.out_on):
            raise NotPossible(say("A round that was not given has no doses."))
        if new_round.given_on is not None and not new_round.doses:
            raise NotPossible(say("Say which colonies were treated."))
        if new_round.given_on is not None and new_round.given_on > on:
            raise NotPossible(say("A round cannot have been given in the future."))
        if new_round.out_on is not None and new_round.given_on and new_round.out_on < new_round.given_on:
            raise NotPossible(say("It cannot be taken out before it went in."))
        if new_round.out_on is not None and new_round.out_on > on:
            raise NotPossible(say("It cannot have been taken out in the future."))


def _give(round_: Round, doses: Sequence[NewDose]) -> None:
    application = round_.treatment.application
    rows = [
        Dose(
            round=round_,
            colony=dose.colony,
            amount=dose.amount,
            why_above=dose.why_above.strip(),
            unit=unit_of(application.dose_unit, application.way),
            ingredient=application.ingredient,
            in_hive=days_in_hive(round_),
        )
        for dose in doses
    ]
    with _twice_at_once_told():
        Dose.objects.bulk_create(rows)


def _twice_at_once_told() -> AbstractContextManager[None]:
    """What PostgreSQL refuses of overlapping doses, as TwiceAtOnce."""
    told = TwiceAtOnce("A colony already has this ingredient in it on one of these days.")
    return refused_as(told, "treatments_dose_not_twice_at_once", "once_a_round")


def days_in_hive(round_: Round) -> DateRange | None:
    """From the day a round was given to the day after it was, or is to be, taken out; None while it is planned."""
    if round_.given_on is None:
        return None
    stays = dt.timedelta(days=round_.treatment.application.stays_in_days)
    last = round_.out_on or round_.out_by or round_.given_on + stays
    return DateRange(round_.given_on, last + dt.timedelta(days=1))


def _set_recount(treatment: Treatment) -> None:
    fresh = Treatment.objects.prefetch_related("rounds").select_related("application").get(pk=treatment.pk)
    last = fresh.finished_on()
    if last is None:
        raise NotPossible(say("A treatment has at least one round."))
    rule = fresh.application.recount_rule
    window = recount_window(rule, last)
    Recount.objects.update_or_create(
        treatment=fresh,
        defaults={
            "earliest_on": window.earliest_on,
            "ideal_on": window.ideal_on,
            "latest_on": window.latest_on,
            "kind": rule.kind,
            "reason": rule.reason,
            "source": rule.source,
        },
    )
