"""What goes out to people: region figures, the outbox of mails, calendar feeds."""

from reports.models.bulletins import FOREWORD_MOST, Bulletin, BulletinQuerySet
from reports.models.feeds import CalendarFeed, CalendarFeedQuerySet
from reports.models.figures import (
    AreaMonth,
    BroodSeen,
    Publication,
    RegionEdition,
    RegionMonth,
    RegionMonthMark,
    YardMonth,
)
from reports.models.keeping import WHY_NOT_MOST, BackupRun, SendingPause
from reports.models.mails import (
    NEWS,
    Digest,
    DigestAttempt,
    DigestState,
    Heartbeat,
    MailOutage,
    Notice,
    NoticeKind,
    PutOff,
    Suspension,
)
from reports.models.outside import PublicPage
from reports.models.returned import ReturnedFile
from reports.models.work import WorkDone

__all__ = [
    "NEWS",
    "AreaMonth",
    "BackupRun",
    "FOREWORD_MOST",
    "BroodSeen",
    "Bulletin",
    "BulletinQuerySet",
    "CalendarFeed",
    "CalendarFeedQuerySet",
    "Digest",
    "DigestAttempt",
    "DigestState",
    "Heartbeat",
    "MailOutage",
    "Notice",
    "NoticeKind",
    "PublicPage",
    "Publication",
    "PutOff",
    "RegionEdition",
    "RegionMonth",
    "RegionMonthMark",
    "ReturnedFile",
    "SendingPause",
    "Suspension",
    "WHY_NOT_MOST",
    "WorkDone",
    "YardMonth",
]
