"""Things that most people may not name, with keys so large that no other number of a page is one."""

from typing import Any

from apiaries.actions import add_region
from apiaries.models import Colony, Person, Region, Yard
from tests.access.choices import MAY_NAME
from tests.cast import STARTED, Cast
from treatments.models import Device

FIRST = 7_300_001


def make_foreign(cast: Cast) -> dict[str, dict[str, list[int]]]:
    """By kind and whose they are: a region of another club, a yard there, one of Charlie's and one of Alice's."""
    zoe = cast.zoe
    add_region(club=zoe.membership.club, name="Near", by=zoe)
    far = Region.objects.create(pk=FIRST, club=zoe.membership.club, name="Far")
    west = Region.objects.create(pk=FIRST + 1, club=cast.club, name="West")
    someone = Person.objects.create(pk=FIRST, email="yan@example.org", name="Yan", time_zone="Europe/Berlin")
    found: dict[str, dict[str, list[int]]] = {
        "region": {"far": [*Region.objects.filter(club=far.club).values_list("pk", flat=True)]},
        "person": {"yan": [someone.pk]},
        "device": {"yan": [Device.objects.create(pk=FIRST, keeper=someone, **_pan(cast)).pk]},
        "yard": {},
        "colony": {},
    }
    found["region"]["club"] = [cast.north.pk, cast.south.pk, west.pk]
    for place, (whose, keeper, region) in enumerate(
        (("far", zoe, far), ("charlie", cast.charlie, cast.south), ("home", cast.alice, cast.north)), start=1
    ):
        pk = FIRST + place
        yard = Yard.objects.create(
            pk=pk,
            club=region.club,
            keeper=keeper,
            region=region,
            name=f"Yard {pk}",
            time_zone="Europe/Berlin",
        )
        colony = Colony.objects.create(pk=pk, yard=yard, name="1", number=1, started_on=STARTED)
        found["yard"][whose], found["colony"][whose] = [yard.pk], [colony.pk]
    for whose, keeper in (("charlie", cast.charlie), ("home", cast.alice)):
        found["yard"][whose] += (
            Yard.objects.filter(keeper=keeper).exclude(pk__gte=FIRST).values_list("pk", flat=True)
        )
        found["colony"][whose] += (
            Colony.objects.filter(yard__keeper=keeper).exclude(pk__gte=FIRST).values_list("pk", flat=True)
        )
    for name in MAY_NAME:
        found["person"][name] = [getattr(cast, name).pk]
    found["device"]["alice"] = [*Device.objects.filter(keeper=cast.alice).values_list("pk", flat=True)]
    return found


def _pan(cast: Cast) -> dict[str, Any]:
    """The facts of Alice's device, but for whose it is."""
    facts = Device.objects.filter(keeper=cast.alice).values().get()
    return {name: value for name, value in facts.items() if name not in ("id", "keeper_id")}


def named_by(found: dict[str, dict[str, list[int]]], person: str, kind: str) -> set[int]:
    """Keys of the things of that kind that the person may name."""
    return {pk for whose in MAY_NAME[person].get(kind, "").split() for pk in found[kind].get(whose, [])}


def hidden_from(found: dict[str, dict[str, list[int]]], person: str, kind: str) -> list[int]:
    """Keys of those that they may not, as far as no other number looks like them."""
    everything = {pk for keys in found[kind].values() for pk in keys}
    return sorted(pk for pk in everything - named_by(found, person, kind) if pk >= FIRST)
