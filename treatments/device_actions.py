"""Adding a heater to a keeper's list, once. What changes one later is in `day_actions`."""

import datetime as dt
from collections.abc import Mapping
from typing import Any

from apiaries.history import action
from apiaries.models import Person
from treatments.day_actions import keep_device
from treatments.models import Device


class AlreadyThere(ValueError):
    """The keeper has this very heater in the list; nothing was added."""


@action
def add_device(*, keeper: Person, facts: Mapping[str, Any], at: dt.datetime, by: Person) -> Device:
    """A new device of the keeper. AlreadyThere for one in use with the same facts, as a form sent twice would add.

    The keeper's row is locked meanwhile, so that two forms sent at once are seen one after the other.
    """
    Person.objects.select_for_update(no_key=True).get(pk=keeper.pk)
    if Device.objects.of(keeper).filter(**facts).exists():
        raise AlreadyThere("Another of this kind is a number, not a second entry.")
    return keep_device(device=None, keeper=keeper, facts=facts, at=at, by=by)
