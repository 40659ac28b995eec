"""The cast of every test, with fixed meanings, made through the real actions.

Alice keeps "Home yard" (colonies 1-6) and Bob helps her there; Charlie keeps a yard of his own; Dana coordinates;
Ines inspects Alice's region and Ivan another; Adam administers the club; Zoe belongs to another club altogether.
"""

import datetime as dt
from dataclasses import dataclass, field

from apiaries.actions import add_helper, add_numbered_colonies, add_region, add_yard, found_club
from apiaries.models import Club, Colony, Membership, Person, Region, Yard
from apiaries.permissions import Role

STARTED = dt.date(2026, 4, 1)
PASSWORD = "smoke-and-bellows-7"


@dataclass
class Cast:
    """People and places; look up by name."""

    club: Club
    north: Region
    south: Region
    alice: Person
    bob: Person
    charlie: Person
    dana: Person
    ines: Person
    ivan: Person
    adam: Person
    zoe: Person
    alice_yard: Yard
    charlie_yard: Yard
    colonies: list[Colony] = field(default_factory=list)

    @property
    def colony(self) -> Colony:
        """Alice's colony 1."""
        return self.colonies[0]


def make_person(name: str) -> Person:
    """Somebody with a name, an address at example.org and the password of all tests."""
    return Person.objects.create_user(
        f"{name.lower()}@example.org", password=PASSWORD, name=name, time_zone="Europe/Berlin"
    )


def join(club: Club, person: Person, role: Role, *regions: Region) -> Person:
    """Put a person straight into a club; invitations have tests of their own."""
    membership = Membership.objects.create(club=club, person=person, role=role)
    membership.regions.set(regions)
    return person


def make_cast() -> Cast:
    """The cast in a fresh club."""
    adam = make_person("Adam")
    club = found_club(
        name="Test club",
        time_zone="Europe/Berlin",
        action_level_issuer="us_usda_ars_tucson",
        administrator=adam,
    )
    north, south = (add_region(club=club, name=name, by=adam) for name in ("North", "South"))
    alice, bob, charlie = (join(club, make_person(name), Role.MEMBER) for name in ("Alice", "Bob", "Charlie"))
    alice_yard = add_yard(keeper=alice, region=north, name="Home yard", by=alice)
    charlie_yard = add_yard(keeper=charlie, region=south, name="Orchard", by=charlie)
    add_helper(yard=alice_yard, person=bob, by=alice)
    colonies = add_numbered_colonies(yard=alice_yard, first=1, last=6, started_on=STARTED, by=alice)
    add_numbered_colonies(yard=charlie_yard, first=1, last=2, started_on=STARTED, by=charlie)
    zoe = make_person("Zoe")
    found_club(name="Another club", time_zone="Europe/Berlin", administrator=zoe)
    return Cast(
        club=club,
        north=north,
        south=south,
        alice=alice,
        bob=bob,
        charlie=charlie,
        dana=join(club, make_person("Dana"), Role.COORDINATOR),
        ines=join(club, make_person("Ines"), Role.INSPECTOR, north),
        ivan=join(club, make_person("Ivan"), Role.INSPECTOR, south),
        adam=adam,
        zoe=zoe,
        alice_yard=alice_yard,
        charlie_yard=charlie_yard,
        colonies=colonies,
    )
