"""Count again by: the outlook on the pages of yards and colonies, or in words why there is none."""

from django.db.models import QuerySet

from apiaries.language import mark, say
from apiaries.lineage import bees_changed
from apiaries.models import ChangeKind, Person
from apiaries.on_page import ColonyOnPage, YardOnPage
from apiaries.panels import Panel
from apiaries.views.asking import today_in
from counts.models import JAR_METHODS, MiteSample
from counts.neighbours import neighbours_of
from counts.on_page import newest_jars_for, yard_says_for
from counts.standing import published_for, stored_estimate
from treatments.on_page import doses_for
from treatments.outlook_says import OutlookSays, outlook_of, says_of, treated_since

PANEL_ORDER = 25  # after treatments, before the season
OTHER_BEES = mark(
    "The colony was split or took in another one since the last wash or roll. That count is not of the bees that are "
    "in it now. A new count is."
)


def colony_outlook(person: Person, page: ColonyOnPage) -> Panel | None:
    """What the last wash or roll of a living colony lets expect."""
    colony = page.colony
    jars = _jars(person).filter(colony=colony).select_related("yard__club", "basis")
    sample = jars.order_by("-sampled_on", "-pk").first()
    if sample is None or colony.ended_on is not None:
        return None
    on = today_in(colony.yard)
    if bees_changed([colony.pk]).between(colony.pk, sample.sampled_on, on) & {
        ChangeKind.SPLIT,
        ChangeKind.UNITED,
    }:
        return _panel(OutlookSays(None, say(OTHER_BEES), sample.sampled_on, None, False, False, None))
    estimate = stored_estimate(sample)
    treated = sample.treatment_in_hive or treated_since([colony.pk], sample.sampled_on, on)
    others = neighbours_of(sample)
    prior = others.prior if others else None
    published = page.once(published_for)
    says = says_of(estimate, sample, published, brood=sample.brood, treated=treated, on=on, prior=prior)
    return _panel(says)


def yard_outlook(person: Person, page: YardOnPage) -> Panel | None:
    """The same for a yard, from the jars of its newest counting days."""
    today, found, living = today_in(page.yard), page.once(yard_says_for), [one.pk for one in page.living]
    if found is None or not living:
        return None
    jars = page.once(newest_jars_for)
    published, doses = page.once(published_for), page.once(doses_for)
    return _panel(outlook_of(found, jars, living, published, today=today, on=today, doses=doses))


def _jars(person: Person) -> "QuerySet[MiteSample]":
    return MiteSample.objects.visible_to(person).standing().filter(method__in=JAR_METHODS)


def _panel(says: OutlookSays) -> Panel:
    return Panel("treatments/_outlook_panel.html", PANEL_ORDER, {"outlook": says})
