"""The treatment day: what is possible, how long it takes, and the sheet to work from."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from apiaries.access import recordable_yard_for
from apiaries.views.asking import person_of, today_in
from treatments.constants import DEFAULTS
from treatments.forms.day import DayForm
from treatments.possible_page import ways_on, yard_on


@require_safe
def day_possible(request: HttpRequest, pk: int) -> HttpResponse:
    """What is possible in a yard on a day."""
    yard = recordable_yard_for(person_of(request), pk)
    today = today_in(yard)
    form = DayForm(
        request.GET if "on" in request.GET else None, today=today, fahrenheit=yard.club.jurisdiction == "US"
    )
    if form.is_bound:
        form.is_valid()
        on = form.cleaned_data.get("on") or today
        told = yard_on(yard, on, highs_c=form.highs_c, supers_next_on=form.cleaned_data.get("supers_next_on"))
    else:
        told = yard_on(yard, today)
    context = {
        "yard": yard,
        "form": form,
        "told": told,
        "rows": ways_on(yard, told),
        "brood_days": int(DEFAULTS.brood_seen_days_max.value),
    }
    return render(request, "treatments/day_possible.html", context)
