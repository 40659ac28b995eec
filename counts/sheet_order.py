"""The number on a yard sheet, and the rows in the order of the sheet that has it."""

import datetime as dt
import re
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Q

from apiaries.models import Colony, Yard
from counts.planning import SPARES, seed_of
from counts.sampling_plan import draw_colonies

NUMBER = re.compile(r"\s*(\d{4})(\d\d)(\d\d)[-\s](\d{1,4})[-\s](\d{1,4})\s*", re.ASCII)


@dataclass(frozen=True, slots=True)
class SheetNumber:
    """The day a sheet was drawn for, which draw of that day it is, and how many colonies were to be sampled."""

    on: dt.date
    draw: int
    k: int

    def __str__(self) -> str:
        return f"{self.on:%Y%m%d}-{self.draw}-{self.k}"


def read_sheet_number(text: str) -> SheetNumber | None:
    """The number as printed; None for anything else."""
    found = NUMBER.fullmatch(text)
    if found is None:
        return None
    year, month, day, draw, k = map(int, found.groups())
    try:
        return SheetNumber(dt.date(year, month, day), draw, k)
    except ValueError:
        return None


def in_sheet_order(yard: Yard, living: Sequence[Colony], number: SheetNumber) -> list[Colony]:
    """The colonies listed on the sheet first, in its order, then the others as they came. One query.

    Who has gone since is still drawn, so that the others keep their places, and then left out; who came later is not.
    """
    there = yard.colonies.filter(started_on__lte=number.on).filter(
        Q(ended_on=None) | Q(ended_on__gt=number.on)
    )
    names = [str(pk) for pk in there.values_list("pk", flat=True)]
    drawn = draw_colonies(names, number.k, SPARES, seed_of(yard, number.on, number.draw))
    place = {int(key): at for at, key in enumerate((*drawn.chosen, *drawn.spares))}
    return sorted(living, key=lambda colony: place.get(colony.pk, len(place)))
