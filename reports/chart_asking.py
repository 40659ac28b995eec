"""How a page asks for its pictures: the theme of the page and the width of its window."""

from collections.abc import Collection

from django.http import Http404, HttpRequest, HttpResponse

from reports.charts import THEMES


def drawing_asked(request: HttpRequest, sizes: Collection[str]) -> tuple[str, str]:
    """Theme and size; Http404 where there is no such drawing."""
    theme, size = request.GET.get("theme", "light"), request.GET.get("size", "wide")
    if theme not in THEMES or size not in sizes:
        raise Http404
    return theme, size


def svg(drawn: str) -> HttpResponse:
    """A drawing as an answer."""
    return HttpResponse(drawn, content_type="image/svg+xml")
