"""What people may change about what is sent to them."""

import datetime as dt
import secrets
from hashlib import sha256

from apiaries.history import action
from apiaries.models import Person, Yard
from reports.models import CalendarFeed, Suspension

WORD_BYTES = 24  # 192 random bits: our choice, as in an invitation's link


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


def digest_of(word: str) -> str:
    """What is kept of the word in an address."""
    return sha256(word.encode(errors="replace")).hexdigest()
