"""An invented country of keepers for measuring: regions, people, yards and colonies, some large and most small.

Nothing here is anybody's; the shape is: a seventh of all yards in the largest region, most keepers with one yard and a
few with many, visits that count all colonies of a yard, more of them in late summer.
"""

import datetime as dt
from dataclasses import dataclass

import h3
import numpy as np
import numpy.typing as npt

from apiaries.actions import add_region, found_club
from apiaries.models import Club, Colony, Membership, Person, Region, Yard
from apiaries.models.places import COARSE_RESOLUTION, LABEL_LETTERS
from apiaries.permissions import Role
from config.demo import scenario
from config.demo.people import join, make_person

Ints = npt.NDArray[np.int64]

REGIONS = 48
SAMPLES_OF_A_YARD = 166  # in all years
COLONIES = (2, 10)  # in a yard, from and to
AT_ONCE = 20_000
COORDINATOR = "coordinator@example.org"
# Middle of an inland sea that is on no map of ours: the yards lie around it, in its water.
LATITUDE, LONGITUDE = 43.6, -77.9


@dataclass(frozen=True)
class Country:
    """One club over all regions; arrays with a place for each yard, and the colonies of each from `first` on."""

    club: Club
    regions: Ints
    keepers: Ints
    yards: Ints
    colonies: Ints
    first: Ints


def make_country(
    samples: int, *, first_day: dt.date, at: dt.datetime, random: np.random.Generator
) -> Country:
    """A club large enough for so many counts; without counts."""
    administrator = make_person("Robin Rowan", "administrator@example.org")
    club = found_club(
        name="The invented country",
        time_zone=scenario.TIME_ZONE,
        jurisdiction=scenario.JURISDICTION,
        action_level_issuer=scenario.ISSUER,
        is_invented=True,
        administrator=administrator,
    )
    join(club, "Casey Cedar", COORDINATOR, Role.COORDINATOR, at, administrator)
    regions = [add_region(club=club, name=f"Region {n + 1:02}", by=administrator) for n in range(REGIONS)]
    number = max(samples // SAMPLES_OF_A_YARD, 5 * REGIONS)
    keepers = _keepers(club, _yards_of_keepers(number, random), at)
    places = np.sort(random.choice(REGIONS, number, p=_sizes()))
    yards = _yards(club, [regions[place] for place in places], keepers, random)
    colonies = random.integers(COLONIES[0], COLONIES[1], number, endpoint=True)
    first = np.concatenate([[0], np.cumsum(colonies)[:-1]])
    return Country(
        club,
        np.asarray([regions[place].pk for place in places]),
        keepers,
        yards,
        _colonies(yards, colonies, first_day),
        first,
    )


def _sizes() -> npt.NDArray[np.float64]:
    """Shares of the regions: the largest has about a seventh."""
    sizes = 1.0 / (np.arange(REGIONS) + 1.6)
    return np.asarray(sizes / sizes.sum())


def _yards_of_keepers(yards: int, random: np.random.Generator) -> Ints:
    """For each yard the place of its keeper: most keep one, a few keep dozens."""
    owned = np.minimum(random.zipf(2.1, yards), 60)
    keeper = np.repeat(np.arange(yards), owned)[:yards]
    return np.asarray(keeper)


def _keepers(club: Club, places: Ints, at: dt.datetime) -> Ints:
    people = [
        Person(email=f"keeper{n:06}@example.org", name=f"Keeper {n:06}", password="!")  # noqa: S106  (nobody signs in)
        for n in range(int(places.max()) + 1)
    ]
    made = Person.objects.bulk_create(people, batch_size=AT_ONCE)
    Membership.objects.bulk_create(
        (Membership(club=club, person=person, role=Role.MEMBER, started_at=at) for person in made),
        batch_size=AT_ONCE,
    )
    return np.asarray([made[place].pk for place in places])


def _yards(club: Club, regions: list[Region], keepers: Ints, random: np.random.Generator) -> Ints:
    middles = _middles(regions)
    around = random.normal(0, 0.35, (len(keepers), 2)) + [middles[region.pk] for region in regions]
    rows = (
        Yard(
            club=club,
            keeper_id=int(keeper),
            region=region,
            name=f"Yard {n:06}",
            time_zone=scenario.TIME_ZONE,
            cell=h3.latlng_to_cell(LATITUDE + north, LONGITUDE + east, COARSE_RESOLUTION),
        )
        for n, (keeper, region, (north, east)) in enumerate(zip(keepers, regions, around, strict=True))
    )
    return np.asarray([yard.pk for yard in Yard.objects.bulk_create(rows, batch_size=AT_ONCE)])


def _middles(regions: list[Region]) -> dict[int, tuple[float, float]]:
    """Where each region lies, from the middle of the country: on a spiral, so that none covers another."""
    found = {}
    for number, pk in enumerate(sorted({region.pk for region in regions})):
        turn, out = 2.39996 * number, 0.75 * number**0.5  # the golden angle
        found[pk] = (out * float(np.sin(turn)), out * float(np.cos(turn)))
    return found


def _colonies(yards: Ints, numbers: Ints, first_day: dt.date) -> Ints:
    names = (
        (int(yard), n) for yard, number in zip(yards, numbers, strict=True) for n in range(1, number + 1)
    )
    rows = (
        Colony(yard_id=yard, name=str(n), number=n, label_code=_label(place), started_on=first_day)
        for place, (yard, n) in enumerate(names)
    )
    return np.asarray([colony.pk for colony in Colony.objects.bulk_create(rows, batch_size=AT_ONCE)])


def _label(place: int) -> str:
    """A label of its own: of so many drawn by chance, two would be alike one time in thirteen."""
    letters = ""
    for _ in range(8):
        place, letter = divmod(place, len(LABEL_LETTERS))
        letters = LABEL_LETTERS[letter] + letters
    return letters
