"""A colony's or a yard's season: every count with its range, what was given, and the action levels of its club.

Washes and rolls (per 100 bees) and boards (per day) stay apart. Reading costs the same number of queries however much
was counted.
"""

import datetime as dt
from collections.abc import Collection, Iterable

from django.db.models import Prefetch, Q, QuerySet

from apiaries.language import say
from apiaries.models import Brood, Colony, Person, Yard
from counts.models import MiteSample
from counts.samples import Kind, Method
from counts.spread import constants_of_club
from counts.standing import Published
from reports.season_days import point_of, points_of_yard
from reports.season_marks import Band, LevelSpan, Place, Season
from treatments.models import Dose, Round, Treatment
from treatments.models.ways import stays_in_hive
from treatments.ways import INGREDIENT_WORDS

SEASON_DAYS = 548
"""Days that the chart looks back: 18 months (our choice)."""
STILL_IN = Q(round__out_on=None) & stays_in_hive("round__treatment__application__")
"""Doses that stay in the hive and that nobody took out, as `RoundDates.is_in_hive` sees them."""


def season_of_colony(
    person: Person, colony: Colony, on: dt.date, published: Published | None = None
) -> Season:
    """The season of a colony, which takes its counts along when it moves."""
    since = on - dt.timedelta(days=SEASON_DAYS)
    counts, treatments = MiteSample.objects.visible_to(person), Treatment.objects.visible_to(person)
    points = [point_of(sample) for sample in _samples(counts.filter(colony=colony), since, on)]
    bands = _bands(treatments, Dose.objects.filter(colony=colony), since, on)
    of = say("colony {name}", name=colony.name)
    return Season(of, since, on, points, bands, _levels(published or Published(), colony.yard, since, on))


def season_of_yard(
    yard: Yard,
    on: dt.date,
    colonies: Collection[Colony] | None = None,
    published: Published | None = None,
) -> Season:
    """The season of a yard: the mean of each counting day, washes, rolls and boards each by themselves.

    For whoever may see the yard: they see all that was counted and given in it.
    `colonies`: all that stood there last, where they are known already.
    """
    since = on - dt.timedelta(days=SEASON_DAYS)
    lives = [
        (one.started_on, one.ended_on)
        for one in (yard.colonies.only("started_on", "ended_on") if colonies is None else colonies)
    ]

    def living(day: dt.date) -> int:
        return sum(start <= day and (end is None or end > day) for start, end in lives)

    samples = _samples(MiteSample.objects.filter(yard=yard), since, on)
    points = points_of_yard(samples, living, constants_of_club(yard.club_id))
    bands = _bands(Treatment.objects.all(), Dose.objects.filter(round__treatment__yard=yard), since, on)
    return Season(yard.name, since, on, points, bands, _levels(published or Published(), yard, since, on))


def _samples(counts: "QuerySet[MiteSample]", since: dt.date, on: dt.date) -> "QuerySet[MiteSample]":
    mine = counts.select_related("colony")
    days = mine.filter(voided_at=None, sampled_on__range=(since, on)).exclude(method=Method.DRONE_BROOD)
    return days.order_by("sampled_on", "pk")


def _bands(
    treatments: "QuerySet[Treatment]", doses: "QuerySet[Dose]", since: dt.date, on: dt.date
) -> list[Band]:
    """What was in a hive on any of these days, however long ago it was given; the rounds that these doses are of."""
    given = doses.filter(voided_at=None, round__given_on__lte=on)
    within = given.filter(Q(in_hive__overlap=(since, on + dt.timedelta(days=1))) | STILL_IN)
    rounds = Prefetch("rounds", Round.objects.filter(pk__in=given.values("round")))
    rows = (
        treatments.filter(pk__in=within.values("round__treatment"))
        .select_related("application")
        .prefetch_related(rounds)
    )
    return sorted((_band(row, on) for row in rows), key=lambda band: (band.first, band.treatment_id))


def _band(treatment: Treatment, on: dt.date) -> Band:
    rounds = treatment.round_dates()
    still_in = any(one.is_in_hive(on) for one in rounds)
    last = on if still_in else max(one.last_on for one in rounds)
    return Band(
        min(one.given_on for one in rounds if one.given_on),
        min(last, on),
        say(INGREDIENT_WORDS.get(treatment.application.ingredient, treatment.application.name)),
        say(treatment.application.name),
        treatment.pk,
        still_in,
    )


def _levels(published: Published, yard: Yard, since: dt.date, on: dt.date) -> list[LevelSpan]:
    """The level of the club's issuer for colonies with brood, over months of one level; nothing where there are two."""
    issuer = yard.club.action_level_issuer
    spans: list[LevelSpan] = []
    for place, kind in ((Place.JARS, Kind.WASH), (Place.BOARDS, Kind.BOARD)):
        for first, last in _months(since, on):
            rates = {level.act_rate for level in published.for_day(issuer, kind, first, Brood.SOME.value)} - {
                None
            }
            if len(rates) == 1 and (rate := rates.pop()) is not None:
                level = rate * 100.0 if place is Place.JARS else rate
                spans.append(LevelSpan(first, last, level, place))
    return _joined(spans)


def _joined(spans: Iterable[LevelSpan]) -> list[LevelSpan]:
    """Spans of one level that follow each other, as one."""
    joined: list[LevelSpan] = []
    for span in spans:
        before = joined[-1] if joined else None
        if before and _follows(span, before):
            joined[-1] = LevelSpan(before.first, span.last, span.level, span.place)
        else:
            joined.append(span)
    return joined


def _follows(span: LevelSpan, before: LevelSpan) -> bool:
    next_day = before.last + dt.timedelta(days=1)
    return (before.place, before.level, next_day) == (span.place, span.level, span.first)


def _months(since: dt.date, on: dt.date) -> Iterable[tuple[dt.date, dt.date]]:
    first = since
    while first <= on:
        following = (first.replace(day=1) + dt.timedelta(days=32)).replace(day=1)
        yield first, min(following - dt.timedelta(days=1), on)
        first = following
