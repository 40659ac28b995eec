"""The regions of a club: a new one, another name, and taking back one that nothing was ever recorded of."""

from django.db import models

from apiaries.history import action
from apiaries.models import Club, Person, Region
from apiaries.second_lock import by_the_service


class RegionInUse(ValueError):
    """Something recorded points to the region."""


@action
def add_region(*, club: Club, name: str, by: Person | None) -> Region:
    """A new region of the club."""
    region = Region(club=club, name=name.strip())
    region.full_clean()
    region.save()
    return region


@action
def rename_region(*, region: Region, name: str, by: Person) -> Region:
    """Another name; the yards, figures and inspectors stay with it, and the history keeps the old one."""
    region.name = name.strip()
    region.full_clean()
    region.save(update_fields=["name"])
    return region


@action
def remove_region(*, region: Region, by: Person) -> None:
    """Take back a region of which nothing was ever recorded; its own history stays."""
    # Locked, so that no yard comes into it between the look and the removal.
    locked = Region.objects.select_for_update().get(pk=region.pk)
    if is_in_use(locked):
        raise RegionInUse("Something recorded points to the region.")
    locked.delete()


@by_the_service  # whoever keeps the yard that is in it
def is_in_use(region: Region) -> bool:
    """Whether a yard, a figure, an invitation, an inspector, or the history of one of these points to the region."""
    return any(
        field.related_model._base_manager.filter(**{field.field.name: region}).exists()
        for field in Region._meta.get_fields(include_hidden=True)
        if isinstance(field, models.ForeignObjectRel)
        and not field.many_to_many
        # What it was called before is no use of it.
        and field.field.name != "pgh_obj"
    )
