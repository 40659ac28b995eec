"""Helpers of a yard."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from apiaries.access import editable_yard_for, helper_for
from apiaries.actions import add_helper, end_helper
from apiaries.forms import HelperForm, posted
from apiaries.language import say
from apiaries.views.asking import limited, person_of


@limited("add_helper")  # each try tells whether an address belongs to a member
def helper_list(request: HttpRequest, pk: int) -> HttpResponse:
    """Who helps here, and a form to add somebody."""
    person = person_of(request)
    yard = editable_yard_for(person, pk)
    form = HelperForm(posted(request))
    if form.is_valid() and form.saves(lambda: add_helper(yard=yard, person=form.person, by=person)):
        messages.success(
            request,
            say("{name} can log counts and treatments in {yard} now.", name=form.person.name, yard=yard.name),
        )
        return redirect("apiaries:helper-list", pk=yard.pk)
    helpers = yard.helpers.filter(ended_at=None).select_related("person").order_by("person__name", "pk")
    return render(request, "apiaries/helper_list.html", {"form": form, "yard": yard, "helpers": helpers})


@require_POST
def helper_end(request: HttpRequest, pk: int, helper_pk: int) -> HttpResponse:
    """They no longer log here."""
    person = person_of(request)
    yard = editable_yard_for(person, pk)
    helper = helper_for(yard, helper_pk)
    end_helper(helper=helper, at=timezone.now(), by=person)
    messages.success(
        request,
        say(
            "{name} no longer helps in {yard}. What they logged stays.",
            name=helper.person.name,
            yard=yard.name,
        ),
    )
    return redirect("apiaries:helper-list", pk=yard.pk)
