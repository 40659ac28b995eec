"""What is cleared away of mails and returned files, and what ends on its day (see apiaries/sweeping.py)."""

import datetime as dt

from apiaries.forgetting.registry import history_of
from apiaries.leaving_sweep import forget_due
from apiaries.sweeping import Sweep, held
from reports.export.actions import KEPT_FOR
from reports.models import Digest, DigestAttempt, DigestState, Notice, ReturnedFile
from treatments.locking import let_go

MAIL_DAYS = 400  # our choice: a whole season can be asked about, and no reminder looks back as far


def returned_files(at: dt.datetime, most: int) -> int:
    keys = held(ReturnedFile.objects.filter(brought_at=None, sent_at__lt=at - KEPT_FOR), most)
    ReturnedFile.objects.filter(pk__in=keys).delete()
    return len(keys)


def mails(at: dt.datetime, most: int) -> int:
    """A day's mail that left, or never will, with its tries and what it told."""
    over = Digest.objects.exclude(state=DigestState.PENDING)
    keys = held(over.filter(on__lt=(at - dt.timedelta(days=MAIL_DAYS)).date()), most)
    told = list(Notice.objects.filter(digest__in=keys).values_list("pk", flat=True))
    DigestAttempt.objects.filter(digest__in=keys).delete()
    Notice.objects.filter(pk__in=told).delete()
    for history in history_of(Notice):  # with what the line above added to it
        history._default_manager.filter(pgh_obj__in=told).delete()
    Digest.objects.filter(pk__in=keys).delete()
    return len(keys)


def people(at: dt.datetime, most: int) -> int:
    return forget_due(at=at)


def locked_records(at: dt.datetime, most: int) -> int:
    return let_go(at=at)


SWEEPS = (
    Sweep(
        "returned-files",
        "An export that somebody sent back and did not decide about",
        f"{KEPT_FOR.days} day",
        "They can send it again. Of one that was brought in no byte is kept.",
        returned_files,
    ),
    Sweep(
        "mails",
        "Mails that left or were given up: when, to whom, about what, each try with the mail server's answer; "
        "never their text, which is written when they leave",
        f"{MAIL_DAYS} days after their day",
        "Somebody asks why no reminder came; a whole season back. Waiting ones stay until they leave or are given up.",
        mails,
    ),
    Sweep(
        "people",
        "Everything of a person that goes when they are forgotten",
        "until the days are over in which they can call it off",
        "[What stays when somebody is forgotten](../explanation/what-stays.md).",
        people,
    ),
    Sweep(
        "locked-records",
        "Medicine records of somebody who was forgotten, under lock",
        "until the term of [their country's rule](medicine-record.md) is over everywhere on earth",
        "The law has them kept so long, and nothing else does.",
        locked_records,
    ),
)
