"""The club's settings and regions, for administrators."""

from django.contrib import messages
from django.db.models import Count, Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from apiaries.access import club_for
from apiaries.actions import add_region, edit_club
from apiaries.forms import ClubForm, RegionForm, posted
from apiaries.language import say
from apiaries.permissions import Permission
from apiaries.views.asking import person_of


def club_edit(request: HttpRequest) -> HttpResponse:
    """Name, time zone, whose action levels, bees per measure, whose labels."""
    person = person_of(request)
    club = club_for(person, Permission.CLUB_EDIT)
    form = ClubForm(posted(request), club=club)
    if form.is_valid() and form.saves(lambda: edit_club(club=club, by=person, **form.cleaned_data)):
        messages.success(request, say("The club's settings are saved."))
        return redirect("apiaries:club-edit")
    regions = club.regions.annotate(number=Count("yards", filter=Q(yards__closed_on=None)))
    return render(request, "apiaries/club_edit.html", {"form": form, "regions": regions})


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
