"""The only writers of files that came back."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from hashlib import sha256
from typing import Any

from apiaries.history import action
from apiaries.models import Person, Region
from reports.export.reading import Package
from reports.export.returning import Brought, bring_back
from reports.models import ReturnedFile

KEPT_FOR = dt.timedelta(days=1)
"""A file that its owner does not decide about (our choice)."""


class GoneMeanwhile(ValueError):
    """The file was brought in or given up meanwhile, or another one was sent in its place."""


@action
def keep_returned_file(
    *, person: Person, content: bytes, told: Mapping[str, Any], at: dt.datetime, by: Person
) -> ReturnedFile:
    """Keep a file while its owner looks at what it holds. An earlier one they did not decide about goes."""
    Person.objects.select_for_update(no_key=True).get(pk=person.pk)
    undecided = ReturnedFile.objects.filter(brought_at=None)
    undecided.filter(person=person).delete()
    undecided.filter(sent_at__lt=at - KEPT_FOR).delete()
    return ReturnedFile.objects.create(
        person=person,
        content=content,
        sha256=sha256(content).hexdigest(),
        told=dict(told),
        sent_at=at,
    )


@action
def bring_in(
    *, file: ReturnedFile, package: Package, regions: Mapping[str, Region], at: dt.datetime, by: Person
) -> Brought:
    """Write what is in the file, and that it came from there. Errors: GoneMeanwhile; CannotBringBack."""
    locked = ReturnedFile.objects.select_for_update().filter(pk=file.pk, brought_at=None).first()
    if locked is None:
        raise GoneMeanwhile(str(file))
    brought = bring_back(package=package, regions=regions, person=locked.person, at=at, by=by)
    locked.content, locked.brought_at = b"", at
    locked.save(update_fields=["content", "brought_at"])
    locked.yards.set(brought.places.yards.values())
    return brought


@action
def give_up_file(*, person: Person, by: Person) -> bool:
    """The file is not brought in and goes. False if there was none."""
    gone, _ = ReturnedFile.objects.filter(person=person, brought_at=None).delete()
    return gone > 0
