"""The only way for a request to get an object of this app.

One refusal policy: what a person cannot see does not exist for them (404), what they can see but not change is
refused (403), and somebody not signed in is sent to the sign-in page by the middleware.
"""

from typing import TypeVar

from django.core.exceptions import PermissionDenied
from django.db import models
from django.http import Http404
from django.shortcuts import get_object_or_404

from apiaries.models import (
    AccessToken,
    Club,
    Colony,
    ColonyChange,
    Invitation,
    LabSample,
    Membership,
    Person,
    Region,
    SignIn,
    Visit,
    VisitOrder,
    Yard,
    YardHelper,
)
from apiaries.own_colony import own_colony
from apiaries.permissions import Permission

Model = TypeVar("Model", bound=models.Model)
VISIT_ALONG = ("yard__club", "yard__region", "yard__keeper", "inspector", "recorded_by")


def allowed_or_refused(
    pk: int, *, visible: "models.QuerySet[Model]", allowed: "models.QuerySet[Model]"
) -> Model:
    """The object if it is in `allowed`; 403 if it is only in `visible`; 404 if in neither."""
    found = allowed.filter(pk=pk).first()
    if found is not None:
        return found
    if visible.filter(pk=pk).exists():
        raise PermissionDenied
    raise Http404


def yard_for(person: Person, pk: int) -> Yard:
    """A yard the person may see, with `club`, `region` and `keeper`."""
    own = Yard.objects.editable_by(person).select_related("region").filter(pk=pk).first()
    if own is not None and person.membership is not None:  # mostly; they and their club are known already
        own.keeper, own.club = person, person.membership.club
        return own
    return get_object_or_404(
        Yard.objects.visible_to(person).select_related("club", "region", "keeper"), pk=pk
    )


def recordable_yard_for(person: Person, pk: int) -> Yard:
    """A yard in which the person may log counts and treatments."""
    yards = Yard.objects.select_related("club", "region", "keeper")
    own = yards.editable_by(person).filter(pk=pk).first()  # mostly; and nothing else needs to be asked then
    if own is not None:
        return own
    return allowed_or_refused(pk, visible=yards.visible_to(person), allowed=yards.recordable_by(person))


def editable_yard_for(person: Person, pk: int) -> Yard:
    """A yard whose set-up the person may change."""
    yards = Yard.objects.select_related("club", "region", "keeper")
    return allowed_or_refused(pk, visible=yards.visible_to(person), allowed=yards.editable_by(person))


def colony_for(person: Person, pk: int) -> Colony:
    """A colony the person may see."""
    return get_object_or_404(Colony.objects.visible_to(person).select_related("yard__club"), pk=pk)


def recordable_colony_for(person: Person, pk: int) -> Colony:
    """A colony for which the person may log counts."""
    own = own_colony(person, pk)  # mostly; and nothing else needs to be asked then
    if own is not None:
        return own
    colonies = Colony.objects.select_related("yard__club")
    return allowed_or_refused(pk, visible=colonies.visible_to(person), allowed=colonies.recordable_by(person))


def editable_colony_for(person: Person, pk: int) -> Colony:
    """A colony the person may move or describe."""
    colonies = Colony.objects.select_related("yard__club")
    return allowed_or_refused(pk, visible=colonies.visible_to(person), allowed=colonies.editable_by(person))


def labelled_colony_for(person: Person, code: str) -> Colony:
    """The colony in the hive with this label, if the person may see it; the same 404 whether there is one or not."""
    colonies = Colony.objects.visible_to(person).select_related("yard__club")
    return get_object_or_404(colonies, label_code=code.upper())


def undoable_change_for(person: Person, pk: int) -> ColonyChange:
    """Something noted of a colony that the person may undo."""
    changes = ColonyChange.objects.select_related("colony__yard", "other")
    return allowed_or_refused(pk, visible=changes.visible_to(person), allowed=changes.editable_by(person))


def visits_of(person: Person) -> Membership:
    """The membership of somebody who records visits; for everybody else there are no such pages (404)."""
    membership = person.membership
    if membership is None or not person.can(Permission.VISIT_RECORD):
        raise Http404
    return membership


def visitable_yard_for(person: Person, pk: int) -> Yard:
    """A yard in which the person may record a visit; 403 for who sees the yard but inspects none."""
    yards = Yard.objects.select_related("club", "region", "keeper")
    mine = yards.inspected_by(person) if person.can(Permission.VISIT_RECORD) else yards.none()
    return allowed_or_refused(pk, visible=yards.visible_to(person), allowed=mine)


def visit_for(person: Person, pk: int) -> Visit:
    """A visit the person may see."""
    visits = Visit.objects.visible_to(person).select_related(*VISIT_ALONG)
    return get_object_or_404(visits, pk=pk)


def plannable_visit_for(person: Person, pk: int) -> Visit:
    """A planned visit that the person may make or cancel; 404 once it is neither planned nor theirs to see."""
    visits = Visit.objects.select_related(*VISIT_ALONG)
    return allowed_or_refused(pk, visible=visits.visible_to(person), allowed=visits.plannable_by(person))


def editable_visit_for(person: Person, pk: int) -> Visit:
    """A visit whose report the person may correct or void."""
    visits = Visit.objects.select_related(*VISIT_ALONG)
    return allowed_or_refused(pk, visible=visits.visible_to(person), allowed=visits.editable_by(person))


def visit_order_for(person: Person, pk: int) -> VisitOrder:
    """An order of a visit that stands, for the inspectors of its region."""
    orders = VisitOrder.objects.select_related("visit__yard__club", "visit__yard__keeper")
    return allowed_or_refused(
        pk,
        visible=orders.filter(visit__in=Visit.objects.visible_to(person).values("pk")),
        allowed=orders.filter(visit__in=Visit.objects.made().inspected_by(person).values("pk")),
    )


def lab_sample_for(person: Person, pk: int) -> LabSample:
    """A laboratory sample of a visit that stands, for the inspectors of its region."""
    samples = LabSample.objects.select_related("visit__yard__club", "visit__yard__keeper")
    return allowed_or_refused(
        pk,
        visible=samples.filter(visit__in=Visit.objects.visible_to(person).values("pk")),
        allowed=samples.filter(visit__in=Visit.objects.made().inspected_by(person).values("pk")),
    )


def membership_of(person: Person) -> Membership:
    """The person's membership, for pages about their club; 404 for somebody who belongs to none."""
    membership = person.membership
    if membership is None:
        raise Http404
    return membership


def club_for(person: Person, permission: Permission) -> Club:
    """The person's club if their role includes the permission, else 403; 404 without a club."""
    membership = membership_of(person)
    if not person.can(permission):
        raise PermissionDenied
    return membership.club


def region_for(person: Person, pk: int) -> Region:
    """A region of the person's club, for those who set the club up."""
    return get_object_or_404(club_for(person, Permission.CLUB_EDIT).regions.all(), pk=pk)


def helper_for(yard: Yard, pk: int) -> YardHelper:
    """Somebody who helps in the yard now; the yard came through `editable_yard_for`."""
    return get_object_or_404(yard.helpers.filter(ended_at=None).select_related("person"), pk=pk)


def member_for(person: Person, pk: int, permission: Permission) -> Membership:
    """A current member of the person's club, for those whose role includes the permission."""
    members = club_for(person, permission).memberships.current().select_related("person", "club")
    return get_object_or_404(members, pk=pk)


def seen_member_for(person: Person, pk: int) -> Membership:
    """One's own membership; a current member of the club for those who see the list of members."""
    own = person.membership
    if own is not None and own.pk == pk:
        return own
    return member_for(person, pk, Permission.MEMBER_VIEW)


def own_club_for(person: Person, pk: int) -> Club:
    """The person's club by its key, for those who set it up; another club's key is nobody's."""
    club = club_for(person, Permission.CLUB_EDIT)
    if club.pk != pk:
        raise Http404
    return club


def invitation_for(person: Person, pk: int) -> Invitation:
    """An invitation to the person's club, for those who may invite."""
    return get_object_or_404(club_for(person, Permission.MEMBER_INVITE).invitations.all(), pk=pk)


def invitation_with(token: str) -> Invitation:
    """The invitation a link leads to, open or not; whoever has the link may read it."""
    invitations = Invitation.objects.select_related("club", "invited_by").prefetch_related("regions")
    return get_object_or_404(invitations, token=token)


def token_for(person: Person, pk: int) -> AccessToken:
    """A token of one's own that nobody revoked yet."""
    return get_object_or_404(AccessToken.objects.visible_to(person).filter(revoked_at=None), pk=pk)


def sign_in_for(person: Person, pk: int) -> SignIn:
    """A sign-in of one's own, over or not."""
    return get_object_or_404(SignIn.objects.visible_to(person), pk=pk)
