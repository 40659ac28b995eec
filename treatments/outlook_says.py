"""Count again by: what the last washes or rolls of a colony or a yard let expect, or in words why nothing is.

A constant number of queries, however many colonies and doses there are.
"""

import datetime as dt
from collections.abc import Collection, Iterable
from dataclasses import dataclass

from django.db.models import QuerySet

from apiaries.language import figure, mark, say
from apiaries.models import Brood, Yard
from apiaries.second_lock import by_the_service
from counts.estimate import Prior
from counts.models import MiteSample
from counts.spread import constants_of_club
from counts.standing import Published
from counts.yards import YardSays, newest_jars, yard_says_of
from treatments.constants import DEFAULTS
from treatments.dosed import Dosed
from treatments.models import Round
from treatments.outlook import CountAgain, Counted, NoOutlook, count_again_by
from treatments.status import RoundDates

SEASON_MONTHS = (3, 10)
"""First and last month in which mites are taken to grow: usual months with brood (our choice)."""
DOSES_BACK_DAYS = 120
"""A dose further back is no longer looked for in the hive (our choice)."""

NO_OUTLOOK_WORDS = {
    NoOutlook.NO_ESTIMATE: mark(
        "There is no estimate to compare with an action level: "
        "one colony cannot speak for a yard, and too few bees give no rate."
    ),
    NoOutlook.NO_LEVEL: mark("The club’s issuer prints no single action level for such a count on this day."),
    NoOutlook.BROOD_UNKNOWN: mark("Nobody noted whether there is brood, and mites grow only with brood."),
    NoOutlook.BROODLESS: mark(
        "The last count was made without brood, and mites do not grow then. Once there is brood, count again."
    ),
    NoOutlook.OLD_SAMPLE: mark(
        "The last wash or roll is more than {days} days old and says nothing about what "
        "comes. A new count does."
    ),
    NoOutlook.IN_THE_FUTURE: mark("The last count is dated after today."),
    NoOutlook.TREATED_SINCE: mark(
        "There was a treatment at the last wash or roll or since. "
        "That count says nothing about what comes; the recount does."
    ),
    NoOutlook.SEASON_ENDS: mark(
        "The season, to the end of October, ends before such a day. "
        "Mites do not grow after it as they do in summer."
    ),
    NoOutlook.NOT_A_PLAN: mark("There is nothing to look ahead from."),
}


@dataclass(frozen=True, slots=True)
class OutlookSays:
    """The day to count again by with what it rests on, or the reason why there is none."""

    again: CountAgain | None
    reason: str
    sampled_on: dt.date
    rate: float | None
    """The action level it is about, in mites per bee."""
    brood_assumed: bool
    now: bool
    """Whether the early end has come: count now."""
    none: NoOutlook | None

    @property
    def level(self) -> str:
        """The action level per 100 bees."""
        return "" if self.rate is None else figure(f"{self.rate * 100:.3g}")

    @property
    def cap_days(self) -> int:
        return int(DEFAULTS.outlook_days_max.value)


def season_end(on: dt.date) -> dt.date:
    """The last day of the season that `on` is in, or of the last one before it."""
    first, last = SEASON_MONTHS
    year = on.year if on.month >= first else on.year - 1
    return dt.date(year, last + 1, 1) - dt.timedelta(days=1)


@dataclass(frozen=True, slots=True)
class YardOutlookSays:
    """A yard's outlook, and the estimate it rests on."""

    says: OutlookSays
    found: YardSays


def yard_outlook_says(
    yard: Yard,
    visible: "QuerySet[MiteSample]",
    published: Published,
    *,
    today: dt.date,
    on: dt.date | None = None,
) -> YardOutlookSays | None:
    """From the jars of the yard's newest counting days, knowing what was given until today; None without any.

    `on` is the day it is told for: that of the last jar unless said, so that the answer does not move with the days.
    """
    living = list(yard.colonies.living().values_list("pk", flat=True))
    newest = newest_jars(yard, visible)
    if not newest or not living:
        return None
    found = yard_says_of(yard, newest, published, constants_of_club(yard.club_id), living=len(living))
    return YardOutlookSays(outlook_of(found, newest, living, published, today=today, on=on), found)


def outlook_of(
    found: YardSays,
    newest: Iterable[MiteSample],
    living: Collection[int],
    published: Published,
    *,
    today: dt.date,
    on: dt.date | None,
    doses: Iterable[Dosed] | None = None,
) -> OutlookSays:
    """The same from the yard's newest jars, what they say, and the keys of its living colonies.

    `doses`: all of these colonies, with others, where that is known; else one query.
    """
    within = [jar for jar in newest if jar.sampled_on >= found.first]
    jars = sorted(within, key=lambda jar: (jar.sampled_on, jar.pk), reverse=True)
    treated = any(jar.treatment_in_hive for jar in jars) or treated_since(living, found.first, today, doses)
    broods = {jar.brood for jar in jars} - {Brood.UNKNOWN.value}
    brood = Brood.UNKNOWN if not broods else Brood.NONE if broods == {Brood.NONE.value} else Brood.SOME
    told_on = found.last if on is None else on
    return says_of(found.estimate, jars[0], published, brood=brood, treated=treated, on=told_on)


def says_of(
    estimate: Counted | None,
    sample: MiteSample,
    published: Published,
    *,
    brood: str,
    treated: bool,
    on: dt.date,
    prior: Prior | None = None,
) -> OutlookSays:
    """What an estimate, made last on the day of `sample`, lets expect on a day.

    With brood, where nobody noted it: mites then grow, and the day is the earlier one.
    """
    assumed = brood == Brood.UNKNOWN
    brood = Brood.SOME.value if assumed else str(brood)
    asked = MiteSample(method=sample.method, sampled_on=sample.sampled_on, brood=brood)
    levels = published.of(sample.yard.club.action_level_issuer, asked)
    rates = {level.act_rate for level in levels} - {None}
    rate = rates.pop() if len(rates) == 1 else None
    found: CountAgain | NoOutlook = NoOutlook.NO_ESTIMATE
    if estimate is not None:
        found = count_again_by(
            estimate,
            rate,
            sampled_on=sample.sampled_on,
            on=on,
            brood=brood,
            treated_since=treated,
            season_ends_on=season_end(on),
            prior=prior,
        )
    again = found if isinstance(found, CountAgain) else None
    days = int(DEFAULTS.outlook_sample_days_max.value)
    reason = "" if isinstance(found, CountAgain) else say(NO_OUTLOOK_WORDS[found], days=days)
    none = found if isinstance(found, NoOutlook) else None
    now = again is not None and again.by <= on
    return OutlookSays(again, reason, sample.sampled_on, rate, assumed, now, none)


def treated_since(
    colonies: Collection[int], sampled_on: dt.date, on: dt.date, doses: Iterable[Dosed] | None = None
) -> bool:
    """Whether any of the colonies got a dose on that day or later, or had one in the hive then.

    `doses`: all of these colonies, with others, where that is known; else one query.
    """
    first = sampled_on - dt.timedelta(days=DOSES_BACK_DAYS)
    if doses is None:
        given = _rounds(colonies, first, on)
    else:
        mine = (one.dates for one in doses if one.colony_id in colonies)
        given = [one for one in mine if one.is_given(on) and not one.is_given(first - dt.timedelta(days=1))]
    return any(one.is_in_hive(sampled_on) or one.last_on >= sampled_on for one in given)


@by_the_service
def _rounds(colonies: Collection[int], first: dt.date, last: dt.date) -> list[RoundDates]:
    """Those that gave any of the colonies a dose in these days, wherever that was."""
    given = Round.objects.filter(
        doses__colony__in=colonies, doses__voided_at=None, given_on__range=(first, last)
    ).select_related("treatment__application")
    return [
        RoundDates(
            round_.planned_on,
            round_.given_on,
            round_.out_on,
            round_.treatment.application.stays_in_days,
            round_.treatment.application.label_says_how_long,
            round_.out_by,
        )
        for round_ in given.distinct()
    ]
