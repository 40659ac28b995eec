"""The colonies that a visit's form has rows for: nothing typed of a colony is ever left aside without a word."""

import datetime as dt
import re
import uuid
from collections.abc import Collection, Mapping
from typing import TYPE_CHECKING, Any

from django.db.models import Q

from apiaries.language import say
from apiaries.models import Colony, ColonyMove, Person, Visit, Yard
from apiaries.standing import stood_in

if TYPE_CHECKING:
    from reports.visit_form import VisitForm

MOST_ROWS = 60
"""So many colonies have a row on the page; of more, the remarks tell (our choice). One that was filled always has."""
OF_A_COLONY = re.compile(r"[fc]([0-9]{1,17})-")


def filled_keys(boxes: Mapping[str, Any]) -> list[int]:
    """The colonies of which anything is typed, in the order of the boxes."""
    found = ((OF_A_COLONY.match(name), text) for name, text in boxes.items())
    return list(dict.fromkeys(int(name[1]) for name, text in found if name and str(text).strip()))


def rows_in(
    text: str, yard: Yard, *, always: Collection[int] = (), named: Collection[int] = ()
) -> list[Colony]:
    """Colonies that ever stood in the yard, whose rows the page had, in its order; those of `always` whatever it had.

    `named`: keys that the kept visit names, wherever those colonies stand now. Anything else is left aside.
    """
    had = [int(key) for key in text.split(",") if key.isascii() and key.isdigit() and len(key) < 18]
    shown = set(had[:MOST_ROWS]) | set(always)
    wanted = [key for key in dict.fromkeys([*had, *always]) if key in shown]
    moved = ColonyMove.objects.filter(Q(from_yard=yard) | Q(to_yard=yard), colony__in=wanted)
    here = Q(yard=yard) | Q(pk__in=moved.values("colony")) | Q(pk__in=[*named])
    found = Colony.objects.filter(here).select_related("yard__club").in_bulk(wanted)
    return [found[key] for key in wanted if key in found]


def kept_before(entry_key: str, yard: Yard, person: Person) -> Visit | None:
    """The visit that this person kept under that key, if it is a key and there is one."""
    try:
        key = uuid.UUID(entry_key)
    except ValueError:
        return None
    return Visit.objects.filter(entry_key=key, yard=yard, recorded_by=person).first()


def all_there(form: "VisitForm") -> bool:
    """Whether each colony of which anything is typed stood there on that day; else the form says which did not."""
    names = _names(form.strangers, form.person)
    for key in form.strangers:
        form.add_error(
            None,
            say("Colony {name} never stood in this yard: nothing can be noted of it here.", name=names[key]),
        )
    on = form.cleaned_data.get("visited_on")
    filled = [row for row in form.findings if not row.is_empty and row.colony.pk not in form.named]
    if not isinstance(on, dt.date) or not filled:
        return not form.strangers
    there = stood_in(form.yard, [row.colony for row in filled], on)
    away = [row for row in filled if row.colony.pk not in there]
    for row in away:
        row.add_error("opened", say("On that day it stood in another yard."))
    return not away and not form.strangers


def _names(keys: Collection[int], person: Person) -> dict[int, str]:
    """By key, the name of a colony that the person may see; of any other the key as it was sent."""
    if not keys:
        return {}
    seen = Colony.objects.visible_to(person).filter(pk__in=keys).values_list("pk", "name")
    return {key: str(key) for key in keys} | dict(seen)
