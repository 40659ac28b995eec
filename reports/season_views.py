"""The season chart's addresses. Each: gate, season, drawing."""

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from apiaries.access import colony_for, yard_for
from apiaries.drawn_from import StandingOfYard
from apiaries.kept_pages import kept_of_yard
from apiaries.models import Person
from apiaries.views.asking import person_of, today_in
from reports.chart_asking import drawing_asked, svg
from reports.season import season_of_colony, season_of_yard
from reports.season_chart import WIDTHS, season_svg


@require_safe
def colony_chart(request: HttpRequest, pk: int) -> HttpResponse:
    """A colony's season as SVG."""
    colony = colony_for(person_of(request), pk)
    theme, size = drawing_asked(request, WIDTHS)
    season = season_of_colony(person_of(request), colony, today_in(colony.yard))
    return _answer(season_svg(season, theme=theme, size=size))


@require_safe
def yard_chart(request: HttpRequest, pk: int) -> HttpResponse:
    """A yard's season as SVG."""
    theme, size = drawing_asked(request, WIDTHS)

    def draw(reader: Person, _standing: StandingOfYard) -> str:
        yard = yard_for(reader, pk)
        return season_svg(season_of_yard(yard, today_in(yard)), theme=theme, size=size)

    return _answer(kept_of_yard(person_of(request), pk, f"season {theme} {size}", draw))


def _answer(drawn: str) -> HttpResponse:
    response = svg(drawn)
    # One keeper's counts: no cache but ours, which is asked only after the gate.
    response["Cache-Control"] = "private, no-store"
    return response
