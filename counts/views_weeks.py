"""Count weeks: seeing how they go, setting, cancelling; and the months of the club's calendar."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from apiaries.access import club_for, membership_of
from apiaries.actions import set_count_months
from apiaries.forms.base import posted
from apiaries.language import mark, say
from apiaries.permissions import Permission
from apiaries.templatetags.recount_words import day
from apiaries.views.asking import person_of, today_in
from counts.access import settable_week_for
from counts.forms.weeks import CancelWeekForm, MonthsForm, WeekForm
from counts.models import CountWeek
from counts.week_actions import cancel_count_week, set_count_week
from counts.weeks import WeekState, month_names, rows_of, state_of

PER_PAGE = 8


@require_safe
def count_week_list(request: HttpRequest) -> HttpResponse:
    """What the club asks for, and how its count weeks go; the same for every member."""
    person = person_of(request)
    club = membership_of(person).club
    weeks = CountWeek.objects.visible_to(person).select_related("set_by", "cancelled_by")
    page = Paginator(weeks, PER_PAGE).get_page(request.GET.get("page"))
    context = {
        "club": club,
        "months": month_names(club.count_months),
        "page": page,
        "rows": rows_of(club, page, today_in(club)),
        "may_set": person.can(Permission.COUNT_WEEK_SET),
    }
    return render(request, "counts/count_week_list.html", context)


def count_week_set(request: HttpRequest) -> HttpResponse:
    """A new window in which the club counts together."""
    person = person_of(request)
    club = club_for(person, Permission.COUNT_WEEK_SET)
    form = WeekForm(posted(request), today=today_in(club))
    if form.is_valid() and form.saves(
        lambda: set_count_week(club=club, at=timezone.now(), by=person, **form.cleaned_data)
    ):
        first, last = (day(form.cleaned_data[name]) for name in ("first_on", "last_on"))
        words = mark("Count week set, from {first} to {last}. Members are asked from its first day.")
        if form.cleaned_data["first_on"] <= today_in(club):
            words = mark("Count week set, from {first} to {last}. Members are asked from today.")
        messages.success(request, say(words, first=first, last=last))
        return redirect("counts:count-week-list")
    return render(request, "counts/count_week_set.html", {"form": form})


def count_week_cancel(request: HttpRequest, pk: int) -> HttpResponse:
    """Nobody is asked any more; the week stays to be seen, with who and why."""
    person = person_of(request)
    week = settable_week_for(person, pk)
    if state_of(week, today_in(week.club)) in (WeekState.CANCELLED, WeekState.PAST):
        messages.warning(
            request, say("This count week is over or was cancelled before. Nothing was changed.")
        )
        return redirect("counts:count-week-list")
    form = CancelWeekForm(posted(request))
    if form.is_valid() and form.saves(
        lambda: cancel_count_week(week=week, why=form.cleaned_data["why"], at=timezone.now(), by=person)
    ):
        messages.success(request, say("Count week cancelled. Nobody is asked for it any more."))
        return redirect("counts:count-week-list")
    return render(request, "counts/count_week_cancel.html", {"form": form, "week": week})


def count_months(request: HttpRequest) -> HttpResponse:
    """The months in which the club asks for a count in every yard."""
    person = person_of(request)
    club = club_for(person, Permission.COUNT_WEEK_SET)
    form = MonthsForm(posted(request), initial={"months": club.count_months})
    if form.is_valid() and form.saves(
        lambda: set_count_months(club=club, months=form.cleaned_data["months"], by=person)
    ):
        messages.success(request, say("The club’s months for counting are saved."))
        return redirect("counts:count-week-list")
    return render(request, "counts/count_months.html", {"form": form})
