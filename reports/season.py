"""A colony's or a yard's season: every count with its range, what was given, and the action levels of its club.

Washes and rolls (per 100 bees) and boards (per day) stay apart. Reading costs the same number of queries however much
was counted.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence

from django.db.models import QuerySet

from apiaries.language import say
from apiaries.models import Brood, Colony, Person, Yard
from apiaries.on_page import YardOnPage
from counts.constants import Constants
from counts.models import MiteSample
from counts.on_page import constants_for, made_here_for
from counts.samples import Kind, Method
from counts.spread import constants_of_club
from counts.standing import Published, published_for
from reports.season_days import point_of, points_of_yard
from reports.season_marks import Band, LevelSpan, Place, Season
from treatments.dosed import Dosed, read_doses
from treatments.models import Dose, Treatment
from treatments.on_page import doses_for
from treatments.ways import INGREDIENT_WORDS

SEASON_DAYS = 548
"""Days that the chart looks back: 18 months (our choice)."""


def season_of_colony(
    person: Person, colony: Colony, on: dt.date, published: Published | None = None
) -> Season:
    """The season of a colony, which takes its counts along when it moves."""
    since = on - dt.timedelta(days=SEASON_DAYS)
    counts, treatments = MiteSample.objects.visible_to(person), Treatment.objects.visible_to(person)
    points = [point_of(sample) for sample in _samples(counts.filter(colony=colony), since, on)]
    doses = Dose.objects.filter(colony=colony, round__treatment__in=treatments.order_by().values("pk"))
    bands = _bands(read_doses(doses), since, on)
    of = say("colony {name}", name=colony.name)
    return Season(of, since, on, points, bands, _levels(published or Published(), colony.yard, since, on))


def season_of_yard(yard: Yard, on: dt.date) -> Season:
    """The season of a yard: the mean of each counting day, washes, rolls and boards each by themselves.

    For whoever may see the yard: they see all that was counted and given in it.
    """
    since = on - dt.timedelta(days=SEASON_DAYS)
    return _of_yard(
        yard,
        on,
        lives=list(yard.colonies.values_list("started_on", "ended_on")),
        samples=_samples(MiteSample.objects.filter(yard=yard), since, on),
        constants=constants_of_club(yard.club_id),
        doses=read_doses(Dose.objects.filter(round__treatment__yard=yard)),
        published=Published(),
    )


def season_on_page(page: YardOnPage, on: dt.date) -> Season:
    """The same from what the yard's page has read."""
    first = on - dt.timedelta(days=SEASON_DAYS)
    made_here = (one for one in page.once(made_here_for) if first <= one.sampled_on <= on)
    return _of_yard(
        page.yard,
        on,
        lives=[(colony.started_on, colony.ended_on) for colony in page.colonies],
        samples=[one for one in made_here if one.kind is not Kind.DRONE_BROOD],
        constants=page.once(constants_for),
        doses=[one for one in page.once(doses_for) if one.treated_in_id == page.yard.pk],
        published=page.once(published_for),
    )


def _of_yard(
    yard: Yard,
    on: dt.date,
    *,
    lives: Collection[tuple[dt.date, dt.date | None]],
    samples: Iterable[MiteSample],
    constants: Constants,
    doses: Iterable[Dosed],
    published: Published,
) -> Season:
    """`lives`: from when to when each colony lived that stood there last."""
    since = on - dt.timedelta(days=SEASON_DAYS)

    def living(day: dt.date) -> int:
        return sum(start <= day and (end is None or end > day) for start, end in lives)

    points, bands = points_of_yard(samples, living, constants), _bands(doses, since, on)
    return Season(yard.name, since, on, points, bands, _levels(published, yard, since, on))


def _samples(counts: "QuerySet[MiteSample]", since: dt.date, on: dt.date) -> "QuerySet[MiteSample]":
    mine = counts.select_related("colony")
    days = mine.filter(voided_at=None, sampled_on__range=(since, on)).exclude(method=Method.DRONE_BROOD)
    return days.order_by("sampled_on", "pk")


def _bands(doses: Iterable[Dosed], since: dt.date, on: dt.date) -> list[Band]:
    """What was in a hive on any of these days, however long ago it was given; the rounds that these doses are of."""
    given: dict[int, list[Dosed]] = defaultdict(list)
    for dose in doses:
        if dose.is_given(on):
            given[dose.treatment_id].append(dose)
    bands = [
        _band(several, on)
        for several in given.values()
        if any(dose.acts_within(since, on) or dose.is_not_out() for dose in several)
    ]
    return sorted(bands, key=lambda band: (band.first, band.treatment_id))


def _band(doses: Sequence[Dosed], on: dt.date) -> Band:
    """Of the doses of one treatment."""
    rounds, way = {dose.dates for dose in doses}, doses[0].way
    still_in = any(one.is_in_hive(on) for one in rounds)
    last = on if still_in else max(one.last_on for one in rounds)
    return Band(
        min(one.given_on for one in rounds if one.given_on),
        min(last, on),
        say(INGREDIENT_WORDS.get(way.ingredient, way.name)),
        say(way.name),
        doses[0].treatment_id,
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
