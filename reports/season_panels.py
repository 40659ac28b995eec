"""The season on the pages of yards and colonies."""

from django.urls import reverse

from apiaries.models import Person
from apiaries.on_page import ColonyOnPage, YardOnPage
from apiaries.panels import Panel
from apiaries.views.asking import today_in
from counts.standing import published_for
from reports.season import SEASON_DAYS, season_of_colony, season_on_page

PANEL_ORDER = 30  # after counts, treatments and the outlook
MONTHS_BACK = round(SEASON_DAYS / 30.44)


def colony_season(person: Person, page: ColonyOnPage) -> Panel | None:
    """Chart and table of a colony; nothing until something can be drawn."""
    colony = page.colony
    season = season_of_colony(person, colony, today_in(colony.yard), page.once(published_for))
    url = reverse("reports:colony-chart", args=[colony.pk])
    context = {"season": season, "chart_url": url, "months_back": MONTHS_BACK}
    return Panel("reports/_season_panel.html", PANEL_ORDER, context) if season.drawn else None


def yard_season(person: Person, page: YardOnPage) -> Panel | None:
    """Chart and table of a yard; nothing until something can be drawn."""
    yard = page.yard
    season = season_on_page(page, today_in(yard))
    url = reverse("reports:yard-chart", args=[yard.pk])
    context = {"season": season, "chart_url": url, "months_back": MONTHS_BACK, "of_yard": True}
    return Panel("reports/_season_panel.html", PANEL_ORDER, context) if season.drawn else None
