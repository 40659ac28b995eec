"""A colony's or a yard's season: every count with its range, what was given, and the action levels of its club.

Washes and rolls (per 100 bees) and boards (per day) stay apart. Reading costs the same number of queries however much
was counted.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet

from apiaries.models import Brood, Colony, Person, Yard
from apiaries.templatetags.recount_words import day, one_decimal, rate_range
from counts.estimate import Refusal
from counts.models import MiteSample
from counts.presenters import UNITS, raw_words
from counts.samples import JAR_KINDS, Kind, Method
from counts.standing import SHORT_REFUSALS, Published
from counts.yards import mean_of
from treatments.models import Treatment
from treatments.ways import INGREDIENT_WORDS

SEASON_DAYS = 548
"""Days that the chart looks back: 18 months (our choice)."""
LONGEST_DAYS = 120
"""Treatments begun so long before the chart may reach into it (our choice)."""
KIND_WORDS = {Kind.WASH: "Wash", Kind.ROLL: "Roll", Kind.BOARD: "Board"}
ONE_COLONY = "one colony"


@dataclass(frozen=True, slots=True)
class Point:
    """One count, or one counting day of a yard; per 100 bees or per day. Without `low` it has no range."""

    on: dt.date
    kind: Kind
    raw: str
    rate: float | None = None
    low: float | None = None
    high: float | None = None
    note: str = ""
    none_found: bool = False

    @property
    def on_board(self) -> bool:
        return self.kind is Kind.BOARD

    @property
    def method(self) -> str:
        return KIND_WORDS[self.kind]

    @property
    def unit(self) -> str:
        return UNITS[self.kind]


@dataclass(frozen=True, slots=True)
class Band:
    """A treatment from its first dose to its end, its ingredient in words."""

    first: dt.date
    last: dt.date
    ingredient: str
    name: str
    treatment_id: int
    open: bool


@dataclass(frozen=True, slots=True)
class LevelSpan:
    """The action level over days of one month; per 100 bees or per day."""

    first: dt.date
    last: dt.date
    level: float
    on_board: bool


@dataclass(frozen=True, slots=True)
class Season:
    """What the chart and the table beside it show."""

    of: str
    since: dt.date
    until: dt.date
    points: Sequence[Point]
    bands: Sequence[Band]
    levels: Sequence[LevelSpan]

    @property
    def rows(self) -> list[Point | Band]:
        """Counts and treatments, the newest first."""
        everything: list[Point | Band] = [*self.points, *self.bands]
        return sorted(everything, key=lambda row: row.on if isinstance(row, Point) else row.first)[::-1]

    @property
    def drawn(self) -> bool:
        return any(point.rate is not None for point in self.points)

    @property
    def has_one_colony(self) -> bool:
        return any(point.note == ONE_COLONY and point.low is None for point in self.points)

    @property
    def alt(self) -> str:
        """What the chart shows, for those who do not see it."""
        said = [f"Counts of {self.of} from {day(self.since)} to {day(self.until)}."]
        for name, board in (("Washes and rolls", False), ("Boards", True)):
            mine = [p for p in self.points if p.on_board is board and p.rate is not None]
            ranged = [p for p in mine if p.low is not None]
            if mine:
                told = f" Last with a range: {_told(ranged[-1])}." if ranged else " None has a range."
                said.append(f"{name}: {len(mine)} shown.{told}")
        if self.bands:
            given = [f"{band.ingredient} from {day(band.first)} to {day(band.last)}" for band in self.bands]
            said.append(f"Treatments: {'; '.join(given)}.")
        return " ".join([*said, "The table has every figure."])


def season_of_colony(person: Person, colony: Colony, on: dt.date) -> Season:
    """The season of a colony, which takes its counts along when it moves."""
    since = on - dt.timedelta(days=SEASON_DAYS)
    samples = _samples(person, since, on).filter(colony=colony)
    bands = _bands(person, since, on, rounds__doses__colony=colony, rounds__doses__voided_at=None)
    return Season(
        f"colony {colony.name}",
        since,
        on,
        [_point(sample) for sample in samples],
        bands,
        _levels(colony.yard, since, on),
    )


def season_of_yard(person: Person, yard: Yard, on: dt.date) -> Season:
    """The season of a yard: the mean of each counting day's jars, and each board."""
    since = on - dt.timedelta(days=SEASON_DAYS)
    lives = list(yard.colonies.values_list("started_on", "ended_on"))
    jars: dict[tuple[dt.date, Kind], list[MiteSample]] = defaultdict(list)
    points = []
    for sample in _samples(person, since, on).filter(yard=yard):
        if sample.kind in JAR_KINDS:
            jars[sample.sampled_on, sample.kind].append(sample)
        else:
            points.append(_point(sample, f"colony {sample.colony.name}"))
    for (day_, kind), counted in jars.items():
        living = sum(start <= day_ and (end is None or end > day_) for start, end in lives)
        points.append(_mean(day_, kind, counted, living))
    points.sort(key=lambda point: (point.on, point.kind))
    bands = _bands(person, since, on, yard=yard, rounds__doses__voided_at=None)
    return Season(yard.name, since, on, points, bands, _levels(yard, since, on))


def _samples(person: Person, since: dt.date, on: dt.date) -> "QuerySet[MiteSample]":
    mine = MiteSample.objects.visible_to(person).standing().select_related("colony")
    days = mine.filter(sampled_on__range=(since, on)).exclude(method=Method.DRONE_BROOD)
    return days.order_by("sampled_on", "pk")


def _point(sample: MiteSample, note: str = "") -> Point:
    raw = raw_words(sample)
    if sample.rate is None or sample.low is None or sample.high is None:
        why = SHORT_REFUSALS.get(Refusal(sample.refusal), "no estimate") if sample.refusal else "no estimate"
        return Point(sample.sampled_on, sample.kind, raw, note=", ".join(filter(None, (note, why))))
    times = 1.0 if sample.kind is Kind.BOARD else 100.0
    figures = (sample.rate * times, sample.low * times, sample.high * times)
    return Point(sample.sampled_on, sample.kind, raw, *figures, note=note, none_found=sample.mites == 0)


def _mean(on: dt.date, kind: Kind, jars: Sequence[MiteSample], living: int) -> Point:
    """A yard's counting day. One colony of several speaks for itself only: a mark without the yard's range."""
    with_rate = [jar for jar in jars if jar.rate is not None]
    counted = len({jar.colony_id for jar in with_rate})
    colonies = max(living, counted)
    if not with_rate:
        return Point(on, kind, f"{len(jars)} jars", note="too few bees")
    mites, bees = sum(jar.mites for jar in with_rate), sum(jar.bees or 0 for jar in with_rate)
    raw = f"{mites:,} in about {bees:,} bees from {counted} of {colonies} colonies"
    estimate = mean_of(with_rate, colonies)
    if estimate.rate is None or (counted == 1 and colonies > 1):
        note = ONE_COLONY if counted == 1 else "no estimate of the yard"
        own = with_rate[-1].rate if counted == 1 else None
        return Point(on, kind, raw, None if own is None else own * 100.0, note=note, none_found=mites == 0)
    rate, low, high = (float(value) * 100.0 for value in (estimate.rate, estimate.low, estimate.high))
    return Point(on, kind, raw, rate, low, high, none_found=mites == 0)


def _bands(person: Person, since: dt.date, on: dt.date, **wanted: Any) -> list[Band]:
    given = Treatment.objects.visible_to(person).filter(
        rounds__given_on__range=(since - dt.timedelta(days=LONGEST_DAYS), on), **wanted
    )
    rows = given.distinct().select_related("application").prefetch_related("rounds").order_by("pk")
    bands = (_band(treatment, on) for treatment in rows)
    return sorted(
        (band for band in bands if band.last >= since), key=lambda band: (band.first, band.treatment_id)
    )


def _band(treatment: Treatment, on: dt.date) -> Band:
    rounds = [one for one in treatment.round_dates() if one.is_given(on)]
    still_in = any(one.is_in_hive(on) for one in rounds)
    last = on if still_in else max(one.last_on for one in rounds)
    return Band(
        min(one.given_on for one in rounds if one.given_on),
        min(last, on),
        INGREDIENT_WORDS.get(treatment.application.ingredient, treatment.application.name),
        treatment.application.name,
        treatment.pk,
        still_in,
    )


def _levels(yard: Yard, since: dt.date, on: dt.date) -> list[LevelSpan]:
    """The level of the club's issuer, month by month, for colonies with brood; nothing where there are two."""
    published, issuer, spans = Published(), yard.club.action_level_issuer, []
    for first, last in _months(since, on):
        for method in (Method.ALCOHOL_WASH, Method.BOARD):
            asked = MiteSample(method=method, sampled_on=first, brood=Brood.SOME)
            rates = {level.act_rate for level in published.of(issuer, asked)} - {None}
            if len(rates) == 1 and (rate := rates.pop()) is not None:
                board = method is Method.BOARD
                spans.append(LevelSpan(first, last, rate if board else rate * 100.0, board))
    return spans


def _months(since: dt.date, on: dt.date) -> Iterable[tuple[dt.date, dt.date]]:
    first = since
    while first <= on:
        following = (first.replace(day=1) + dt.timedelta(days=32)).replace(day=1)
        yield first, min(following, on)
        first = following


def _told(point: Point) -> str:
    if point.none_found:
        return f"none found, up to {one_decimal(point.high)} {point.unit}, on {day(point.on)}"
    figures = f"{one_decimal(point.rate)} {point.unit} ({rate_range(point.low, point.high)})"
    return f"{figures} on {day(point.on)}"
