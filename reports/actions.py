"""What people may change about what is sent to them, and the one count that a link in a mail may save."""

import datetime as dt
import secrets
from collections.abc import Sequence
from hashlib import sha256

from apiaries.actions import stop_bulletins, stop_calls, stop_daily_mail
from apiaries.history import action
from apiaries.models import Club, Person, Yard
from counts.actions import NewCount, record_samples
from counts.models import MiteSample
from counts.samples import kind_of
from reports.due_days import local_day
from reports.entry_access import Entry, Shut, entry_with
from reports.links import MailKind
from reports.matters import Matter, MatterKind
from reports.models import CalendarFeed, PublicPage, PutOff, Suspension
from treatments.models import Recount
from treatments.status import days_after

WORD_BYTES = 24  # 192 random bits: our choice, as in an invitation's link


class LinkShut(ValueError):
    """The link opened a form a moment ago and does so no more, or not for these counts."""


class NoTimeLeft(ValueError):
    """What is put off would come back after the last day on which it is of use."""


@action
def lift_suspension(*, person: Person, by: Person) -> bool:
    """Send to the person's address again, although a mail server refused it for good. False if none was suspended.

    The attempts that were refused stay with their mails.
    """
    gone, _ = Suspension.objects.filter(person=person).delete()
    return gone > 0


@action
def make_calendar_feed(*, person: Person, yard: Yard | None, at: dt.datetime, by: Person) -> str:
    """A new address for the person's calendar, in all yards or in one; the old one ends. The word in it, told once."""
    # Two sends at the same instant: the second waits here, and takes the place of the first.
    Person.objects.select_for_update(no_key=True).get(pk=person.pk)
    CalendarFeed.objects.standing().filter(person=person, yard=yard).update(revoked_at=at, revoked_by=by)
    word = secrets.token_urlsafe(WORD_BYTES)
    CalendarFeed.objects.create(person=person, yard=yard, digest=digest_of(word), made_at=at, made_by=by)
    return word


@action
def revoke_calendar_feed(*, feed: CalendarFeed, at: dt.datetime, by: Person) -> bool:
    """Its address stops working at once. False if it was revoked before."""
    return CalendarFeed.objects.standing().filter(pk=feed.pk).update(revoked_at=at, revoked_by=by) > 0


@action
def open_public_page(*, club: Club, at: dt.datetime, by: Person) -> PublicPage:
    """Show the club's published months to people outside; the page that is open, if one is."""
    Club.objects.select_for_update(no_key=True).get(
        pk=club.pk
    )  # two clicks at once: the second finds the first's
    page, _ = PublicPage.objects.get_or_create(
        club=club,
        closed_at=None,
        defaults={"word": secrets.token_urlsafe(WORD_BYTES), "opened_at": at, "opened_by": by},
    )
    return page


@action
def close_public_page(*, club: Club, at: dt.datetime, by: Person) -> bool:
    """Its address shows nothing any more. False if none was open."""
    return PublicPage.objects.filter(club=club, closed_at=None).update(closed_at=at, closed_by=by) > 0


def digest_of(word: str) -> str:
    """What is kept of the word in an address."""
    return sha256(word.encode(errors="replace")).hexdigest()


@action
def stop_mails(*, person: Person, kind: MailKind, by: Person) -> None:
    """Send the person no more mails of this kind; twice is no harm."""
    stop = {
        MailKind.REMINDERS: stop_daily_mail,
        MailKind.CALLS: stop_calls,
        MailKind.BULLETINS: stop_bulletins,
    }[kind]
    stop(person=person, by=by)


@action
def count_by_link(
    *, token: str, entry: Entry, counts: Sequence[NewCount], at: dt.datetime, by: Person
) -> list[MiteSample]:
    """Keep the counts that a link allows: asked again under the recount's lock, so that two sends count once.

    Errors: LinkShut; those of record_samples.
    """
    Recount.objects.select_for_update().get(pk=entry.recount.pk)
    allowed = entry_with(token, at=at)
    if isinstance(allowed, Shut) or not all(_is_allowed(count, allowed) for count in counts):
        raise LinkShut("This link does not allow these counts.")
    return record_samples(counts=counts, at=at, by=by)


@action
def put_off(*, person: Person, matter: Matter, at: dt.datetime, by: Person) -> PutOff:
    """Not now: it leaves the person's list and their mail for three days; a clear date that was seen, for good.

    Errors: NoTimeLeft.
    """
    until = matter.comes_back_on(local_day(at, person.time_zone))
    if matter.kind is MatterKind.CLEAR and matter.course is not None:
        until = days_after(matter.course.over_on, 1)
    if until is None:
        raise NoTimeLeft("It would come back when it is of no use any more.")
    kept, _ = PutOff.objects.update_or_create(
        person=person, subject=matter.subject, defaults={"until": until, "at": at}
    )
    return kept


@action
def bring_back(*, person: Person, subject: str, by: Person) -> bool:
    """Back to the list; False if it was not put off. What was told before is not told again."""
    gone, _ = PutOff.objects.filter(person=person, subject=subject).delete()
    return gone > 0


def _is_allowed(count: NewCount, entry: Entry) -> bool:
    return (
        count.colony in entry.colonies
        and kind_of(count.method) in entry.kinds
        and entry.recount.earliest_on <= count.sampled_on <= entry.today
    )
