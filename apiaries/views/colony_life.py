"""What happens to colonies: splitting, uniting, requeening, and undoing what was noted by mistake."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from apiaries.access import editable_colony_for, undoable_change_for
from apiaries.actions import requeen_colony, split_colony, undo_change, unite_colonies
from apiaries.forms import (
    ColonyRequeenForm,
    ColonySplitForm,
    ColonyUniteForm,
    UndoForm,
    UndoSplitForm,
    posted,
)
from apiaries.language import say
from apiaries.models import ChangeKind, Colony, ColonyChange, Yard
from apiaries.past import change_words
from apiaries.views.asking import person_of, today_in


def colony_split(request: HttpRequest, pk: int) -> HttpResponse:
    """A new colony from this one, in this or another yard of the keeper."""
    person = person_of(request)
    colony = editable_colony_for(person, pk)
    yards = Yard.objects.editable_by(person).filter(closed_on=None)
    form = ColonySplitForm(posted(request), colony=colony, yards=yards, today=today_in(colony.yard))
    made: list[Colony] = []
    if form.is_valid() and form.saves(
        lambda: made.append(
            split_colony(
                colony=colony,
                to_yard=form.cleaned_data["to_yard"],
                name=form.cleaned_data["name"],
                split_on=form.cleaned_data["on"],
                brood_boxes=form.cleaned_data["brood_boxes"],
                note=form.cleaned_data["note"],
                by=person,
            )
        )
    ):
        (daughter,) = made
        messages.success(
            request,
            say(
                "Colony {name} stands in {yard}, split from {mother}.",
                name=daughter.name,
                yard=daughter.yard.name,
                mother=colony.name,
            ),
        )
        return redirect("apiaries:colony-detail", pk=daughter.pk)
    return _page(
        request,
        form,
        colony,
        title=say("Split colony {name}", name=colony.name),
        lead=say(
            "The new colony gets a hive label of its own. It shows the counts and treatments made before that day as "
            "those of the colony it comes from; they are never taken for its own."
        ),
        submit=say("Save the split"),
    )


def colony_unite(request: HttpRequest, pk: int) -> HttpResponse:
    """Its bees went into another colony: it ends that day."""
    person = person_of(request)
    colony = editable_colony_for(person, pk)
    yards = Yard.objects.editable_by(person).filter(closed_on=None)
    others = Colony.objects.living().filter(yard__in=yards.values("pk")).exclude(pk=colony.pk)
    others = others.select_related("yard").order_by("yard__name", "number", "name", "pk")
    form = ColonyUniteForm(posted(request), colony=colony, others=others, today=today_in(colony.yard))
    if form.is_valid() and form.saves(
        lambda: unite_colonies(
            colony=colony,
            into=form.cleaned_data["into"],
            united_on=form.cleaned_data["on"],
            note=form.cleaned_data["note"],
            by=person,
        )
    ):
        into = form.cleaned_data["into"]
        messages.success(
            request,
            say(
                "Colony {name} is gone; its bees are in colony {other}. Its records stay.",
                name=colony.name,
                other=into.name,
            ),
        )
        return redirect("apiaries:colony-detail", pk=into.pk)
    return _page(
        request,
        form,
        colony,
        title=say("Unite colony {name} with another", name=colony.name),
        lead=say(
            "Colony {name} ends on that day and leaves the lists; its records stay, and its hive label leads "
            "on to the colony that took in its bees. Counts of the two are never taken for each other's.",
            name=colony.name,
        ),
        submit=say("Save the union"),
        empty="" if others else say("You have no other colony. Add it on the page of its yard first."),
        danger=True,
    )


def colony_requeen(request: HttpRequest, pk: int) -> HttpResponse:
    """It has another queen."""
    person = person_of(request)
    colony = editable_colony_for(person, pk)
    form = ColonyRequeenForm(posted(request), colony=colony, today=today_in(colony.yard))
    if form.is_valid() and form.saves(
        lambda: requeen_colony(
            colony=colony,
            requeened_on=form.cleaned_data["on"],
            note=form.cleaned_data["note"],
            by=person,
        )
    ):
        messages.success(request, say("Colony {name} has another queen.", name=colony.name))
        return redirect("apiaries:colony-detail", pk=colony.pk)
    return _page(
        request,
        form,
        colony,
        title=say("Another queen in colony {name}", name=colony.name),
        lead=say(
            "A new queen often means some days without brood, and that moves counts: “Did it work?” names it where it "
            "fell between two counts."
        ),
        submit=say("Save the queen"),
    )


def change_undo(request: HttpRequest, pk: int) -> HttpResponse:
    """What was noted of a colony is not so; it stays to be seen, struck through."""
    person = person_of(request)
    change = undoable_change_for(person, pk)
    if change.voided_at is not None:
        messages.warning(request, say("This was undone before. Nothing was changed."))
        return redirect("apiaries:colony-detail", pk=change.colony_id)
    is_split = change.kind == ChangeKind.SPLIT
    form = (UndoSplitForm if is_split else UndoForm)(posted(request))
    if form.is_valid() and form.saves(
        lambda: undo_change(
            change=change,
            why=form.cleaned_data["why"],
            never_there=form.cleaned_data.get("there") == "no",
            at=timezone.now(),
            by=person,
        )
    ):
        messages.success(request, say("Undone. It stays in the colony's past, struck through."))
        return redirect("apiaries:colony-detail", pk=change.colony_id)
    return _page(
        request,
        form,
        change.colony,
        title=say("Undo what was noted"),
        lead=_undo_words(change),
        submit=say("Undo it"),
        danger=True,
    )


def _undo_words(change: ColonyChange) -> str:
    stays = say(
        "{change}. It will stay in the colony's past, struck through, with your name and reason.",
        change=change_words(change),
    )
    if change.kind in (ChangeKind.SPLIT, ChangeKind.REQUEENED):
        return stays
    return f"{stays} {say('The colony lives again.')}"


def _page(request: HttpRequest, form: object, colony: Colony, **words: object) -> HttpResponse:
    return render(request, "apiaries/colony_life.html", {"form": form, "colony": colony, **words})
