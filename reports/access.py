"""The only way for a request to get an object of this app: what is not the person's does not exist for them."""

from django.db.models import Q, QuerySet
from django.http import Http404
from django.shortcuts import get_object_or_404

from apiaries.access import club_for
from apiaries.models import Person, Region, Yard
from apiaries.permissions import Permission
from apiaries.second_lock import reader_is
from reports.actions import digest_of
from reports.models import Bulletin, CalendarFeed, Digest, PublicPage


def operator_of(person: Person) -> Person:
    """Who runs this server; for everybody else, administrators of clubs too, its pages do not exist."""
    if not person.is_operator:
        raise Http404
    return person


def given_up_mail_for(person: Person, pk: int) -> Digest:
    """Some mail of this server, for its operator."""
    operator_of(person)
    return get_object_or_404(Digest.objects.select_related("person"), pk=pk)


def feed_for(person: Person, pk: int) -> CalendarFeed:
    """A calendar address of the person's own that still works."""
    return get_object_or_404(feeds_of(person), pk=pk)


def feeds_of(person: Person) -> "QuerySet[CalendarFeed]":
    """The person's calendar addresses that still work."""
    return CalendarFeed.objects.standing().filter(person=person).select_related("yard")


def feed_with(word: str) -> CalendarFeed:
    """The feed an address leads to; 404 for a wrong word, a revoked one, and a person or yard that is out of reach."""
    feeds = CalendarFeed.objects.standing().filter(person__is_active=True).select_related("person")
    feed = get_object_or_404(feeds, digest=digest_of(word))
    reader_is(feed.person_id)  # to the end of the request
    if feed.yard_id is not None and not yards_of_feed(feed).exists():
        raise Http404
    return feed


def yards_of_feed(feed: CalendarFeed) -> "QuerySet[Yard]":
    """The yards it tells of, asked anew each time: the person's own, and those they may still log in."""
    person = feed.person
    helped = Yard.objects.recordable_by(person).values("pk")
    yards = Yard.objects.visible_to(person).filter(Q(keeper=person) | Q(pk__in=helped))
    return yards if feed.yard_id is None else yards.filter(pk=feed.yard_id)


def inspected_regions_of(person: Person) -> list[Region]:
    """The regions assigned to an inspector, perhaps none yet; for everybody else these pages do not exist."""
    membership = person.membership
    if membership is None or not person.can(Permission.YARD_VIEW_IN_REGION):
        raise Http404
    return list(membership.regions.all())


def inspected_yard_for(person: Person, pk: int) -> Yard:
    """An open yard of the regions assigned to an inspector."""
    yards = Yard.objects.inspected_by(person).filter(closed_on=None)
    return get_object_or_404(yards.select_related("keeper", "region"), pk=pk)


def published_regions_of(person: Person) -> "QuerySet[Region]":
    """The regions whose published months the person may read: those of their club."""
    membership = person.membership
    if membership is None or not person.can(Permission.REGION_VIEW):
        return Region.objects.none()
    return Region.objects.filter(club=membership.club_id).select_related("club")


def public_page_with(word: str) -> PublicPage:
    """The page of published months that an address leads to, while its club shows it."""
    return get_object_or_404(PublicPage.objects.select_related("club"), word=word, closed_at=None)


def bulletins_of(person: Person) -> "QuerySet[Bulletin]":
    """The bulletins of the person's club, drafts only for those who write them."""
    club = club_for(person, Permission.REGION_VIEW)
    found = Bulletin.objects.filter(club=club)
    found = found if person.can(Permission.BULLETIN_WRITE) else found.issued()
    return found.select_related("club", "made_by", "issued_by", "withdrawn_by")


def bulletin_for(person: Person, pk: int) -> Bulletin:
    """One of them."""
    return get_object_or_404(bulletins_of(person), pk=pk)


def bulletin_to_write_for(person: Person, pk: int) -> Bulletin:
    """One of the club's bulletins, for those who write them; 403 for others."""
    club_for(person, Permission.BULLETIN_WRITE)
    return bulletin_for(person, pk)
