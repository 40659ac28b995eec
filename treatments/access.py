"""The only way for a request to get a treatment, a recount, or an entry of a medicine record."""

from django.http import Http404
from django.shortcuts import get_object_or_404

from apiaries.access import allowed_or_refused
from apiaries.models import Person
from apiaries.permissions import Permission
from treatments.models import (
    DaySheet,
    Device,
    Dose,
    LockedEntry,
    MedicineDisposal,
    MedicinePurchase,
    Recount,
    Round,
    Treatment,
)
from treatments.models.locked import LockedEntryQuerySet
from treatments.models.medicines import keepers_logged_by, keepers_seen_by


def treatment_for(person: Person, pk: int) -> Treatment:
    """A treatment the person may see."""
    treatments = Treatment.objects.visible_to(person)
    rows = treatments.select_related("application", "yard__club", "yard__keeper", "yard__region", "recount")
    return get_object_or_404(rows, pk=pk)


def recordable_treatment_for(person: Person, pk: int) -> Treatment:
    """A treatment the person may go on with, or cancel."""
    treatments = Treatment.objects.select_related("application", "yard__club", "recount")
    return allowed_or_refused(
        pk, visible=treatments.visible_to(person), allowed=treatments.recordable_by(person)
    )


def recordable_recount_for(person: Person, pk: int) -> Recount:
    """A recount the person may do or skip."""
    recounts = Recount.objects.select_related("treatment__application", "treatment__yard__club")
    return allowed_or_refused(pk, visible=recounts.visible_to(person), allowed=recounts.recordable_by(person))


def recordable_keeper_for(person: Person, pk: int) -> Person:
    """A keeper for whom the person may log purchases and disposals."""
    return allowed_or_refused(pk, visible=keepers_seen_by(person), allowed=keepers_logged_by(person))


def editable_purchase_for(person: Person, pk: int) -> MedicinePurchase:
    """A purchase the person may correct or void."""
    purchases = MedicinePurchase.objects.select_related("keeper")
    return allowed_or_refused(pk, visible=purchases.visible_to(person), allowed=purchases.editable_by(person))


def editable_disposal_for(person: Person, pk: int) -> MedicineDisposal:
    """A disposal the person may correct or void."""
    disposals = MedicineDisposal.objects.select_related("keeper")
    return allowed_or_refused(pk, visible=disposals.visible_to(person), allowed=disposals.editable_by(person))


def round_for(person: Person, pk: int) -> Round:
    """A round of a treatment the person may see."""
    rows = Round.objects.filter(treatment__in=Treatment.objects.visible_to(person))
    return get_object_or_404(rows.select_related("treatment__application", "treatment__yard"), pk=pk)


def dose_for(person: Person, pk: int) -> Dose:
    """A dose of a treatment the person may see."""
    rows = Dose.objects.filter(round__treatment__in=Treatment.objects.visible_to(person))
    return get_object_or_404(rows.select_related("colony", "round__treatment__application"), pk=pk)


def recount_for(person: Person, pk: int) -> Recount:
    """A recount the person may see."""
    rows = Recount.objects.visible_to(person)
    return get_object_or_404(rows.select_related("treatment__application", "treatment__yard"), pk=pk)


def purchase_for(person: Person, pk: int) -> MedicinePurchase:
    """A purchase the person may see."""
    return get_object_or_404(MedicinePurchase.objects.visible_to(person), pk=pk)


def disposal_for(person: Person, pk: int) -> MedicineDisposal:
    """A disposal the person may see."""
    return get_object_or_404(MedicineDisposal.objects.visible_to(person), pk=pk)


def locked_entries_for(person: Person) -> LockedEntryQuerySet:
    """Records of former members in an inspector's regions; for everybody else the page does not exist."""
    if not person.can(Permission.YARD_VIEW_IN_REGION):
        raise Http404
    return LockedEntry.objects.visible_to(person)


def planned_round_for(person: Person, pk: int, number: int) -> Round:
    """A round of a standing treatment that the person may go on with and that was not given yet; else 404."""
    treatment = recordable_treatment_for(person, pk)
    rows = Round.objects.select_related("treatment__application", "treatment__yard__club")
    return get_object_or_404(
        rows, treatment=treatment, number=number, given_on=None, treatment__cancelled_at=None
    )


def sheet_for(person: Person, pk: int, number: int) -> DaySheet:
    """The sheet of a round that the person may see."""
    treatment = treatment_for(person, pk)
    rows = DaySheet.objects.select_related(
        "device", "recorded_by", "round__treatment__application", "round__treatment__yard__club"
    )
    rows = rows.select_related("round__treatment__recount")
    return get_object_or_404(rows, round__treatment=treatment, round__number=number)


def recordable_sheet_for(person: Person, pk: int, number: int) -> DaySheet:
    """A sheet on which the person may tick; also one that is over, so that ticks kept on a phone get an answer."""
    return sheet_for(person, recordable_treatment_for(person, pk).pk, number)


def own_device_for(person: Person, pk: int) -> Device:
    """A device of the person's own, also one put away; 404 for everybody else's."""
    return get_object_or_404(Device, keeper=person, pk=pk)
