"""The club's settings and regions, for administrators."""

from django.contrib import messages
from django.db.models import Count, Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST

from apiaries.access import club_for, region_for
from apiaries.actions import (
    RegionInUse,
    add_region,
    edit_club,
    is_in_use,
    remove_region,
    rename_region,
    set_visit_rule,
)
from apiaries.forms import ClubForm, RegionForm, VisitRuleForm, posted
from apiaries.issuer_levels import issuer_levels
from apiaries.language import say
from apiaries.models import Club
from apiaries.permissions import Permission
from apiaries.second_lock import as_the_service
from apiaries.views.asking import person_of
from apiaries.visit_reference import diseases, has_list, rule_source, written_rules


def club_edit(request: HttpRequest) -> HttpResponse:
    """Name, time zone, whose action levels, bees per measure, whose labels."""
    person = person_of(request)
    club = club_for(person, Permission.CLUB_EDIT)
    form = ClubForm(posted(request), club=club)
    if form.is_valid() and form.saves(lambda: edit_club(club=club, by=person, **form.cleaned_data)):
        messages.success(request, say("The club's settings are saved."))
        _warn_without_level(request, club)
        return redirect("apiaries:club-edit")
    levels = issuer_levels()
    with as_the_service():  # how many yards lie in each: a number, whoever may see the yards
        regions = list(club.regions.annotate(number=Count("yards", filter=Q(yards__closed_on=None))))
    context = {
        "form": form,
        "regions": regions,
        "levels": levels,
        "chosen": next((one for one in levels if one.key == form["action_level_issuer"].value()), None),
    }
    return render(request, "apiaries/club_edit.html", context)


def visit_rule(request: HttpRequest) -> HttpResponse:
    """How many colonies inspectors open, and what is looked for in the club's country."""
    person = person_of(request)
    club = club_for(person, Permission.CLUB_EDIT)
    form = VisitRuleForm(posted(request), club=club)
    if form.is_valid() and form.saves(lambda: set_visit_rule(club=club, by=person, **form.cleaned_data)):
        messages.success(request, say("The rule for visits is saved."))
        return redirect("apiaries:club-edit")
    context = {
        "form": form,
        "sources": [(say(one.name), rule_source(one.key)) for one in written_rules()],
        "diseases": diseases(club),
        "has_list": has_list(club),
    }
    return render(request, "apiaries/visit_rule.html", context)


def _warn_without_level(request: HttpRequest, club: Club) -> None:
    for one in issuer_levels():
        if one.key == club.action_level_issuer and one.lacks:
            messages.warning(
                request,
                say(
                    "{issuer}: {lacks}. Such counts are shown without a comparison.",
                    issuer=one.name,
                    lacks=one.lacks,
                ),
            )


def region_add(request: HttpRequest) -> HttpResponse:
    """A new region of the club."""
    person = person_of(request)
    club = club_for(person, Permission.CLUB_EDIT)
    form = RegionForm(posted(request), club=club)
    if form.is_valid() and form.saves(
        lambda: add_region(club=club, name=form.cleaned_data["name"], by=person)
    ):
        messages.success(request, say("The region {name} is added.", name=form.cleaned_data["name"]))
        return redirect("apiaries:club-edit")
    return render(request, "apiaries/region_add.html", {"form": form})


def region_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Another name for a region; one of which nothing was recorded can be removed."""
    person = person_of(request)
    region = region_for(person, pk)
    before = region.name
    form = RegionForm(posted(request), club=region.club, region=region)
    if form.is_valid() and form.saves(
        lambda: rename_region(region=region, name=form.cleaned_data["name"], by=person)
    ):
        messages.success(request, say("The region {old} is now {name}.", old=before, name=region.name))
        return redirect("apiaries:club-edit")
    context = {"form": form, "region": region, "name": before, "in_use": is_in_use(region)}
    return render(request, "apiaries/region_edit.html", context)


@require_POST
def region_remove(request: HttpRequest, pk: int) -> HttpResponse:
    """A region that was added by mistake is no more."""
    person = person_of(request)
    region = region_for(person, pk)
    name = region.name
    try:
        remove_region(region=region, by=person)
    except RegionInUse:
        messages.error(request, say("The region {name} stays: something is recorded of it.", name=name))
        return redirect("apiaries:region-edit", pk=pk)
    messages.success(request, say("The region {name} is removed.", name=name))
    return redirect("apiaries:club-edit")
