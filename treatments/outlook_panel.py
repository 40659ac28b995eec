"""Count again by: the outlook on the pages of yards and colonies, or in words why there is none.

A constant number of queries, however many colonies and doses there are.
"""

import datetime as dt
from collections.abc import Collection
from dataclasses import dataclass

from django.db.models import QuerySet

from apiaries.models import Brood, Colony, Person, Yard
from apiaries.panels import Panel
from apiaries.views.asking import today_in
from counts.constants import DEFAULTS as COUNTING
from counts.estimate import Prior
from counts.models import JAR_METHODS, MiteSample
from counts.neighbours import neighbours_of
from counts.standing import Published, stored_estimate
from counts.yards import yard_says
from treatments.constants import DEFAULTS
from treatments.models import Round
from treatments.outlook import CountAgain, Counted, NoOutlook, count_again_by
from treatments.status import RoundDates

PANEL_ORDER = 25  # after treatments, before the season
SEASON_MONTHS = (3, 10)
"""First and last month in which mites are taken to grow: usual months with brood (our choice)."""
DOSES_BACK_DAYS = 120
"""A dose further back is no longer looked for in the hive (our choice)."""

NO_OUTLOOK_WORDS = {
    NoOutlook.NO_ESTIMATE: "There is no estimate to compare with an action level: "
    "one colony cannot speak for a yard, and too few bees give no rate.",
    NoOutlook.NO_LEVEL: "The club’s issuer prints no single action level for such a count on this day.",
    NoOutlook.BROOD_UNKNOWN: "Nobody noted whether there is brood, and mites grow only with brood.",
    NoOutlook.BROODLESS: "The last count was made without brood, and mites do not grow then. "
    "Once there is brood, count again.",
    NoOutlook.OLD_SAMPLE: "The last wash or roll is more than {days} days old and says nothing about what "
    "comes. A new count does.",
    NoOutlook.IN_THE_FUTURE: "The last count is dated after today.",
    NoOutlook.TREATED_SINCE: "There was a treatment at the last wash or roll or since. "
    "That count says nothing about what comes; the recount does.",
    NoOutlook.SEASON_ENDS: "The season, to the end of October, ends before such a day. "
    "Mites do not grow after it as they do in summer.",
    NoOutlook.NOT_A_PLAN: "There is nothing to look ahead from.",
}


@dataclass(frozen=True, slots=True)
class OutlookSays:
    """The day to count again by with what it rests on, or the reason why there is none."""

    again: CountAgain | None
    reason: str
    sampled_on: dt.date
    level: str
    brood_assumed: bool
    now: bool
    """Whether the early end has come: count now."""

    @property
    def cap_days(self) -> int:
        return int(DEFAULTS.outlook_days_max.value)


def colony_outlook(person: Person, colony: Colony) -> Panel | None:
    """What the last wash or roll of a living colony lets expect."""
    jars = _jars(person).filter(colony=colony).select_related("yard__club", "basis")
    sample = jars.order_by("-sampled_on", "-pk").first()
    if sample is None or colony.ended_on is not None:
        return None
    estimate = stored_estimate(sample)
    on = today_in(colony.yard)
    treated = sample.treatment_in_hive or _treated_since([colony.pk], sample.sampled_on, on)
    others = neighbours_of(sample)
    prior = others.prior if others else None
    says = _says(estimate, sample, Published(), brood=sample.brood, treated=treated, on=on, prior=prior)
    return _panel(says)


def yard_outlook(person: Person, yard: Yard) -> Panel | None:
    """The same for a yard, from the jars of its newest counting days."""
    visible, published = MiteSample.objects.visible_to(person).standing(), Published()
    living = list(yard.colonies.living().values_list("pk", flat=True))
    found = yard_says(yard, visible, published, living=len(living))
    if found is None or not living:
        return None
    enough = visible.filter(yard=yard, bees__gte=COUNTING.jar_bees_min.value)
    newest = enough.filter(method__in=JAR_METHODS).select_related("yard__club")
    jars = list(newest.filter(sampled_on__range=(found.first, found.last)).order_by("-sampled_on", "-pk"))
    on = today_in(yard)
    treated = any(jar.treatment_in_hive for jar in jars) or _treated_since(living, found.first, on)
    broods = {jar.brood for jar in jars} - {Brood.UNKNOWN.value}
    brood = Brood.UNKNOWN if not broods else Brood.NONE if broods == {Brood.NONE.value} else Brood.SOME
    return _panel(_says(found.estimate, jars[0], published, brood=brood, treated=treated, on=on))


def season_end(on: dt.date) -> dt.date:
    """The last day of the season that `on` is in, or of the last one before it."""
    first, last = SEASON_MONTHS
    year = on.year if on.month >= first else on.year - 1
    return dt.date(year, last + 1, 1) - dt.timedelta(days=1)


def _says(
    estimate: Counted | None,
    sample: MiteSample,
    published: Published,
    *,
    brood: str,
    treated: bool,
    on: dt.date,
    prior: Prior | None = None,
) -> OutlookSays:
    """With brood, where nobody noted it: mites then grow, and the day is the earlier one."""
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
    reason = "" if isinstance(found, CountAgain) else NO_OUTLOOK_WORDS[found].format(days=days)
    level = "" if rate is None else f"{rate * 100:.3g}"
    now = again is not None and again.by <= on
    return OutlookSays(again, reason, sample.sampled_on, level, assumed, now)


def _jars(person: Person) -> "QuerySet[MiteSample]":
    return MiteSample.objects.visible_to(person).standing().filter(method__in=JAR_METHODS)


def _treated_since(colonies: Collection[int], sampled_on: dt.date, on: dt.date) -> bool:
    """Whether any of the colonies got a dose on that day or later, or had one in the hive then. One query."""
    days = (sampled_on - dt.timedelta(days=DOSES_BACK_DAYS), on)
    given = Round.objects.filter(
        doses__colony__in=colonies, doses__voided_at=None, given_on__range=days
    ).select_related("treatment__application")
    return any(_reaches(round_, sampled_on) for round_ in given.distinct())


def _reaches(round_: Round, sampled_on: dt.date) -> bool:
    way = round_.treatment.application
    one = RoundDates(
        round_.planned_on, round_.given_on, round_.out_on, way.stays_in_days, way.label_says_how_long
    )
    return one.is_in_hive(sampled_on) or one.last_on >= sampled_on


def _panel(says: OutlookSays) -> Panel:
    return Panel("treatments/_outlook_panel.html", PANEL_ORDER, {"outlook": says})
