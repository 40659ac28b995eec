"""What is cleared away by itself once its time is over, and how: in portions, past what others hold.

Each app lists its own; `reports/sweep.py` goes through all. Facts are in none of these lists: counts, treatments, the
medicine record and the history of changes stay, or go by `apiaries/forgetting` alone.
"""

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass

from django.conf import settings
from django.contrib.sessions.models import Session
from django.core.cache import caches
from django.core.cache.backends.db import DatabaseCache
from django.db import connection, models
from django.db.models import Exists, OuterRef

from apiaries.forgetting.registry import history_of
from apiaries.models import Invitation, Membership, RefusedSignIn, SignIn
from apiaries.models.people import new_token
from apiaries.models.sign_ins import LASTS, RESTS

ADDRESS_DAYS = 90  # our choice: long enough to answer "did you ever write to me?"
NOBODY = "forgotten@forgotten.invalid"  # never delivered to (RFC 2606)


@dataclass(frozen=True)
class Sweep:
    """One kind of thing that goes. `portion(at, most)` clears at most so many and says how many it did."""

    name: str
    what: str
    how_long: str
    why: str
    portion: Callable[[dt.datetime, int], int]


def held(rows: "models.QuerySet[models.Model]", most: int) -> list[int]:
    """Keys of at most so many rows, locked; those that somebody else holds are left for the next time."""
    rows = rows.order_by("pk").select_for_update(of=("self",), skip_locked=True)
    return list(rows.values_list("pk", flat=True)[:most])


def sessions(at: dt.datetime, most: int) -> int:
    keys = held(Session.objects.filter(expire_date__lt=at), most)
    Session.objects.filter(pk__in=keys).delete()
    return len(keys)


def sign_ins_over(at: dt.datetime, most: int) -> int:
    """Their sessions: who comes with one is turned away anyhow, but would read in their list that it holds."""
    keys = held(SignIn.objects.over(at).open(at), most)
    Session.objects.filter(pk__in=SignIn.objects.filter(pk__in=keys).values("session_key")).delete()
    return len(keys)


def sign_ins(at: dt.datetime, most: int) -> int:
    keys = held(SignIn.objects.filter(signed_in_at__lte=at - LASTS), most)
    of_these = SignIn.objects.filter(pk__in=keys)
    Session.objects.filter(pk__in=of_these.values("session_key")).delete()
    of_these.delete()
    return len(keys)


def refused_sign_ins(at: dt.datetime, most: int) -> int:
    keys = held(RefusedSignIn.objects.filter(at__lte=at - LASTS), most)
    RefusedSignIn.objects.filter(pk__in=keys).delete()
    return len(keys)


def cached(at: dt.datetime, most: int) -> int:
    """Of the cache that is a table; another kind of cache clears itself."""
    if not isinstance(caches["default"], DatabaseCache):
        return 0
    table = connection.ops.quote_name(str(settings.CACHES["default"]["LOCATION"]))
    with connection.cursor() as cursor:
        cursor.execute(
            f"DELETE FROM {table} WHERE cache_key IN (SELECT cache_key FROM {table} WHERE expires < %s "  # noqa: S608
            "LIMIT %s FOR UPDATE SKIP LOCKED)",
            [at, most],
        )
        return cursor.rowcount


def invitations_of_those_who_left(at: dt.datetime, most: int) -> int:
    """Who was put out of a club does not come back by an invitation from before."""
    since = Membership.objects.filter(
        club=OuterRef("club"), person__email=OuterRef("email"), ended_at__gte=OuterRef("invited_at")
    )
    waiting = Invitation.objects.filter(accepted_at=None, withdrawn_at=None, expires_at__gt=at)
    keys = held(waiting.filter(Exists(since)), most)
    Invitation.objects.filter(pk__in=keys).update(expires_at=at)
    return len(keys)


def addresses_of_invitations(at: dt.datetime, most: int) -> int:
    """Of people who never came: in the invitation and in its history. That there was one stays."""
    over = Invitation.objects.filter(accepted_at=None, expires_at__lt=at - dt.timedelta(days=ADDRESS_DAYS))
    keys = held(over.exclude(email=NOBODY), most)
    for key in keys:
        Invitation.objects.filter(pk=key).update(email=NOBODY, token=new_token())
    for history in history_of(Invitation):
        history._default_manager.filter(pgh_obj__in=keys).update(email=NOBODY, token="")
    return len(keys)


SWEEPS = (
    Sweep(
        "sessions",
        "Sessions, with half-finished sign-ins and their mailed codes in them",
        "until they run out",
        "Nobody can use them any more; they hold keys of people.",
        sessions,
    ),
    Sweep(
        "sign-ins-over",
        "Sessions of people",
        f"{LASTS.days} days from the sign-in on, used or not; of coordinators, inspectors, administrators and "
        f"operators {RESTS.days} days after they were last used, too",
        "Whoever finds a phone finds it signed in no longer than that.",
        sign_ins_over,
    ),
    Sweep(
        "sign-ins",
        "Who signed in when, from a phone or a computer, and in which hour that was last used",
        f"{LASTS.days} days, as long as a sign-in can last",
        "The person sees where they are signed in, and ends what is not theirs.",
        sign_ins,
    ),
    Sweep(
        "refused-sign-ins",
        "Refused passwords and codes: when, from a phone or a computer, and a mark of the address that was typed",
        f"{LASTS.days} days",
        "The person sees that somebody tries.",
        refused_sign_ins,
    ),
    Sweep(
        "cache",
        "Counters of the limits on sign-in, drawings, and yards' pages as drawn, in the table that serves as a cache",
        "until they run out, pages after ten minutes",
        "They count for their time only. With `CACHE_URL`, Redis clears its own.",
        cached,
    ),
    Sweep(
        "invitations-of-those-who-left",
        "Open invitations to somebody whose membership ended after they were sent",
        "at once: they run out",
        "Who was put out does not come back by an old mail.",
        invitations_of_those_who_left,
    ),
    Sweep(
        "addresses-of-invitations",
        "The address in an invitation that nobody accepted, in its history too",
        f"{ADDRESS_DAYS} days after it ran out",
        "The address of somebody who never came. That there was an invitation stays.",
        addresses_of_invitations,
    ),
)
