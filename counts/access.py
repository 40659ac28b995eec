"""The only way for a request to get a count, a count week or a sheet that was brought."""

from django.shortcuts import get_object_or_404

from apiaries.access import allowed_or_refused, club_for
from apiaries.models import Person
from apiaries.permissions import Permission
from counts.models import CountWeek, ImportBatch, MiteSample


def sample_for(person: Person, pk: int) -> MiteSample:
    """A count the person may see, voided or not."""
    samples = MiteSample.objects.visible_to(person)
    return get_object_or_404(samples.select_related("colony", "yard__club", "recorded_by", "basis"), pk=pk)


def editable_sample_for(person: Person, pk: int) -> MiteSample:
    """A count the person may correct or void."""
    samples = MiteSample.objects.select_related("colony", "yard__club", "recorded_by", "basis")
    return allowed_or_refused(pk, visible=samples.visible_to(person), allowed=samples.editable_by(person))


def settable_week_for(person: Person, pk: int) -> CountWeek:
    """A count week of the person's club, for those whose role includes setting them."""
    weeks = CountWeek.objects.select_related("club").filter(club=club_for(person, Permission.COUNT_WEEK_SET))
    return get_object_or_404(weeks, pk=pk)


def week_for(person: Person, pk: int) -> CountWeek:
    """A count week of the person's club."""
    return get_object_or_404(CountWeek.objects.visible_to(person).select_related("club"), pk=pk)


def import_for(person: Person, pk: int) -> ImportBatch:
    """A sheet that the person brought."""
    batches = ImportBatch.objects.visible_to(person)
    return get_object_or_404(batches.select_related("club", "by", "keeper", "undone_by"), pk=pk)
