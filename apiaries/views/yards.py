"""Yards."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.views.decorators.http import require_safe

from apiaries.access import club_for, editable_yard_for, yard_for
from apiaries.actions import edit_yard, set_up_yard
from apiaries.drawn_from import StandingOfYard
from apiaries.forms import YardForm, YardSetUpForm, posted
from apiaries.kept_pages import kept_yard_page, token_place
from apiaries.language import say, say_many
from apiaries.models import Person, Yard
from apiaries.on_page import YardOnPage
from apiaries.permissions import Permission
from apiaries.presenters import (
    OWN,
    PART_WORDS,
    names_words,
    rendered,
    yard_page,
    yards_for_list,
    yards_seen_panel,
)
from apiaries.views.asking import person_of, today_in

PER_PAGE = 60


@require_safe
def yard_list(request: HttpRequest) -> HttpResponse:
    """Yards the person keeps, helps in or may see."""
    person = person_of(request)
    panel = yards_seen_panel(person, request.GET)
    seen = panel.context["rows"] if panel else []
    own = list(yards_for_list(person))
    page = Paginator([*own, *seen], PER_PAGE).get_page(request.GET.get("page"))
    yards = [one for one in page if isinstance(one, Yard)]
    parts = [
        (say(words), part == OWN, [yard for yard in yards if yard.part == part])
        for part, words in PART_WORDS.items()
    ]
    listed = [one for one in page if not isinstance(one, Yard)]
    context = {
        "page": page,
        "parts": [part for part in parts if part[2]],
        "seen": rendered(request, [panel], listed=listed) if panel else [],
        "any": bool(own) or panel is not None,
        "may_add": person.can(Permission.YARD_CREATE),
        "is_inspector": person.can(Permission.YARD_VIEW_IN_REGION),
    }
    return render(request, "apiaries/yard_list.html", context)


def yard_add(request: HttpRequest) -> HttpResponse:
    """A yard with its colonies, set up in one step."""
    person = person_of(request)
    club = club_for(person, Permission.YARD_CREATE)
    form = YardSetUpForm(posted(request), club=club, keeper=person, today=today_in(club))
    if form.is_valid() and form.saves(lambda: _set_up(form, request)):
        return redirect("apiaries:yard-detail", pk=form.yard.pk)
    context = {
        "form": form,
        "has_regions": club.regions.exists(),
        "may_add_region": person.can(Permission.CLUB_EDIT),
    }
    return render(request, "apiaries/yard_add.html", context)


def _set_up(form: YardSetUpForm, request: HttpRequest) -> None:
    person, typed = person_of(request), form.cleaned_data
    form.yard = set_up_yard(
        keeper=person,
        region=typed["region"],
        name=typed["name"],
        latitude=form.latitude,
        longitude=form.longitude,
        area_only=typed["area_only"],
        colonies=typed["colonies"],
        started_on=typed["started_on"] or form.today,
        started_known=typed["started_on"] is not None,
        by=person,
    )
    number = len(typed["colonies"])
    said = (
        say_many(
            "{yard} is set up with {n} colony, {names}.",
            "{yard} is set up with {n} colonies, {names}.",
            number,
            yard=form.yard.name,
            names=names_words(typed["colonies"]),
        )
        if number
        else say("{yard} is set up.", yard=form.yard.name)
    )
    messages.success(request, said)


@require_safe
def yard_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """One yard with all that belongs to it."""

    def draw(reader: Person, standing: StandingOfYard) -> str:
        page = YardOnPage(reader, yard_for(reader, pk), empty=standing.empty)
        context = yard_page(request, page, csrf_token=token_place())
        return render_to_string("apiaries/yard_detail.html", context, request=request)

    return kept_yard_page(request, pk, draw)


def yard_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Its name, region and place."""
    person = person_of(request)
    yard = editable_yard_for(person, pk)
    form = YardForm(posted(request), club=yard.club, keeper=person, yard=yard)
    if form.is_valid() and form.saves(
        lambda: edit_yard(
            yard=yard,
            name=form.cleaned_data["name"],
            region=form.cleaned_data["region"],
            latitude=form.latitude,
            longitude=form.longitude,
            area_only=form.cleaned_data["area_only"],
            by=person,
        )
    ):
        messages.success(request, say("{yard} is saved.", yard=yard.name))
        return redirect("apiaries:yard-detail", pk=yard.pk)
    return render(request, "apiaries/yard_edit.html", {"form": form, "yard": yard})
