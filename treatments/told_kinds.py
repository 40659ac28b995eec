"""Whose past may be asked for in this app: treatments and their parts, entries of a medicine record, heaters."""

from typing import Any

from django.urls import reverse

from apiaries.language import say
from apiaries.models import Person
from apiaries.row_history import chain_of
from apiaries.telling import FactKind, Part
from apiaries.templatetags.recount_words import day
from treatments.access import (
    disposal_for,
    dose_for,
    own_device_for,
    purchase_for,
    recount_for,
    round_for,
    treatment_for,
)
from treatments.models import Dose, MedicineDisposal, MedicinePurchase, Recount, Round, Treatment
from treatments.told import DEVICE, DISPOSAL, DOSE, HIVE, PURCHASE, RECOUNT, ROUND, SHEET, TREATMENT


def _treatment_parts(treatment: Treatment, person: Person) -> list[Part]:
    return [
        Part(TREATMENT, {"pk": treatment.pk}),
        Part(ROUND, {"treatment_id": treatment.pk}),
        Part(DOSE, {"round__treatment_id": treatment.pk}),
        Part(RECOUNT, {"treatment_id": treatment.pk}),
        Part(SHEET, {"round__treatment_id": treatment.pk}),
        Part(HIVE, {"sheet__round__treatment_id": treatment.pk}),
    ]


def _round_parts(round_: Round, person: Person) -> list[Part]:
    return [
        Part(ROUND, {"pk": round_.pk}),
        Part(DOSE, {"round_id": round_.pk}),
        Part(SHEET, {"round_id": round_.pk}),
        Part(HIVE, {"sheet__round_id": round_.pk}),
    ]


def _treatment_words(treatment: Treatment, person: Person) -> str:
    return say("{way}, {yard}", way=treatment.application.name, yard=treatment.yard.name)


def _round_words(round_: Round, person: Person) -> str:
    words = _treatment_words(round_.treatment, person)
    return say("Round {number}: {treatment}", number=round_.number, treatment=words)


def _dose_words(dose: Dose, person: Person) -> str:
    return say(
        "Dose for colony {name}, round {number}: {way}",
        name=dose.colony.name,
        number=dose.round.number,
        way=dose.round.treatment.application.name,
    )


def _recount_words(recount: Recount, person: Person) -> str:
    return say("Recount after {treatment}", treatment=_treatment_words(recount.treatment, person))


def _to_treatment(pk: int) -> str:
    return reverse("treatments:treatment-detail", args=[pk])


def _to_record(entry: Any, person: Person) -> str:
    return reverse("treatments:medicine-record")


def _purchase_words(entry: MedicinePurchase, person: Person) -> str:
    return say("Purchase of {day}: {product}", day=day(entry.bought_on), product=entry.product)


def _disposal_words(entry: MedicineDisposal, person: Person) -> str:
    return say("Disposal of {day}: {product}", day=day(entry.disposed_on), product=entry.product)


KINDS = (
    FactKind(
        "treatment",
        treatment_for,
        _treatment_parts,
        _treatment_words,
        lambda treatment, person: _to_treatment(treatment.pk),
    ),
    FactKind(
        "round",
        round_for,
        _round_parts,
        _round_words,
        lambda round_, person: _to_treatment(round_.treatment_id),
    ),
    FactKind(
        "dose",
        dose_for,
        lambda dose, person: [Part(DOSE, {"pk": dose.pk})],
        _dose_words,
        lambda dose, person: _to_treatment(dose.round.treatment_id),
    ),
    FactKind(
        "recount",
        recount_for,
        lambda recount, person: [Part(RECOUNT, {"pk": recount.pk})],
        _recount_words,
        lambda recount, person: _to_treatment(recount.treatment_id),
    ),
    FactKind(
        "purchase",
        purchase_for,
        lambda entry, person: [Part(PURCHASE, {"pk__in": chain_of(MedicinePurchase, entry.pk)})],
        _purchase_words,
        _to_record,
    ),
    FactKind(
        "disposal",
        disposal_for,
        lambda entry, person: [Part(DISPOSAL, {"pk__in": chain_of(MedicineDisposal, entry.pk)})],
        _disposal_words,
        _to_record,
    ),
    FactKind(
        "device",
        own_device_for,
        lambda device, person: [Part(DEVICE, {"pk": device.pk})],
        lambda device, person: say("Heater {name}", name=device.name),
        lambda device, person: reverse("treatments:device-list"),
    ),
)
