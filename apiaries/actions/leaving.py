"""Leaving and being forgotten: the wish, its calling off, and the erasure once the days in between are over."""

import datetime as dt

from apiaries.actions.people import LastAdministrator
from apiaries.forgetting.erasing import erase
from apiaries.forgetting.wiping import Tally
from apiaries.history import action
from apiaries.mail import leaving_mail
from apiaries.models import Club, How, Leaving, NoticeKind, Person
from apiaries.notices import keep
from apiaries.permissions import Role
from apiaries.second_lock import by_the_service

COOL_OFF = dt.timedelta(days=7)
"""Days in which a wish can be called off: long enough to come back from a day of anger or a stolen password, and well
within the month that the law gives (GDPR Art. 12(3), from memory). Our choice."""
LOOK_AGAIN = dt.timedelta(hours=1)
"""After so long no request that had begun before is still writing."""


class NotOpen(ValueError):
    """The wish was called off or done before."""


class Rehearsed(Exception):
    """Ends a rehearsal: everything was done and is undone. `tally` says how much it was."""

    def __init__(self, tally: Tally) -> None:
        super().__init__("a rehearsal")
        self.tally = tally


@action
def ask_to_leave(
    *, person: Person, how: How, at: dt.datetime, now: bool = False, by: Person | None
) -> Leaving:
    """Keep the wish; a second one while the first is open changes nothing. With `now` its days are over at once.

    Errors: LastAdministrator.
    """
    _keep_an_administrator(person)
    # Two sends of one form: the second waits here and finds the first.
    Person.objects.select_for_update(no_key=True).get(pk=person.pk)
    standing: Leaving | None = person.leavings.open().first()
    if standing is not None:
        if now and standing.due_at > at:
            standing.due_at = max(at, standing.asked_at)
            standing.save(update_fields=["due_at"])
        return standing
    leaving = Leaving(person=person, how=how, asked_at=at, asked_by=by, due_at=at if now else at + COOL_OFF)
    leaving.full_clean()
    leaving.save()
    if not now:
        keep(leaving_mail(leaving), kind=NoticeKind.LEAVING, person=person, at=at)
    return leaving


@action
def call_off_leaving(*, leaving: Leaving, at: dt.datetime, by: Person) -> Leaving:
    """The person stays. Errors: NotOpen."""
    locked = Leaving.objects.select_for_update().get(pk=leaving.pk)
    if locked.called_off_at is not None or locked.done_at is not None:
        raise NotOpen("This wish was called off or done before.")
    locked.called_off_at, locked.called_off_by = at, by
    locked.save(update_fields=["called_off_at", "called_off_by"])
    return locked


@action
@by_the_service  # histories and others' words too, and what goes under lock
def forget_person(*, leaving: Leaving, at: dt.datetime, by: Person | None = None) -> Tally:
    """Erase what is to be erased, in one transaction; how many rows of which table.

    Errors: NotOpen; LastAdministrator; JournalUnwritable.
    """
    locked = Leaving.objects.select_for_update().select_related("person").get(pk=leaving.pk)
    if locked.called_off_at is not None or locked.done_at is not None:
        raise NotOpen("This wish was called off or done before.")
    _keep_an_administrator(locked.person)
    locked.done_at = at
    locked.save(update_fields=["done_at"])
    return erase(locked.person, at=at, by=by)


@action
def rehearse_forgetting(*, person: Person, at: dt.datetime, by: Person | None) -> None:
    """Do it all and undo it. Always ends with an error: Rehearsed, which says what it came to; LastAdministrator."""
    _keep_an_administrator(person)
    raise Rehearsed(erase(person, at=at, by=by, rehearse=True))


@action
def forget_again(*, person: Person, at: dt.datetime, by: Person | None = None) -> Tally:
    """After a restore: the person was forgotten on that day, and a backup brought them back.

    No wish is asked for, nor whether an administrator is left: it was done once.
    """
    Leaving.objects.filter(person=person, called_off_at=None, done_at=None).update(done_at=at)
    return erase(person, at=at, by=by, known=True)


@action
def look_once_more(*, leaving: Leaving, at: dt.datetime, by: Person | None = None) -> Tally:
    """Once more for somebody who is forgotten: a request that had begun before may have written after."""
    leaving.looked_again_at = at
    leaving.save(update_fields=["looked_again_at"])
    return erase(leaving.person, at=at, by=by)


def due_leavings(*, at: dt.datetime) -> list[Leaving]:
    """Wishes whose days are over."""
    return list(Leaving.objects.due(at).select_related("person"))


def unlooked(*, at: dt.datetime) -> list[Leaving]:
    """Those done a while ago that nobody has looked at again."""
    done = Leaving.objects.filter(done_at__lte=at - LOOK_AGAIN, looked_again_at=None)
    return list(done.select_related("person"))


def is_last_administrator(person: Person) -> bool:
    """Whether the club would be left without an administrator who stays. Only to say so beforehand."""
    membership = person.memberships.current().first()
    if membership is None or membership.role != Role.ADMINISTRATOR:
        return False
    others = membership.club.memberships.current().filter(role=Role.ADMINISTRATOR, person__is_active=True)
    leaving = Leaving.objects.open().values("person")
    return not others.exclude(person=person).exclude(person__in=leaving).exists()


def _keep_an_administrator(person: Person) -> None:
    """Errors: LastAdministrator, which names the club."""
    membership = person.memberships.current().first()
    if membership is None:
        return
    # Two administrators who leave at the same moment wait for each other here.
    club = Club.objects.select_for_update().get(pk=membership.club_id)
    if is_last_administrator(person):
        raise LastAdministrator(str(club))
