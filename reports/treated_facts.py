"""What came of every treatment that a club's keepers gave, a few minutes old: the facts behind Treatment results."""

import datetime as dt
from collections.abc import Collection, Iterable
from dataclasses import dataclass

from django.core.cache import cache
from django.db.models import Min, QuerySet

from apiaries.models import Club
from apiaries.second_lock import by_the_service
from reports.treatment_results import DropFacts, TreatmentFact
from treatments.constants import METHOD_VERSION
from treatments.models import Treatment
from treatments.outcome import Outcome, Reason, Verdict
from treatments.results import Result, results_for

KEPT_SECONDS = 10 * 60
"""A season whose recounts still come in is read again after so long (our choice)."""
KEPT_PAST_SECONDS = 6 * 60 * 60
"""Earlier seasons only change when somebody mends them."""
OPEN_UNTIL_MONTH = 4
"""Until then the winter's treatments of the year before are still counted."""


@dataclass(frozen=True)
class Known:
    """The facts of a club, and when those of the present season were read."""

    facts: tuple[TreatmentFact, ...]
    read_at: dt.datetime


def known_of(club: Club, *, on: dt.date, at: dt.datetime) -> Known:
    """Everything known of the club's treatments. A constant number of queries."""
    seasons = seasons_of(club, on)
    # With the first open season in the key, one that closes is looked for among the past ones at once.
    key = f"reports.treated:{METHOD_VERSION}:{club.pk}:{min(y for y in seasons if _is_open(y, on))}"
    parts = {f"{key}:open": (True, KEPT_SECONDS), f"{key}:past": (False, KEPT_PAST_SECONDS)}
    kept = cache.get_many(list(parts))
    missing = [key for key in parts if key not in kept]
    if missing:
        wanted = {parts[key][0] for key in missing}
        found = _read(club, [year for year in seasons if _is_open(year, on) in wanted], on)
        for key in missing:
            is_open, seconds = parts[key]
            kept[key] = Known(tuple(fact for fact in found if _is_open(fact.season, on) is is_open), at)
            cache.set(key, kept[key], seconds)
    return Known(tuple(fact for key in parts for fact in kept[key].facts), kept[next(iter(parts))].read_at)


def _is_open(season: int, on: dt.date) -> bool:
    return season == on.year or (season == on.year - 1 and on.month <= OPEN_UNTIL_MONTH)


@by_the_service
def seasons_of(club: Club, on: dt.date) -> list[int]:
    """Years from the club's first treatment to this one, the newest first. One query."""
    first_on = _given(club, on).aggregate(first=Min("rounds__given_on"))["first"]
    first = first_on.year if first_on else on.year
    return list(range(on.year, first - 1, -1))


def _given(club: Club, on: dt.date) -> "QuerySet[Treatment]":
    """Treatments begun by that day. Cancelled ones are out: they were not given as the label says."""
    return Treatment.objects.standing().filter(yard__club=club, rounds__given_on__lte=on)


@by_the_service
def _read(club: Club, seasons: Collection[int], on: dt.date) -> list[TreatmentFact]:
    """The facts of these seasons; a treatment belongs to the year of its first dose."""
    begun = dict(_given(club, on).annotate(first=Min("rounds__given_on")).values_list("pk", "first"))
    wanted = {pk: first for pk, first in begun.items() if first.year in seasons}
    results = results_for(_bare(wanted), on)
    return [_fact(result, wanted[pk]) for pk, result in results.items() if result.treated]


def _bare(pks: Iterable[int]) -> list[Treatment]:
    """Treatments that are keys only: the results read the rest themselves."""
    return [Treatment(pk=pk) for pk in pks]


def _fact(result: Result, first_on: dt.date) -> TreatmentFact:
    treatment, outcome = result.treatment, result.outcome
    return TreatmentFact(
        treatment=treatment.pk,
        yard=treatment.yard_id,
        keeper=treatment.yard.keeper_id,
        region=treatment.yard.region_id,
        season=first_on.year,
        first_on=first_on,
        ingredient=treatment.application.ingredient,
        way=treatment.application.way,
        name=treatment.application.english_name,
        verdict=_verdict(outcome),
        counted_both=any(one.paired for one in result.per_colony),
        drop=_drop(outcome),
    )


def _verdict(outcome: Outcome) -> Verdict | None:
    return None if outcome.reason is Reason.NO_TARGET else outcome.verdict


def _drop(outcome: Outcome) -> DropFacts | None:
    if outcome.drop is None or outcome.scale is None or outcome.spread is None:
        return None
    return DropFacts(outcome.mites_before, outcome.mites_after, outcome.scale, outcome.spread)
