"""Colonies."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from apiaries.access import colony_for, editable_colony_for, editable_yard_for, labelled_colony_for
from apiaries.actions import add_colonies, describe_colony, end_colony, move_colony
from apiaries.forms import ColonyAddForm, ColonyEndForm, ColonyForm, ColonyMoveForm, posted
from apiaries.language import say, say_many
from apiaries.models import Brood, Yard
from apiaries.presenters import colony_page
from apiaries.views.asking import person_of, today_in


def colony_add(request: HttpRequest, pk: int) -> HttpResponse:
    """Many colonies at once: "1–24", or names."""
    person = person_of(request)
    yard = editable_yard_for(person, pk)
    form = ColonyAddForm(posted(request), yard=yard, today=today_in(yard))
    if form.is_valid() and form.saves(
        lambda: add_colonies(
            yard=yard,
            names=form.cleaned_data["colonies"],
            started_on=form.cleaned_data["started_on"],
            brood_boxes=form.cleaned_data["brood_boxes"],
            by=person,
        )
    ):
        number = len(form.cleaned_data["colonies"])
        messages.success(
            request,
            say_many("{n} colony added to {yard}.", "{n} colonies added to {yard}.", number, yard=yard.name),
        )
        return redirect("apiaries:yard-detail", pk=yard.pk)
    return render(request, "apiaries/colony_add.html", {"form": form, "yard": yard})


@require_safe
def colony_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """One colony with all that belongs to it."""
    person = person_of(request)
    colony = colony_for(person, pk)
    return render(request, "apiaries/colony_detail.html", colony_page(request, person, colony))


@require_safe
def label(request: HttpRequest, code: str) -> HttpResponse:
    """What a hive label leads to: the colony in it, whatever became of that."""
    return redirect("apiaries:colony-detail", pk=labelled_colony_for(person_of(request), code).pk)


def colony_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Name, boxes, supers and brood as last seen."""
    person = person_of(request)
    colony = editable_colony_for(person, pk)
    form = ColonyForm(posted(request), colony=colony, today=today_in(colony.yard))
    heading = colony.name
    if form.is_valid() and form.saves(
        lambda: describe_colony(
            colony=colony,
            name=form.cleaned_data["name"],
            brood_boxes=form.cleaned_data["brood_boxes"],
            supers_on=form.cleaned_data["supers_on"],
            brood=Brood(form.cleaned_data["brood"]),
            brood_seen_on=form.cleaned_data["brood_seen_on"],
            by=person,
        )
    ):
        messages.success(request, say("Colony {name} is saved.", name=colony.name))
        return redirect("apiaries:colony-detail", pk=colony.pk)
    return render(request, "apiaries/colony_edit.html", {"form": form, "colony": colony, "heading": heading})


def colony_move(request: HttpRequest, pk: int) -> HttpResponse:
    """To another yard of the same keeper; counts made before stay with the old one."""
    person = person_of(request)
    colony = editable_colony_for(person, pk)
    yards = Yard.objects.editable_by(person).filter(closed_on=None).exclude(pk=colony.yard_id)
    form = ColonyMoveForm(posted(request), colony=colony, yards=yards, today=today_in(colony.yard))
    if form.is_valid() and form.saves(
        lambda: move_colony(
            colony=colony,
            to_yard=form.cleaned_data["to_yard"],
            moved_on=form.cleaned_data["moved_on"],
            by=person,
        )
    ):
        messages.success(
            request, say("Colony {name} stands in {yard} now.", name=colony.name, yard=colony.yard.name)
        )
        return redirect("apiaries:colony-detail", pk=colony.pk)
    context = {"form": form, "colony": colony, "has_yards": yards.exists()}
    return render(request, "apiaries/colony_move.html", context)


def colony_end(request: HttpRequest, pk: int) -> HttpResponse:
    """It died out, was united or sold; its records stay."""
    person = person_of(request)
    colony = editable_colony_for(person, pk)
    form = ColonyEndForm(posted(request), colony=colony, today=today_in(colony.yard))
    if form.is_valid() and form.saves(
        lambda: end_colony(
            colony=colony, ended_on=form.cleaned_data["ended_on"], why=form.cleaned_data["why"], by=person
        )
    ):
        messages.success(
            request, say("Colony {name} is gone from the lists. Its records stay.", name=colony.name)
        )
        return redirect("apiaries:yard-detail", pk=colony.yard_id)
    return render(request, "apiaries/colony_end.html", {"form": form, "colony": colony})
