"""The only way for a request to get a treatment or a recount."""

from django.shortcuts import get_object_or_404

from apiaries.access import allowed_or_refused
from apiaries.models import Person
from treatments.models import Recount, Treatment


def treatment_for(person: Person, pk: int) -> Treatment:
    """A treatment the person may see."""
    treatments = Treatment.objects.visible_to(person)
    return get_object_or_404(treatments.select_related("application", "yard__club", "recount"), pk=pk)


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
