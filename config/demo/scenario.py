"""Who and where in the demo club. All names are made up; no such people, yards or places exist."""

from dataclasses import dataclass
from random import Random

CLUB = "Elder Valley Beekeepers (invented)"
TIME_ZONE = "America/New_York"
JURISDICTION = "US"
ISSUER = "us_usda_ars_tucson"
PASSWORD = "try-it-out-7"  # noqa: S105  (printed by make demo; load_demo refuses a real service)
SMALL_REGION = "High Pasture"
REGIONS = ("North Fork", "Mill Bend", "Lakeshore", SMALL_REGION)

GIVEN = (
    "Ada",
    "Bram",
    "Cleo",
    "Dov",
    "Edda",
    "Fenn",
    "Gia",
    "Hale",
    "Ilse",
    "Jory",
    "Kaya",
    "Lior",
    "Mara",
    "Nils",
)
FAMILY = (
    "Alder",
    "Briar",
    "Clover",
    "Dogwood",
    "Elder",
    "Fern",
    "Gorse",
    "Heath",
    "Ivy",
    "Juniper",
    "Linden",
)
PLACES = (
    "Home yard",
    "Long Meadow",
    "Old Orchard",
    "Behind the barn",
    "Quarry edge",
    "Mill race",
    "Chapel lane",
    "South slope",
    "Clover field",
    "Railway bank",
    "The hedge",
    "Upper pasture",
)


@dataclass(frozen=True)
class Scale:
    """How big a club to make."""

    keepers: int = 60
    yards: int = 140
    colonies: int = 900


@dataclass(frozen=True)
class KeeperPlan:
    """A made-up keeper: name, address, region and the number of colonies in each of their yards."""

    name: str
    email: str
    region: str
    colonies: tuple[int, ...]


def keepers(scale: Scale, random: Random) -> list[KeeperPlan]:
    """Keepers with their yards and colonies; two of them alone in the small region."""
    yards = _shares(scale.yards, scale.keepers, random)
    sizes = iter(_shares(scale.colonies, scale.yards, random))
    plans = []
    for number in range(scale.keepers):
        given, family = GIVEN[number % len(GIVEN)], FAMILY[number // len(GIVEN) % len(FAMILY)]
        region = SMALL_REGION if number >= scale.keepers - 2 else REGIONS[number % 3]
        plans.append(
            KeeperPlan(
                name=f"{given} {family}",
                email=f"{given}.{family}@example.org".lower(),
                region=region,
                colonies=tuple(next(sizes) for _ in range(yards[number])),
            )
        )
    return plans


def _shares(total: int, parts: int, random: Random) -> list[int]:
    """`total` dealt out to `parts`, at least one each, some much larger than others."""
    dealt = [1] * parts
    weights = [random.gammavariate(0.9, 1.0) + 0.15 for _ in range(parts)]
    for index in random.choices(range(parts), weights=weights, k=total - parts):
        dealt[index] += 1
    return dealt
