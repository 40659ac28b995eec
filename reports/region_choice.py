"""What the reader of Region by month asked to see, and the classes its figures are shown in."""

from dataclasses import dataclass
from urllib.parse import urlencode

from apiaries.language import figure, say
from apiaries.models import Region
from counts.action_levels import Level
from counts.samples import Kind
from reports.heat import class_ends
from reports.kinds import PER
from reports.parts import Part
from reports.region_cells import PART_WORDS

BY_NAME, HIGHEST_FIRST = "name", "highest"


@dataclass(frozen=True)
class Choice:
    """What the reader asked to see."""

    kind: Kind
    year: int
    region: Region | None
    part: Part = Part.ALL
    level: Level | None = None
    """The action level to hold yards against; none: what the club's issuer prints for each month."""
    compare: int | None = None
    order: str = BY_NAME

    @property
    def asked(self) -> dict[str, str | int]:
        """What differs from the usual, by the names of the form."""
        more: dict[str, str | int | None] = {
            "region": self.region.pk if self.region else None,
            "part": None if self.part is Part.ALL else self.part.value,
            "level": self.level.key if self.level else None,
            "compare": self.compare,
            "order": None if self.order == BY_NAME else self.order,
        }
        return {"kind": self.kind.value, "year": self.year} | {k: v for k, v in more.items() if v is not None}

    @property
    def query(self) -> str:
        """The same as a query of an address."""
        return urlencode(self.asked)

    @property
    def query_of_all(self) -> str:
        """The same for all regions."""
        return urlencode({name: value for name, value in self.asked.items() if name != "region"})

    @property
    def part_words(self) -> str:
        return say(PART_WORDS[self.part])


@dataclass(frozen=True)
class HeatClass:
    """One of the classes of the table and the map, with its ends in words."""

    number: int
    ends: str


def heat_classes(kind: Kind) -> list[HeatClass]:
    """The classes of the table and the map, with their ends in the page's unit."""
    ends = [figure(f"{end * PER[kind]:g}") for end in class_ends(kind)]
    between = [
        say("{low} to {high}", low=one, high=other) for one, other in zip(ends[:-1], ends[1:], strict=True)
    ]
    told = [say("below {rate}", rate=ends[0]), *between, say("{rate} and more", rate=ends[-1])]
    return [HeatClass(place + 1, words) for place, words in enumerate(told)]
