"""The season chart's addresses. Each: gate, season, drawing."""

from django.http import Http404, HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from apiaries.access import colony_for, yard_for
from apiaries.views.asking import person_of, today_in
from reports.charts import THEMES
from reports.season import season_of_colony, season_of_yard
from reports.season_chart import WIDTHS, season_svg
from reports.season_marks import Season


@require_safe
def colony_chart(request: HttpRequest, pk: int) -> HttpResponse:
    """A colony's season as SVG."""
    colony = colony_for(person_of(request), pk)
    return _answer(request, season_of_colony(person_of(request), colony, today_in(colony.yard)))


@require_safe
def yard_chart(request: HttpRequest, pk: int) -> HttpResponse:
    """A yard's season as SVG."""
    yard = yard_for(person_of(request), pk)
    return _answer(request, season_of_yard(person_of(request), yard, today_in(yard)))


def _answer(request: HttpRequest, season: Season) -> HttpResponse:
    theme, size = request.GET.get("theme", "light"), request.GET.get("size", "wide")
    if theme not in THEMES or size not in WIDTHS:
        raise Http404
    response = HttpResponse(season_svg(season, theme=theme, size=size), content_type="image/svg+xml")
    # One keeper's counts: no cache but ours, which is asked only after the gate.
    response["Cache-Control"] = "private, no-store"
    return response
