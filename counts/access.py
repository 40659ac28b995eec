"""The only way for a request to get a count."""

from django.shortcuts import get_object_or_404

from apiaries.access import allowed_or_refused
from apiaries.models import Person
from counts.models import MiteSample


def sample_for(person: Person, pk: int) -> MiteSample:
    """A count the person may see, voided or not."""
    samples = MiteSample.objects.visible_to(person)
    return get_object_or_404(samples.select_related("colony", "yard__club", "recorded_by", "basis"), pk=pk)


def editable_sample_for(person: Person, pk: int) -> MiteSample:
    """A count the person may correct or void."""
    samples = MiteSample.objects.select_related("colony", "yard__club", "recorded_by", "basis")
    return allowed_or_refused(pk, visible=samples.visible_to(person), allowed=samples.editable_by(person))
