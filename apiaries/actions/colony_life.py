"""What happens to colonies: splitting, uniting, requeening, ending; and undoing what was noted by mistake."""

import datetime as dt

from apiaries.actions.colonies import (
    NameTaken,
    NotThereYet,
    add_named,
    living_locked,
    move_starts_back,
    tell_yards,
)
from apiaries.history import action
from apiaries.models import ChangeKind, Colony, ColonyChange, Person, Yard
from apiaries.models.ends import NOTED_BY_MISTAKE, UNITED_WITH


class SameColony(ValueError):
    """A colony cannot be united with itself."""


class AlreadyUndone(ValueError):
    """This was undone before."""


@action
def split_colony(
    *,
    colony: Colony,
    to_yard: Yard,
    name: str,
    split_on: dt.date,
    brood_boxes: int = 1,
    note: str = "",
    by: Person,
) -> Colony:
    """A new colony made from this one, with a hive label of its own; it stands in `to_yard` from that day on.

    Errors: AlreadyEnded; NotThereYet; NameTaken in the yard it goes to.
    """
    Yard.objects.hold([colony.yard_id, to_yard.pk])
    move_starts_back([(colony, split_on, False)])
    mother = living_locked(colony)
    _not_before(split_on, mother)
    (daughter,) = add_named(yard=to_yard, names=[name], started_on=split_on, brood_boxes=brood_boxes)
    _note(mother, ChangeKind.SPLIT, split_on, note=note, other=daughter, by=by)
    return daughter


@action
def unite_colonies(
    *, colony: Colony, into: Colony, united_on: dt.date, note: str = "", by: Person
) -> ColonyChange:
    """The bees of `colony` went into `into`: it ends that day, and says where they went.

    Errors: SameColony; AlreadyEnded of either; NotThereYet.
    """
    if colony.pk == into.pk:
        raise SameColony(str(colony))
    Yard.objects.hold([colony.yard_id, into.yard_id])
    move_starts_back([(colony, united_on, False), (into, united_on, False)])
    # In the order of their keys, so that two who unite the same pair both ways do not wait for each other.
    locked = {one.pk: living_locked(one) for one in sorted((colony, into), key=lambda one: one.pk)}
    _not_before(united_on, locked[colony.pk], locked[into.pk])
    change = _note(locked[colony.pk], ChangeKind.UNITED, united_on, note=note, other=locked[into.pk], by=by)
    _end(colony, united_on, UNITED_WITH.format(what=locked[into.pk].name))
    return change


@action
def requeen_colony(*, colony: Colony, requeened_on: dt.date, note: str = "", by: Person) -> ColonyChange:
    """The colony has another queen. Errors: AlreadyEnded; NotThereYet."""
    move_starts_back([(colony, requeened_on, False)])
    locked = living_locked(colony)
    _not_before(requeened_on, locked)
    return _note(locked, ChangeKind.REQUEENED, requeened_on, note=note, by=by)


@action
def end_colony(*, colony: Colony, ended_on: dt.date, why: str, by: Person) -> Colony:
    """The colony died out or was sold; its history stays. Errors: AlreadyEnded."""
    move_starts_back([(colony, ended_on, False)])
    living_locked(colony)
    _note(colony, ChangeKind.ENDED, ended_on, note=why, by=by)
    return _end(colony, ended_on, why)


@action
def undo_change(
    *, change: ColonyChange, why: str, never_there: bool = False, at: dt.datetime, by: Person
) -> ColonyChange:
    """What was noted did not happen so; it stays to be seen, struck through.

    A union or an end undone: the colony lives again. A split undone: the new colony stays and comes from nowhere; with
    `never_there` it ends on its first day. Errors: AlreadyUndone; NameTaken, if another colony has the name by now.
    """
    Yard.objects.hold(one.yard_id for one in (change.colony, change.other) if one)
    locked = (
        ColonyChange.objects.select_for_update(of=("self",))
        .select_related("colony", "other")
        .get(pk=change.pk)
    )
    if locked.voided_at is not None:
        raise AlreadyUndone(str(locked))
    locked.voided_at, locked.voided_by, locked.voided_why = at, by, why.strip()
    locked.save(update_fields=["voided_at", "voided_by", "voided_why"])
    if locked.kind in (ChangeKind.UNITED, ChangeKind.ENDED):
        _live_again(locked.colony)
    elif locked.kind == ChangeKind.SPLIT and never_there and locked.other and locked.other.ended_on is None:
        words = NOTED_BY_MISTAKE.format(what=why.strip())[:200]
        end_colony(colony=locked.other, ended_on=locked.other.started_on, why=words, by=by)
    return locked


def _live_again(colony: Colony) -> None:
    if colony.yard.colonies.living().filter(name__iexact=colony.name).exists():
        raise NameTaken([colony.name])
    colony.ended_on, colony.ended_why = None, ""
    colony.save(update_fields=["ended_on", "ended_why"])
    tell_yards(colony.yard_id)


def _not_before(on: dt.date, *colonies: Colony) -> None:
    for colony in colonies:
        if on < colony.started_on:
            raise NotThereYet(str(colony))


def _note(
    colony: Colony, kind: ChangeKind, on: dt.date, *, note: str, by: Person, other: Colony | None = None
) -> ColonyChange:
    change = ColonyChange(
        colony=colony, kind=kind, other=other, happened_on=on, note=note.strip(), recorded_by=by
    )
    change.full_clean()
    change.save()
    return change


def _end(colony: Colony, on: dt.date, why: str) -> Colony:
    colony.ended_on, colony.ended_why = on, why.strip()
    colony.full_clean()
    colony.save(update_fields=["ended_on", "ended_why"])
    tell_yards(colony.yard_id)
    return colony
