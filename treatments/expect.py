"""What rounds of oxalic acid vapour may leave: a band with published trials beside it, never one promised number."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from apiaries.language import mark, say
from treatments.models import Application
from treatments.outlook import NoOutlook, rounds_outlook
from treatments.possible import YardToday


@dataclass(frozen=True, slots=True)
class Trial:
    """What a published trial found, in a sentence, with where it was published."""

    words: str
    source: str

    @property
    def sentence(self) -> str:
        """It in the reader's language."""
        return say(self.words)


TRIALS = (
    Trial(
        mark(
            "Seven vaporisations five days apart, in 99 colonies with brood, did not bring mites below the level for "
            "treating."
        ),
        "Berry et al. 2022, abstract, pmc.ncbi.nlm.nih.gov/articles/PMC8825467",
    ),
    Trial(
        mark(
            "Three weekly vaporisations, ten colonies a group: 4 g left fewer mites than 1 g, and 1 g no fewer than "
            "none."
        ),
        "Jack et al. 2021, Determining the dose of oxalic acid applied via vaporization, abstract, "
        "discovery.researcher.life",
    ),
    Trial(
        mark(
            "Trickled three times with brood, three groups: 52, 41 and 39 % of the mites killed; once without brood, "
            "99 %."
        ),
        "Gregorc & Planinc 2001, Apidologie 32:333-340, abstract",
    ),
)


@dataclass(frozen=True, slots=True)
class Expected:
    """The band in words; mites in 100 of those at the start, on the last day, those under cappings among them."""

    least: int
    expected: int
    most: int
    rounds: int
    brood: bool
    unknown: bool
    """Whether nobody looked at the brood lately, so that it is taken as there."""
    trials: Sequence[Trial]


def expected_of(way: Application, days: Sequence[dt.date], told: YardToday) -> Expected | None:
    """What rounds on these days may leave; None for other ingredients, and where nothing can be said.

    Brood that nobody looked at lately is taken as there: the more careful case.
    """
    if way.ingredient != "oxalic_acid" or way.way != "vapour" or not days:
        return None
    brood = told.with_brood + told.brood_unknown > 0
    found = rounds_outlook([(day - days[0]).days for day in days], brood=brood)
    if isinstance(found, NoOutlook):
        return None
    least, expected, most = (round(100 * one.left) for one in (found.most, found.expected, found.least))
    unknown = brood and not told.with_brood
    return Expected(least, expected, most, len(days), brood, unknown, TRIALS if brood else ())
