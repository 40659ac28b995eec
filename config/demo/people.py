"""Makes the invented club: its people, regions, yards and colonies."""

import datetime as dt
from dataclasses import dataclass, field
from decimal import Decimal
from random import Random

from allauth.account.models import EmailAddress
from django.contrib.auth.hashers import make_password

from apiaries.actions import (
    accept_invitation,
    add_numbered_colonies,
    add_region,
    add_yard,
    found_club,
    invite,
    set_operator,
    set_sharing,
)
from apiaries.models import Club, Colony, Person, Region, Yard
from apiaries.permissions import Role
from config.demo import scenario
from config.demo.bees import Bees

# Middle of the invented valley: open water, where nobody keeps bees.
LATITUDE, LONGITUDE = 43.6, -77.9
# From there to the middle of each region, in the order of their names; all of it in the same water.
AROUND = ((0.12, -0.5), (-0.2, 0.0), (0.15, 0.45), (-0.05, 0.85))
SPREAD = 0.16


@dataclass
class YardOfBees:
    """A yard, its keeper's habits and its colonies with their invented mites."""

    yard: Yard
    keeper: Person
    colonies: list[Colony]
    bees: dict[int, Bees]


@dataclass
class DemoClub:
    """The club and everybody in it."""

    club: Club
    regions: dict[str, Region]
    administrator: Person
    coordinator: Person
    inspector: Person
    keepers: list[Person] = field(default_factory=list)
    yards: list[YardOfBees] = field(default_factory=list)


def make_club(*, scale: scenario.Scale, first_day: dt.date, at: dt.datetime, random: Random) -> DemoClub:
    """The club with all its yards, empty of counts."""
    administrator = make_person("Robin Rowan", "administrator@example.org")
    set_operator(person=administrator, is_operator=True, by=None)
    club = found_club(
        name=scenario.CLUB,
        time_zone=scenario.TIME_ZONE,
        jurisdiction=scenario.JURISDICTION,
        action_level_issuer=scenario.ISSUER,
        is_invented=True,
        administrator=administrator,
    )
    regions = {name: add_region(club=club, name=name, by=administrator) for name in scenario.REGIONS}
    demo = DemoClub(
        club=club,
        regions=regions,
        administrator=administrator,
        coordinator=join(club, "Casey Cedar", "coordinator@example.org", Role.COORDINATOR, at, administrator),
        inspector=join(
            club,
            "Indra Iris",
            "inspector@example.org",
            Role.INSPECTOR,
            at,
            administrator,
            regions=[regions["North Fork"], regions["Mill Bend"]],
        ),
    )
    for plan in scenario.keepers(scale, random):
        keeper = join(club, plan.name, plan.email, Role.MEMBER, at, administrator)
        demo.keepers.append(keeper)
        if random.random() < 0.3:
            set_sharing(membership=keeper.memberships.get(), shares_counts=True, by=keeper)
        for number, colonies in enumerate(plan.colonies):
            name = scenario.PLACES[number % len(scenario.PLACES)]
            suffix = f" {number // len(scenario.PLACES) + 1}" if number >= len(scenario.PLACES) else ""
            demo.yards.append(
                make_yard(keeper, regions[plan.region], name + suffix, colonies, first_day, random)
            )
    return demo


def make_yard(
    keeper: Person, region: Region, name: str, colonies: int, first_day: dt.date, random: Random
) -> YardOfBees:
    """A yard with numbered colonies, somewhere in the invented valley."""
    north, east = AROUND[scenario.REGIONS.index(region.name) % len(AROUND)]
    middle = (LATITUDE + north, LONGITUDE + east)
    place = (Decimal(str(round(centre + random.uniform(-SPREAD, SPREAD), 5))) for centre in middle)
    latitude, longitude = place
    yard = add_yard(
        keeper=keeper, region=region, name=name, latitude=latitude, longitude=longitude, by=keeper
    )
    made = add_numbered_colonies(
        yard=yard,
        first=1,
        last=colonies,
        started_on=first_day,
        brood_boxes=random.choice([1, 1, 2]),
        by=keeper,
    )
    bees = {colony.pk: Bees(random, first_day) for colony in made}
    return YardOfBees(yard=yard, keeper=keeper, colonies=made, bees=bees)


def make_person(name: str, email: str) -> Person:
    """An invented person with a reachable address; only those of `let_in` have a password."""
    person = Person.objects.create_user(email, name=name, time_zone=scenario.TIME_ZONE)
    EmailAddress.objects.create(user=person, email=email, verified=True, primary=True)
    return person


def let_in(people: list[Person]) -> None:
    """Give these people the demo's password. Hashed once: hashing is slow on purpose."""
    encoded = make_password(scenario.PASSWORD)
    Person.objects.filter(pk__in=[person.pk for person in people]).update(password=encoded)


def join(
    club: Club,
    name: str,
    email: str,
    role: Role,
    at: dt.datetime,
    by: Person,
    regions: list[Region] | None = None,
) -> Person:
    """Invite somebody and accept for them."""
    invitation = invite(club=club, email=email, role=role, regions=regions or [], at=at, by=by)
    person = make_person(name, email)
    accept_invitation(invitation=invitation, at=at, by=person)
    return Person.objects.get(pk=person.pk)  # without the membership that was looked up before joining
