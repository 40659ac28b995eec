"""How the bees of a jar can be measured, and how many bees the club takes each measure for."""

from collections.abc import Mapping
from dataclasses import dataclass

from apiaries.language import mark, say
from apiaries.models import Club
from counts.models import MiteSample
from counts.reference import Measure, measures
from counts.samples import BeesBy

COUNTED, NOMINAL, HALF_CUP = "counted", "nominal", "half_cup"
PUBLISHED = {
    "ml_100": mark("100 ml, taken as {bees} bees"),
    "quarter_cup": mark("A quarter of a US cup (59 ml), taken as {bees} bees"),
    "grams_25": mark("25 g of bees, weighed, taken as {bees} bees"),
}
"""Measures taken as their published number; the half cup has two, so each club chooses its own."""
MEASURES = (HALF_CUP, *PUBLISHED)


@dataclass(frozen=True, slots=True)
class Way:
    """One way to know how many bees were in the jar; `bees` is None where the keeper says it."""

    key: str
    label: str
    by: BeesBy
    bees: int | None = None


def half_cup_figures() -> list[Measure]:
    """The published numbers of bees in half a US cup, with their sources."""
    return [measure for measure in measures() if measure["key"].startswith(HALF_CUP)]


def ways_of(club: Club) -> Mapping[str, Way]:
    """The ways offered to a club's members, the usual one first."""
    known = {measure["key"]: measure["bees"] for measure in measures()}
    half = club.bees_per_half_cup
    words = say("Half a US cup (118 ml), taken as {bees} bees", bees=half)
    ways = [Way(HALF_CUP, words, BeesBy.VOLUME, half)]
    for key, label in PUBLISHED.items():
        if key in known:
            ways.append(Way(key, say(label, bees=known[key]), BeesBy.VOLUME, known[key]))
    ways.append(Way(COUNTED, say("Counted one by one"), BeesBy.COUNTED))
    ways.append(Way(NOMINAL, say("Taken as a number: a kit or a scoop of your own"), BeesBy.NOMINAL))
    return {way.key: way for way in ways}


def way_of(sample: MiteSample, ways: Mapping[str, Way]) -> str:
    """The way a kept count was measured; a measure whose number has changed since is a number taken."""
    if sample.bees_by == BeesBy.VOLUME.value:
        same = (way.key for way in ways.values() if way.by is BeesBy.VOLUME and way.bees == sample.bees)
        return next(same, NOMINAL)
    return {BeesBy.COUNTED.value: COUNTED, BeesBy.NOMINAL.value: NOMINAL}.get(sample.bees_by, "")
