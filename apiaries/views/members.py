"""Members of the club."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from apiaries.access import club_for, member_for
from apiaries.actions import LastAdministrator, assign_regions, end_membership
from apiaries.forms import MemberRegionsForm, posted
from apiaries.language import say
from apiaries.permissions import Permission, Role
from apiaries.presenters import members_for_list, members_page
from apiaries.views.asking import person_of

PER_PAGE = 40


@require_safe
def member_list(request: HttpRequest) -> HttpResponse:
    """Members with their roles, and invitations that are still open."""
    person = person_of(request)
    club = club_for(person, Permission.MEMBER_VIEW)
    waiting = club.invitations.filter(accepted_at=None, withdrawn_at=None, expires_at__gt=timezone.now())
    context = {
        "page": Paginator(members_for_list(club), PER_PAGE).get_page(request.GET.get("page")),
        "invitations": waiting.select_related("invited_by").prefetch_related("regions"),
        "may_invite": person.can(Permission.MEMBER_INVITE),
        "may_edit": person.can(Permission.CLUB_EDIT),
        "inspector": Role.INSPECTOR,
        "sections": members_page(request, person, club),
    }
    return render(request, "apiaries/member_list.html", context)


def member_regions(request: HttpRequest, pk: int) -> HttpResponse:
    """Where an inspector sees every yard."""
    person = person_of(request)
    member = member_for(person, pk, Permission.CLUB_EDIT)
    form = MemberRegionsForm(posted(request), membership=member)
    if form.is_valid() and form.saves(
        lambda: assign_regions(membership=member, regions=form.cleaned_data["regions"], by=person)
    ):
        messages.success(request, say("The regions of {name} are saved.", name=member.person.name))
        return redirect("apiaries:member-list")
    context = {"form": form, "member": member, "is_inspector": member.role == Role.INSPECTOR}
    return render(request, "apiaries/member_regions.html", context)


def member_end(request: HttpRequest, pk: int) -> HttpResponse:
    """Ask once, then the person leaves the club; what they recorded stays."""
    person = person_of(request)
    member = member_for(person, pk, Permission.CLUB_EDIT)
    if request.method == "POST":
        try:
            end_membership(membership=member, at=timezone.now(), by=person)
        except LastAdministrator:
            messages.error(request, say("The club needs an administrator. Invite another one first."))
        else:
            messages.success(
                request,
                say("{name} is no longer a member. What they recorded stays.", name=member.person.name),
            )
        return redirect("apiaries:me" if member.person_id == person.pk else "apiaries:member-list")
    return render(request, "apiaries/member_end.html", {"member": member})
