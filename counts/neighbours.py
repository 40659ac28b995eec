"""What the other counts of the same region and month say about a count, where enough people made enough of them."""

import datetime as dt
from collections import Counter
from dataclasses import dataclass

import numpy as np

from apiaries.language import mark, say
from apiaries.second_lock import by_the_service
from apiaries.templatetags.recount_words import month_year
from counts.action_levels import standing
from counts.constants import DEFAULTS
from counts.estimate import Estimate, Prior, rate_quantiles, recovery_of
from counts.models import MiteSample
from counts.priors import region_month_prior
from counts.samples import JAR_KINDS, Kind, Method, kind_of
from counts.sentences import together_sentence
from counts.standing import Comparison

MIDDLE = ((1 - DEFAULTS.level.value) / 2, 0.5, (1 + DEFAULTS.level.value) / 2)


@dataclass(frozen=True, slots=True)
class Neighbours:
    """What the others make likely before a colony is counted, and how many counts that rests on."""

    prior: Prior
    counts: int


@by_the_service
def neighbours_of(sample: MiteSample) -> Neighbours | None:
    """The other counts of this one's kind, region and month; None for a board, or while too few people made too few.

    One query. The rule for whose counts may be shown together is that of the region's pages: enough keepers and
    yards, and none of them most of it.
    """
    if sample.kind not in JAR_KINDS or sample.rate is None:
        return None
    first = sample.sampled_on.replace(day=1)
    after = (first + dt.timedelta(days=32)).replace(day=1)
    same = [method.value for method in Method if kind_of(method) is sample.kind]
    others = MiteSample.objects.standing().filter(
        yard__region_id=sample.yard.region_id,
        sampled_on__gte=first,
        sampled_on__lt=after,
        method__in=same,
        rate__isnull=False,
    )
    rows = list(
        others.exclude(pk=sample.pk).values_list(
            "mites", "bees", "method", "squared_cv", "yard_id", "yard__keeper_id"
        )
    )
    if not _may_speak([keeper for *_, keeper in rows], [yard for *_, yard, _ in rows]):
        return None
    mites, bees, methods, spread = (np.asarray(column) for column in list(zip(*rows, strict=True))[:4])
    found = np.asarray([recovery_of(Method(method)).value for method in methods])
    prior = region_month_prior(mites, bees * found, spread.astype(np.float64))
    return Neighbours(prior, len(rows)) if isinstance(prior, Prior) else None


def _may_speak(keepers: list[int], yards: list[int]) -> bool:
    if len(keepers) < DEFAULTS.prior_samples_min.value:
        return False
    largest = max(Counter(keepers).values()) / len(keepers)
    return (
        len(set(keepers)) >= DEFAULTS.prior_keepers_min.value
        and len(set(yards)) >= DEFAULTS.prior_yards_min.value
        and largest <= DEFAULTS.prior_keeper_share_max.value
    )


@dataclass(frozen=True, slots=True)
class Together:
    """The second answer: the count read together with its neighbours; figures per 100 bees."""

    counts: int
    rate: float
    low: float
    high: float
    sentence: str
    key: str
    """How it stands to the one level; empty where there is none, or several."""
    chance: float | None
    changes: bool
    """Whether it stands elsewhere than by this sample alone."""


def together(sample: MiteSample, estimate: Estimate, acting: list[Comparison]) -> Together | None:
    """What a count says once its neighbours are taken into account; None without enough of them. One query."""
    others = neighbours_of(sample)
    if others is None:
        return None
    given = estimate.mites, estimate.exposure, estimate.c2
    low, middle, high = (100.0 * float(one) for one in rate_quantiles(*given, MIDDLE, others.prior))
    one = acting[0] if len(acting) == 1 else None
    said = standing(estimate, one.level, prior=others.prior) if one else None
    sentence = together_sentence(low, high, _others(sample, others.counts), one.level if one else None, said)
    chance = estimate.chance_above(one.level.act_rate or 0.0, others.prior) if one else None
    changes = said is not None and one is not None and said is not one.standing
    return Together(others.counts, middle, low, high, sentence, said.value if said else "", chance, changes)


def _others(sample: MiteSample, counts: int) -> str:
    """Which counts this one is read together with; never few, so only the many are told."""
    washes = mark("{counts} other washes in {region} in {month}")
    words = mark("{counts} other rolls in {region} in {month}") if sample.kind is Kind.ROLL else washes
    return say(words, counts=counts, region=sample.yard.region.name, month=month_year(sample.sampled_on))
