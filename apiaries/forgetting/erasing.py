"""Forgets one person: what must be kept goes under lock, all else is emptied, replaced or removed; all or nothing."""

import datetime as dt
import json
from pathlib import Path

from django.conf import settings
from django.contrib.sessions.models import Session
from django.core.cache import cache
from django.db import transaction
from django.db.models import F, Q, Value
from django.db.models.functions import Greatest

from apiaries.forgetting import journal
from apiaries.forgetting.registry import first_steps, history_of
from apiaries.forgetting.wiping import Tally, Traces, traces_of, wipe
from apiaries.models import Colony, Invitation, Membership, Person, RefusedSignIn, Yard, YardHelper
from apiaries.models.people import new_token
from apiaries.models.places import new_label_code
from apiaries.sign_in_log import mark_of

SESSIONS_AT_ONCE = 500


def erase(
    person: Person, *, at: dt.datetime, by: Person | None, rehearse: bool = False, known: bool = False
) -> Tally:
    """All of it, for the actions: they hold the transaction. Twice changes nothing more.

    `by` stays beside what ended; the person themselves where nobody else did it. Nothing outside the database is
    touched in a rehearsal, and nothing is written to the journal where it is `known` there. Errors: JournalUnwritable.
    """
    who = by or person
    # Yards before people, as everywhere: whoever is counting there waits, and finds the yard closed.
    Yard.objects.hold(Yard.objects.filter(keeper=person).values_list("pk", flat=True))
    locked = Person.objects.select_for_update().get(pk=person.pk)
    traces = traces_of(locked)
    if locked.forgotten_at is None:
        for step in first_steps:
            step(locked, at)
    _leave(locked, at, who)
    _close_invitations(locked, traces)
    _close_yards(locked, at)
    _sign_out(locked, traces)
    tally = wipe(locked, traces)
    _number_colonies(locked)
    if rehearse:
        return +tally
    _forget_files(traces)
    cache.clear()  # drawings hold names of yards; limits on guessing begin anew for everybody, once
    if locked.forgotten_at is None:
        Person.objects.filter(pk=locked.pk).update(forgotten_at=at)
        # Last of all: an erasure that is written down and then undone is done again, never the other way round.
        if not known:
            journal.append(locked, at=at)
    transaction.on_commit(cache.clear)  # a reader may have put something back meanwhile
    return +tally


def _leave(person: Person, at: dt.datetime, by: Person) -> None:
    """Out of the club, out of others' yards, and others out of theirs."""
    Membership.objects.filter(person=person, ended_at=None).update(ended_at=at, ended_by=by)
    Membership.objects.filter(person=person, shares_counts=True).update(shares_counts=False)
    helping = YardHelper.objects.filter(Q(person=person) | Q(yard__keeper=person), ended_at=None)
    YardHelper.objects.filter(pk__in=list(helping.values_list("pk", flat=True))).update(
        ended_at=at, ended_by=by
    )


def _close_invitations(person: Person, traces: Traces) -> None:
    """Those to their addresses lead nowhere any more; those they sent to others stay the club's."""
    theirs = Q(email__in=traces.addresses) | Q(accepted_by=person)
    for invitation in Invitation.objects.filter(theirs):
        Invitation.objects.filter(pk=invitation.pk).update(token=new_token(), expires_at=F("invited_at"))
        for history in history_of(Invitation):
            history._default_manager.filter(pgh_obj=invitation.pk).update(token="")


def _close_yards(person: Person, at: dt.datetime) -> None:
    """Closed with the colonies in them: nobody is asked for counts there. What was counted stays."""
    today = at.date()
    Yard.objects.filter(keeper=person, closed_on=None).update(closed_on=today)
    living = Colony.objects.filter(yard__keeper=person, ended_on=None)
    Colony.objects.filter(pk__in=list(living.values_list("pk", flat=True))).update(
        ended_on=Greatest(F("started_on"), Value(today)), ended_why=""
    )


def _number_colonies(person: Person) -> None:
    """1, 2, 3 … in each yard, whatever they were called, and labels that lead nowhere."""
    number: dict[int, int] = {}
    colonies = list(Colony.objects.filter(yard__keeper=person).order_by("yard", "pk"))
    for colony in colonies:
        number[colony.yard_id] = number.get(colony.yard_id, 0) + 1
        colony.number, colony.name = number[colony.yard_id], str(number[colony.yard_id])
        if person.forgotten_at is None:
            colony.label_code = new_label_code()
    Colony.objects.bulk_update(colonies, ["name", "number", "label_code"], batch_size=500)
    for history in history_of(Colony):
        history._default_manager.filter(pgh_obj__in=[colony.pk for colony in colonies]).update(
            name="colony", number=None, label_code=""
        )


def _sign_out(person: Person, traces: Traces) -> None:
    """Everywhere, and half-way through signing in too; no way to sign in is left."""
    for session in Session.objects.iterator(chunk_size=SESSIONS_AT_ONCE):
        told = session.get_decoded()
        text = json.dumps(told, default=str, ensure_ascii=False)
        if told.get("_auth_user_id") == str(person.pk) or traces.address_in(text):
            session.delete()
    RefusedSignIn.objects.filter(mark__in=map(mark_of, traces.addresses)).delete()
    person.set_unusable_password()
    Person.objects.filter(pk=person.pk).update(
        password=person.password,
        last_login=None,
        is_active=False,
        is_operator=False,
        wants_mail=False,
        wants_calls=False,
        wants_bulletins=False,
    )


def _forget_files(traces: Traces) -> None:
    """Mails that were written to files, where no mail server is set."""
    folder = getattr(settings, "EMAIL_FILE_PATH", None)
    if not folder or not settings.EMAIL_BACKEND.endswith("filebased.EmailBackend"):
        return
    for path in Path(folder).glob("*.log"):
        if traces.address_in(path.read_bytes().decode(errors="replace")):
            path.unlink(missing_ok=True)
