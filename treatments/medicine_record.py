"""A keeper's medicine record: doses given, purchases, disposals, what is missing, what was changed.

The page, the sheet for spreadsheets and the PDF all show what is put together here.
"""

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import replace
from decimal import Decimal
from functools import cache
from typing import TypeVar

from django.db.models import Q, QuerySet

from apiaries.language import listed, say
from apiaries.models import Club, Person, Yard
from apiaries.templatetags.recount_words import day, plain
from apiaries.zones import zone_of
from counts.reference import rows_of
from treatments.chain_actions import head_of
from treatments.dose import unit_words
from treatments.ingredients import Ingredient, is_biotechnical
from treatments.medicine import (
    Entry,
    Item,
    NoTerm,
    Regime,
    Rule,
    Term,
    Told,
    keep_until,
    missing_fields,
    regime_of,
    rules_from_rows,
    terms_from_rows,
)
from treatments.models import Dose, MedicineDisposal, MedicinePurchase, Round, Treatment
from treatments.models.medicines import keepers_logged_by, keepers_seen_by
from treatments.record_changes import Change, changes_of
from treatments.record_lines import KeptLine, MedicineRecord, RoundLine, UseLine, Voided
from treatments.record_words import asked_by_words, colonies_in_words, kept_words, missing_words
from treatments.status import TreatmentStatus

Kept = TypeVar("Kept", MedicinePurchase, MedicineDisposal)
NO_MEDICINE = [one.value for one in Ingredient if is_biotechnical(one)]


@cache
def rules() -> tuple[Rule, ...]:
    """Who asks for what."""
    return rules_from_rows(rows_of("record_rules.csv"))


@cache
def terms() -> tuple[Term, ...]:
    """For how long it is kept."""
    return terms_from_rows(rows_of("record_rules.csv"))


def uses_of(person: Person, keeper: Person) -> "QuerySet[Treatment]":
    """Treatments with a medicine, given at least in part, in those yards of the keeper that the person may see."""
    given = Treatment.objects.visible_to(person).filter(yard__keeper=keeper, rounds__given_on__isnull=False)
    return given.exclude(application__ingredient__in=NO_MEDICINE).distinct()


def record_of(
    person: Person, keeper: Person, *, year: int | None, yard: Yard | None, on: dt.date
) -> MedicineRecord:
    """The record as that person may see it, in a number of queries that does not grow with its entries."""
    sees_purchases = keepers_seen_by(person).filter(pk=keeper.pk).exists()
    bills, disposals = _kept_by(MedicinePurchase, keeper), _kept_by(MedicineDisposal, keeper)
    if not sees_purchases:
        bills, disposals = [], []
    uses = _uses(uses_of(person, keeper), year, yard, bills, on)
    regime = _regime_of(uses[0].treatment.yard.club if uses else _club_of(keeper))
    logs = keepers_logged_by(person).filter(pk=keeper.pk).exists()
    both: list[MedicinePurchase | MedicineDisposal] = [*bills, *disposals]
    lines = [
        _kept_line(one, regime, logs and person.pk in (keeper.pk, one.recorded_by_id))
        for one in both
        if year in (None, _day_of(one).year)
    ]
    return MedicineRecord(
        keeper=keeper,
        year=year,
        yard=yard,
        uses=tuple(uses),
        purchases=tuple(line for line in lines if isinstance(line.entry, MedicinePurchase)),
        disposals=tuple(line for line in lines if isinstance(line.entry, MedicineDisposal)),
        sees_purchases=sees_purchases,
        may_log=logs,
        kept_words=_whole_kept_words(uses, lines, regime),
        head=head_of(keeper.pk),
    )


def _kept_by(model: type[Kept], keeper: Person) -> list[Kept]:
    return list(model.objects.filter(keeper=keeper).select_related("keeper", "recorded_by", "voided_by"))


def _club_of(keeper: Person) -> Club | None:
    return keeper.membership.club if keeper.membership else None


def _regime_of(club: Club | None) -> Regime | None:
    return regime_of(club.jurisdiction) if club else None


def _day_of(entry: MedicinePurchase | MedicineDisposal) -> dt.date:
    return entry.bought_on if isinstance(entry, MedicinePurchase) else entry.disposed_on


def _whole_kept_words(uses: Sequence[UseLine], lines: Sequence[KeptLine], regime: Regime | None) -> str:
    """Until when all that is shown has to be kept; empty when nothing is shown."""
    days = [line.last_on for line in uses if line.voided is None]
    days += [_day_of(line.entry) for line in lines if line.voided is None]
    known = [one for one in days if one is not None]
    if not days:
        return ""
    return _kept_in_words(max(known) if len(known) == len(days) else None, regime)


def _own_kept_words(last_on: dt.date | None, regime: Regime | None) -> str:
    """The term of one entry; where there is none, it is said once for the whole record."""
    kept = keep_until(last_on, regime, terms())
    return "" if kept.reason is NoTerm.NO_TERM_HERE else kept_words(kept, regime, terms(), day(kept.until))


def _kept_in_words(last_on: dt.date | None, regime: Regime | None) -> str:
    kept = keep_until(last_on, regime, terms())
    return kept_words(kept, regime, terms(), day(kept.until))


def _kept_line(entry: MedicinePurchase | MedicineDisposal, regime: Regime | None, may_edit: bool) -> KeptLine:
    kind = Entry.PURCHASE if isinstance(entry, MedicinePurchase) else Entry.DISPOSAL
    told: dict[Item, Told] = {item: getattr(entry, item.value) for item in Item if hasattr(entry, item.value)}
    voided = _voided(entry.voided_at, entry.voided_by, entry.voided_why, entry.keeper.time_zone)
    missing = missing_fields(told, kind, regime, rules()) if voided is None else ()
    return KeptLine(entry, missing, missing_words(missing), voided, may_edit and voided is None)


def _voided(at: dt.datetime | None, by: Person | None, why: str, zone: str) -> Voided | None:
    return Voided(at.astimezone(zone_of(zone)), by.name if by else "", why) if at else None


def _uses(
    treatments: "QuerySet[Treatment]",
    year: int | None,
    yard: Yard | None,
    bills: Sequence[MedicinePurchase],
    on: dt.date,
) -> list[UseLine]:
    if year is not None:
        treatments = treatments.filter(Q(rounds__given_on__year=year) | Q(rounds__out_on__year=year))
    if yard is not None:
        treatments = treatments.filter(yard=yard)
    found = list(
        treatments.select_related("application", "yard__club", "recorded_by", "cancelled_by")
        .prefetch_related("rounds__doses__colony")
        .distinct()
    )
    changes = changes_of(found)
    lines = [_use_line(one, _bill_of(one, bills), changes.get(one.pk, []), on) for one in found]
    return sorted(lines, key=lambda line: (line.first_on, line.treatment.pk))


def _bill_of(treatment: Treatment, bills: Iterable[MedicinePurchase]) -> MedicinePurchase | None:
    """The last standing purchase of that product and batch: what is on the bill need not be written twice."""

    def named(one: Treatment | MedicinePurchase) -> tuple[str, str]:
        return one.product.casefold(), one.batch.casefold()

    own = [
        one for one in bills if one.voided_at is None and all(named(one)) and named(one) == named(treatment)
    ]
    return own[-1] if own else None


def _use_line(
    treatment: Treatment, bill: MedicinePurchase | None, changes: Sequence[Change], on: dt.date
) -> UseLine:
    rounds = tuple(_round_line(one) for one in treatment.rounds.all() if one.given_on is not None)
    status = treatment.status(on)
    given = [one for one in treatment.round_dates() if one.given_on is not None]
    in_hive = treatment.cancelled_at is None and any(one.is_in_hive(on) for one in given)
    last_on = None if in_hive else max(one.last_on for one in given)
    colonies = _colonies(dose for one in rounds for dose in one.doses)
    regime = _regime_of(treatment.yard.club)
    line = UseLine(
        treatment=treatment,
        rounds=rounds,
        first_on=min(one.given_on for one in given if one.given_on),
        last_on=last_on,
        colonies=colonies_in_words(colonies),
        number=len(colonies),
        total=_total(dose for one in rounds for dose in one.doses),
        bill=bill,
        clear_on=treatment.clear_on() if status is TreatmentStatus.FINISHED else None,
        kept_words=_own_kept_words(last_on, regime),
        changes=tuple(changes),
        voided=_voided(
            treatment.cancelled_at, treatment.cancelled_by, treatment.cancelled_why, treatment.yard.time_zone
        ),
    )
    if line.voided is not None:
        return line
    missing = missing_fields(_told(line), Entry.USE, regime, rules())
    asked = asked_by_words(Entry.USE, missing, regime, rules())
    return replace(line, missing=missing, missing_words=missing_words(missing), asked_by=asked)


def _told(line: UseLine) -> dict[Item, Told]:
    treatment = line.treatment
    return {
        Item.PRODUCT: treatment.product,
        Item.BATCH: treatment.batch,
        Item.FIRST_ON: line.first_on,
        # Known as soon as the last is out; until then nothing is amiss.
        Item.DURATION: line.days or "going on",
        Item.QUANTITY: line.total,
        Item.ANIMALS: line.colonies,
        Item.SUPPLIER: line.supplier,
        Item.SUPPLIER_ADDRESS: line.supplier_address,
        Item.PROOF: line.proof,
        Item.WITHDRAWAL_DAYS: treatment.withdrawal_days,
        Item.GIVEN_BY: line.given_by,
    }


def _round_line(round_: Round) -> RoundLine:
    doses = tuple(sorted(round_.doses.all(), key=lambda dose: (dose.colony.number or 0, dose.colony.name)))
    amounts = sorted({(dose.amount, dose.unit) for dose in doses})
    each = tuple(
        _each_words(amount, unit, [one for one in doses if (one.amount, one.unit) == (amount, unit)])
        for amount, unit in amounts
    )
    return RoundLine(round_.number, round_.given_on, round_.out_on, doses, each, _total(doses))


def _colonies(doses: Iterable[Dose]) -> list[str]:
    """Names of the colonies, each once, in reading order."""
    found = {dose.colony_id: dose.colony for dose in doses}
    return [one.name for one in sorted(found.values(), key=lambda one: (one.number or 0, one.name))]


def _each_words(amount: Decimal, unit: str, doses: Iterable[Dose]) -> str:
    names = _colonies(doses)
    words = {"amount": f"{plain(amount)} {unit_words(unit)}", "names": colonies_in_words(names)}
    if len(names) == 1:
        return say("{amount} each to colony {names}", **words)
    return say("{amount} each to colonies {names}", **words)


def _total(doses: Iterable[Dose]) -> str:
    """All doses together, unit by unit."""
    sums: dict[str, Decimal] = {}
    for dose in doses:
        sums[dose.unit] = sums.get(dose.unit, Decimal(0)) + dose.amount
    return listed([f"{plain(amount)} {unit_words(unit)}" for unit, amount in sums.items()])
