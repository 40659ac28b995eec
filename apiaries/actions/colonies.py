"""Colonies: adding many at once, describing, moving. What else happens to them: `colony_life`."""

import datetime as dt
from collections.abc import Iterable, Sequence

from django.db.models import Q

from apiaries.history import action
from apiaries.models import Brood, ChangeKind, Colony, ColonyMove, Person, Yard
from apiaries.signals import colonies_changed

MOST_AT_ONCE = 200


class NameTaken(ValueError):
    """Living colonies of the yard already have some of these names: `names` lists them."""

    def __init__(self, names: Sequence[str]) -> None:
        super().__init__(", ".join(names))
        self.names = tuple(names)


class TooMany(ValueError):
    """More colonies at once than `MOST_AT_ONCE`, or a range that runs backwards."""


class SameYard(ValueError):
    """A move needs two yards."""


class NotThereYet(ValueError):
    """The colony began later than that."""


class AlreadyEnded(ValueError):
    """The colony died out, was united or sold before."""


@action
def add_numbered_colonies(
    *, yard: Yard, first: int, last: int, started_on: dt.date, brood_boxes: int = 1, by: Person
) -> list[Colony]:
    """Colonies named first, first + 1 … last: all of them or none."""
    if first < 0 or last < first or last - first >= MOST_AT_ONCE:
        raise TooMany(f"From {first} to {last}")
    names = [str(number) for number in range(first, last + 1)]
    return add_named(yard=yard, names=names, started_on=started_on, brood_boxes=brood_boxes)


@action
def add_colonies(
    *,
    yard: Yard,
    names: Sequence[str],
    started_on: dt.date,
    started_known: bool = True,
    brood_boxes: int = 1,
    by: Person,
) -> list[Colony]:
    """Colonies with the names given: all of them or none."""
    if not 0 < len(names) <= MOST_AT_ONCE:
        raise TooMany(str(len(names)))
    return add_named(
        yard=yard, names=names, started_on=started_on, started_known=started_known, brood_boxes=brood_boxes
    )


@action
def describe_colony(
    *,
    colony: Colony,
    name: str,
    brood_boxes: int,
    supers_on: bool,
    brood: Brood,
    brood_seen_on: dt.date | None,
    by: Person,
) -> Colony:
    """What the keeper saw last. Brood needs the date it was seen, unless nobody looked."""
    colony.name, colony.number = name.strip(), number_of(name)
    colony.brood_boxes, colony.supers_on = brood_boxes, supers_on
    colony.brood, colony.brood_seen_on = brood, None if brood == Brood.UNKNOWN else brood_seen_on
    colony.full_clean()
    colony.save(update_fields=["name", "number", "brood_boxes", "supers_on", "brood", "brood_seen_on"])
    return colony


@action
def move_colony(*, colony: Colony, to_yard: Yard, moved_on: dt.date, by: Person) -> ColonyMove:
    """The colony stands in `to_yard` from now on. Its counts keep the yard where they were made."""
    move_starts_back([(colony, moved_on, False)])
    locked = living_locked(colony)
    if to_yard.pk == locked.yard_id:
        raise SameYard(str(to_yard))
    taken = to_yard.colonies.living().filter(name__iexact=locked.name)
    if taken.exists():
        raise NameTaken([locked.name])
    move = ColonyMove(
        colony=locked, from_yard=locked.yard, to_yard=to_yard, moved_on=moved_on, recorded_by=by
    )
    move.full_clean()
    move.save()
    locked.yard = to_yard
    locked.save(update_fields=["yard"])
    colony.yard = to_yard
    tell_yards(move.from_yard_id, to_yard.pk)
    return move


def living_locked(colony: Colony) -> Colony:
    """The colony as it is kept, locked until the transaction ends. Errors: AlreadyEnded."""
    locked = Colony.objects.select_for_update(no_key=True).get(pk=colony.pk)
    if locked.ended_on is not None:
        raise AlreadyEnded(str(locked))
    return locked


def move_starts_back(seen: Iterable[tuple[Colony, dt.date, bool]]) -> None:
    """For actions: colonies were there on days before their start, which then moves back to that day.

    Of a colony whose start is not known, always. Of another only where a person said so (the third of each); the
    colonies noted in its yard with the same start then move along, so that nobody is asked for each of them. A colony
    split from another keeps its day.
    """
    early = [one for one in seen if one[1] < one[0].started_on and (one[2] or not one[0].started_known)]
    if not early:
        return
    Yard.objects.hold({colony.yard_id for colony, _, _ in early})
    split = Q(changes_as_other__kind=ChangeKind.SPLIT, changes_as_other__voided_at=None)
    for colony, on, said in early:
        now = Colony.objects.get(pk=colony.pk)
        which = Q(pk=colony.pk)
        if said and not now.moves.exists():
            with_it = Colony.objects.filter(
                yard=now.yard_id, started_known=True, started_on=now.started_on, moves=None
            ).exclude(split)
            which |= Q(pk__in=list(with_it.values_list("pk", flat=True)))
        if not Colony.objects.filter(split, pk=colony.pk).exists():
            Colony.objects.filter(which, started_on__gt=on).update(started_on=on)
            colony.started_on = min(now.started_on, on)
    tell_yards(*{colony.yard_id for colony, _, _ in early})


def add_named(
    *,
    yard: Yard,
    names: Sequence[str],
    started_on: dt.date,
    started_known: bool = True,
    brood_boxes: int,
) -> list[Colony]:
    """Colonies with these names, for actions. Errors: NameTaken."""
    # Two hands adding to one yard at once: the second waits, then hears which names are taken.
    Yard.objects.hold([yard.pk])
    cleaned = [name.strip() for name in names]
    wanted = [name.lower() for name in cleaned]
    living = {name.lower() for name in yard.colonies.living().values_list("name", flat=True)}
    taken = [name for name in cleaned if name.lower() in living or wanted.count(name.lower()) > 1]
    if taken:
        raise NameTaken(taken)
    colonies = [
        Colony(
            yard=yard,
            name=name,
            number=number_of(name),
            started_on=started_on,
            started_known=started_known,
            brood_boxes=brood_boxes,
        )
        for name in cleaned
    ]
    for colony in colonies:
        colony.full_clean(validate_unique=False, validate_constraints=False)
    added = Colony.objects.bulk_create(colonies)
    tell_yards(yard.pk)
    return added


def tell_yards(*yards: int) -> None:
    """Tell other apps that colonies came to these yards or left them."""
    colonies_changed.send(Colony, yards=frozenset(yards))


def number_of(name: str) -> int | None:
    """The number that a name is, for sorting; None where it is a word."""
    bare = name.strip()
    return int(bare) if bare.isascii() and bare.isdigit() and len(bare) <= 6 else None
