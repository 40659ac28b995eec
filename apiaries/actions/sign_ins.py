"""Sign-ins: noted when they begin and while they are used, ended by their person or because something changed."""

import datetime as dt

from django.contrib.sessions.models import Session
from django.db import transaction
from django.db.models import Exists, OuterRef

from apiaries.history import action
from apiaries.mail import signed_out_mail
from apiaries.models import DeviceKind, Membership, NoticeKind, Person, RefusedSignIn, SignIn
from apiaries.models.sign_ins import sessions_that_hold
from apiaries.notices import keep


class NotTheirOwn(ValueError):
    """One by one, sign-ins are ended by their person only."""


class NotOthers(ValueError):
    """What is done to others was asked for oneself."""


def note_sign_in(*, person: Person, session_key: str, device: DeviceKind, at: dt.datetime) -> SignIn:
    """That a browser is signed in, with this session; the row that is there already where it was noted before."""
    facts = {"person": person, "device": device, "signed_in_at": at, "last_seen_at": at}
    return SignIn.objects.get_or_create(session_key=session_key, defaults=facts)[0]


def hour_of(at: dt.datetime) -> dt.datetime:
    """When its hour began: finer than that nobody's use of a sign-in is kept."""
    return at.replace(minute=0, second=0, microsecond=0)


def note_seen(*, session_key: str, at: dt.datetime) -> None:
    """Keep in which hour it was last used: one write an hour, and nothing that tells when somebody sleeps."""
    hour = hour_of(at)
    SignIn.objects.filter(session_key=session_key, last_seen_at__lt=hour).update(last_seen_at=hour)


def note_new_key(*, sign_in: int, session_key: str) -> None:
    """The same sign-in goes on under another key, as after a new password. The one of before is worth nothing.

    Two requests at once make two keys: the later one holds.
    """
    with transaction.atomic():
        row = SignIn.objects.select_for_update().filter(pk=sign_in).exclude(session_key=session_key).first()
        if row is not None:
            Session.objects.filter(session_key=row.session_key).delete()
            row.session_key = session_key
            row.save(update_fields=["session_key"])


def note_refused(*, mark: str, device: DeviceKind, at: dt.datetime) -> None:
    """That a password or a code was wrong."""
    RefusedSignIn.objects.create(mark=mark, device=device, at=at)


@action
def end_sign_in(*, sign_in: SignIn, at: dt.datetime, by: Person) -> bool:
    """It is a stranger's from its next request on, at every process. False if it was over before."""
    if by.pk != sign_in.person_id:
        raise NotTheirOwn("Nobody ends a sign-in of somebody else.")
    gone, _ = sessions_that_hold(at).filter(pk=sign_in.session_key).delete()
    return gone > 0


@action
def end_other_sign_ins(*, person: Person, keep: str | None, at: dt.datetime, by: Person) -> int:
    """All but the one with this session; how many there were."""
    if by.pk != person.pk:
        raise NotTheirOwn("Nobody ends a sign-in of somebody else.")
    return close_sessions(person, at=at, but=keep)


@action
def end_all_sign_ins(*, member: Membership, at: dt.datetime, by: Person) -> int:
    """An administrator signs a member of the club out everywhere; how many that were. They are told, if any.

    Callers have passed a gate first. Tokens of programs stay. Errors: NotOthers for one's own.
    """
    if by.pk == member.person_id:
        raise NotOthers("One's own sign-ins are ended on their own page, which keeps the one in use.")
    ended = close_sessions(member.person, at=at)
    if ended:
        keep(signed_out_mail(member, by=by), kind=NoticeKind.SIGNED_OUT, person=member.person, at=at)
    return ended


def close_sessions(person: Person, *, at: dt.datetime, but: str | None = None) -> int:
    """Close every sign-in of the person, all but one where it is named; how many there were.

    Those that no row tells of are looked into: sessions from before sign-ins were noted, and half-finished ones.
    """
    open_now = sessions_that_hold(at).exclude(pk=but)
    noted = Exists(SignIn.objects.filter(session_key=OuterRef("pk")))
    theirs = list(open_now.filter(pk__in=person.sign_ins.values("session_key")).values_list("pk", flat=True))
    theirs += [
        session.pk
        for session in open_now.filter(~noted).iterator()
        if session.get_decoded().get("_auth_user_id") == str(person.pk)
    ]
    Session.objects.filter(pk__in=theirs).delete()
    return len(theirs)
