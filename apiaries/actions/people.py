"""Clubs, invitations, memberships and what people say about themselves."""

import datetime as dt
from collections.abc import Collection, Iterable

from apiaries.history import action
from apiaries.language import say
from apiaries.models import Club, Invitation, Membership, Person, Region
from apiaries.permissions import Role, roles_invitable_by

INVITATION_DAYS = 14


class InvitationClosed(ValueError):
    """The invitation was used, withdrawn or has expired."""


class MayNotInvite(ValueError):
    """The role asked for is not one that this person may hand out."""


class AlreadyMember(ValueError):
    """The person belongs to a club already."""


class LastAdministrator(ValueError):
    """The club would be left without an administrator."""


class NeedsRegion(ValueError):
    """An inspector without a region would see no yard at all."""


class LeftMeanwhile(ValueError):
    """The membership ended while somebody was changing it."""


@action
def found_club(
    *,
    name: str,
    time_zone: str,
    jurisdiction: str = "any",
    action_level_issuer: str = "",
    is_invented: bool = False,
    administrator: Person,
    by: Person | None = None,
) -> Club:
    """A new club with its first administrator. Done by the operator of the service (`by` may be None)."""
    club = Club(
        name=name,
        time_zone=time_zone,
        jurisdiction=jurisdiction,
        action_level_issuer=action_level_issuer,
        is_invented=is_invented,
    )
    club.full_clean()
    club.save()
    _join(club=club, person=administrator, role=Role.ADMINISTRATOR, regions=())
    return club


@action
def invite(
    *, club: Club, email: str, role: Role, regions: Iterable[Region] = (), at: dt.datetime, by: Person
) -> Invitation:
    """An open invitation; an earlier open one for the same address is withdrawn. Sends nothing itself."""
    if by.membership is None or by.membership.club_id != club.pk:
        raise MayNotInvite("Only somebody of the club can invite to it.")
    if role not in roles_invitable_by(by.membership.role):
        raise MayNotInvite(f"A {by.membership.role} cannot invite with the role {role}.")
    address = email.strip().lower()
    # Only of this club: who belongs to another is nobody's business here. They are told when they accept.
    if club.memberships.current().filter(person__email=address).exists():
        raise AlreadyMember("This person belongs to the club already.")
    for earlier in club.invitations.filter(email=address, accepted_at=None, withdrawn_at=None):
        withdraw_invitation(invitation=earlier, at=at, by=by)
    invitation = Invitation(
        club=club, email=address, role=role, invited_by=by, expires_at=at + dt.timedelta(days=INVITATION_DAYS)
    )
    invitation.full_clean()
    invitation.save()
    invitation.regions.set(regions)
    return invitation


@action
def withdraw_invitation(*, invitation: Invitation, at: dt.datetime, by: Person) -> Invitation:
    """Close an open invitation; one that was accepted stays as it is."""
    if invitation.accepted_at is None and invitation.withdrawn_at is None:
        invitation.withdrawn_at, invitation.withdrawn_by = at, by
        invitation.save(update_fields=["withdrawn_at", "withdrawn_by"])
    return invitation


@action
def accept_invitation(*, invitation: Invitation, at: dt.datetime, by: Person) -> Membership:
    """The person joins the club. Two clicks at once make one membership: the row is locked first."""
    locked = Invitation.objects.select_for_update().get(pk=invitation.pk)
    if not locked.is_open(at):
        raise InvitationClosed(say("This invitation was used, withdrawn or has expired."))
    # The person's row too: two invitations of two clubs, accepted at once, make one membership.
    Person.objects.select_for_update().get(pk=by.pk)
    if by.memberships.current().exists():
        raise AlreadyMember(say("You belong to a club already."))
    membership = _join(club=locked.club, person=by, role=Role(locked.role), regions=locked.regions.all())
    locked.accepted_at, locked.accepted_by = at, by
    locked.save(update_fields=["accepted_at", "accepted_by"])
    if by.time_zone == "UTC":
        by.time_zone = locked.club.time_zone
        by.save(update_fields=["time_zone"])
    return membership


@action
def change_role(*, membership: Membership, role: Role, regions: Iterable[Region] = (), by: Person) -> bool:
    """Another role, or other regions of an inspector; any other role has none. False if all was so already.

    The last administrator stays one. Regions of another club are a programmer's mistake.
    """
    chosen = set(regions) if role == Role.INSPECTOR else set()
    if any(region.club_id != membership.club_id for region in chosen):
        raise ValueError("A region of another club.")
    if role == Role.INSPECTOR and not chosen:
        raise NeedsRegion("An inspector needs at least one region.")
    _keep_an_administrator(membership, leaves=role != Role.ADMINISTRATOR)
    if membership.role == role and set(membership.regions.all()) == chosen:
        return False
    membership.role = role
    membership.save(update_fields=["role"])
    membership.regions.set(chosen)
    return True


@action
def set_sharing(*, membership: Membership, shares_counts: bool, by: Person) -> Membership:
    """Whether coordinators may see the member's yards and single counts: the member's own word."""
    if by.pk != membership.person_id:
        raise ValueError("Only the member can say who sees their counts.")
    membership.shares_counts = shares_counts
    membership.save(update_fields=["shares_counts"])
    return membership


@action
def end_membership(*, membership: Membership, at: dt.datetime, by: Person) -> Membership:
    """The person leaves the club; what they recorded stays. The last administrator cannot."""
    _keep_an_administrator(membership, leaves=True)
    membership.ended_at, membership.ended_by = at, by
    membership.save(update_fields=["ended_at", "ended_by"])
    return membership


@action
def update_person(
    *,
    person: Person,
    name: str,
    time_zone: str,
    language: str,
    mail_at: dt.time,
    wants_mail: bool,
    wants_calls: bool,
    wants_bulletins: bool,
    quiet_days: Collection[int],
    by: Person,
) -> Person:
    """What a person says about themselves. Seven quiet days are refused: who wants no mail says that."""
    said = {
        "name": name,
        "time_zone": time_zone,
        "language": language,
        "mail_at": mail_at,
        "wants_mail": wants_mail,
        "wants_calls": wants_calls,
        "wants_bulletins": wants_bulletins,
        "quiet_days": sorted(set(quiet_days)),
    }
    for field, value in said.items():
        setattr(person, field, value)
    person.full_clean(exclude=["password"])
    person.save(update_fields=list(said))
    return person


@action
def choose_language(*, person: Person, language: str, by: Person) -> Person:
    """The language of their pages, mails and papers, one of `settings.LANGUAGES`."""
    person.language = language
    person.full_clean(exclude=["password"])
    person.save(update_fields=["language"])
    return person


@action
def set_operator(*, person: Person, is_operator: bool, by: Person | None) -> bool:
    """Whether the person runs this server; said at its console only (`by` is None). False if it was so already."""
    if person.is_operator == is_operator:
        return False
    person.is_operator = is_operator
    person.save(update_fields=["is_operator"])
    return True


@action
def stop_daily_mail(*, person: Person, by: Person) -> None:
    """Send the person nothing any more about recounts and steps of treatments; twice changes nothing."""
    if person.wants_mail:
        person.wants_mail = False
        person.save(update_fields=["wants_mail"])


@action
def stop_calls(*, person: Person, by: Person) -> None:
    """Ask the person no more by mail for routine counts and in count weeks; twice changes nothing."""
    if person.wants_calls:
        person.wants_calls = False
        person.save(update_fields=["wants_calls"])


@action
def stop_bulletins(*, person: Person, by: Person) -> None:
    """Tell the person no more by mail that a bulletin is issued; twice changes nothing."""
    if person.wants_bulletins:
        person.wants_bulletins = False
        person.save(update_fields=["wants_bulletins"])


def _keep_an_administrator(membership: Membership, *, leaves: bool) -> None:
    """Lock the club and read its membership anew; refuse when the last administrator would be one no longer."""
    # The club's row is locked so that two administrators cannot end or change each other at the same moment.
    club = Club.objects.select_for_update().get(pk=membership.club_id)
    membership.refresh_from_db(fields=["role", "ended_at"])
    if membership.ended_at is not None:
        raise LeftMeanwhile("The person has left the club.")
    others = club.memberships.current().filter(role=Role.ADMINISTRATOR).exclude(pk=membership.pk)
    if leaves and membership.role == Role.ADMINISTRATOR and not others.exists():
        raise LastAdministrator("The club would be left without an administrator.")


def _join(*, club: Club, person: Person, role: Role, regions: Iterable[Region]) -> Membership:
    membership = Membership(club=club, person=person, role=role)
    membership.full_clean()
    membership.save()
    membership.regions.set(regions)
    return membership
