"""Pages to read."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from apiaries import reference
from apiaries.permissions import Permission
from apiaries.presenters import cautions_by_place
from apiaries.views.asking import person_of
from apiaries.who_sees import role_table, roles, row_rules


@require_safe
def who_sees_what(request: HttpRequest) -> HttpResponse:
    """The rules of who sees what, from the lists that the service itself asks."""
    context = {"roles": roles(), "role_rows": role_table(), "row_rules": row_rules()}
    return render(request, "apiaries/who_sees_what.html", context)


@require_safe
def cautions(request: HttpRequest) -> HttpResponse:
    """What can hurt people or bees, each with where it is published."""
    return render(request, "apiaries/cautions.html", {"groups": cautions_by_place(reference.cautions())})


@require_safe
def help_page(request: HttpRequest) -> HttpResponse:
    """The way through a season, in short."""
    context = {"may_edit": person_of(request).can(Permission.CLUB_EDIT)}
    return render(request, "apiaries/help.html", context)
