"""The only writers of bulletins. Callers have passed a gate first; drafts are also made by the schedule."""

import datetime as dt
import hashlib
import logging

from django.conf import settings
from django.db import IntegrityError, transaction
from django.db.models import Max
from django.utils.translation import override

from apiaries.history import action
from apiaries.models import Club, Person
from apiaries.zones import zone_of
from reports.bulletin_figures import MonthFigures
from reports.bulletin_making import figures_of
from reports.bulletin_words import paragraphs
from reports.models import Bulletin, Publication, RegionMonth
from reports.publishing import last_due, published_on

logger = logging.getLogger(__name__)


class NotPublished(ValueError):
    """The month is not published: its figures still move."""


class AlreadyThere(ValueError):
    """The month has a bulletin that was not withdrawn."""


class AlreadyIssued(ValueError):
    """It is issued: nothing of it changes any more."""


class ChangedMeanwhile(ValueError):
    """Its foreword is not the one that was looked at."""


class NotIssued(ValueError):
    """A draft cannot be withdrawn: nobody has read it."""


class AlreadyWithdrawn(ValueError):
    """It was withdrawn before."""


@action
def make_bulletin(*, club: Club, month: dt.date, at: dt.datetime, by: Person | None) -> Bulletin:
    """A draft for a published month, written from its figures; `by` is None where nobody asked.

    Errors: NotPublished, AlreadyThere.
    """
    if not Publication.objects.filter(club=club, month=month).exists():
        raise NotPublished("This month is not published.")
    figures = figures_of(club, month, at=at)
    bulletin = Bulletin(
        club=club,
        month=month,
        words=_words(figures),
        figures=figures.as_kept(),
        made_at=at,
        made_by=by,
    )
    try:
        with transaction.atomic():
            bulletin.save()
    except IntegrityError as error:
        if "reports_bulletin_one_a_month" in str(error):
            raise AlreadyThere("This month has a bulletin.") from error
        raise
    return bulletin


def _words(figures: MonthFigures) -> dict[str, list[list[str]]]:
    """The text in every language: who issues it and who reads it need not speak the same, and it never changes."""
    told = {}
    for language, _ in settings.LANGUAGES:
        with override(language):
            told[language] = [[one.title, one.text] for one in paragraphs(figures)]
    return told


def draft_due(*, at: dt.datetime) -> int:
    """A draft for every club's newest published month in which anybody counted and that never had one; how many.

    Asked often: without anything new it costs two queries. A club that fails keeps no other waiting.
    """
    newest = dict(Publication.objects.order_by().values_list("club").annotate(Max("month")))
    had = set(Bulletin.objects.filter(month__in=newest.values()).values_list("club", "month"))
    wanted = [club for club, month in newest.items() if (club, month) not in had]
    return sum(
        _draft(club, newest[club.pk], at) for club in Club.objects.filter(pk__in=wanted).order_by("pk")
    )


def _draft(club: Club, month: dt.date, at: dt.datetime) -> bool:
    published = RegionMonth.objects.filter(region__club=club, month=month, frozen_at__isnull=False)
    if not published.exists():
        return False
    try:
        make_bulletin(club=club, month=month, at=at, by=None)
    except AlreadyThere:  # another process, or a coordinator, a moment ago
        return False
    except Exception:
        logger.exception("bulletin of club %s for %s cannot be drafted", club.pk, month)
        return False
    return True


@action
def set_foreword(*, bulletin: Bulletin, foreword: str, seen: str, at: dt.datetime, by: Person) -> Bulletin:
    """The words of the club itself, before those written by rules. `seen`: mark of the foreword that was looked at.

    Errors: AlreadyIssued, ChangedMeanwhile.
    """
    locked = _locked_draft(bulletin, seen)
    locked.foreword = foreword.strip()
    locked.save(update_fields=["foreword"])
    return locked


@action
def issue_bulletin(*, bulletin: Bulletin, seen: str, at: dt.datetime, by: Person) -> Bulletin:
    """All members may read it from now on, and nothing of it changes. Errors: AlreadyIssued, ChangedMeanwhile."""
    locked = _locked_draft(bulletin, seen)
    locked.issued_at, locked.issued_by = at, by
    locked.save(update_fields=["issued_at", "issued_by"])
    return locked


@action
def withdraw_bulletin(*, bulletin: Bulletin, why: str, at: dt.datetime, by: Person) -> Bulletin:
    """It stays in the archive, struck through, with who and why. Errors: NotIssued, AlreadyWithdrawn."""
    locked = Bulletin.objects.select_for_update(of=("self",)).get(pk=bulletin.pk)
    if locked.issued_at is None:
        raise NotIssued("A draft cannot be withdrawn.")
    if locked.withdrawn_at is not None:
        raise AlreadyWithdrawn("It was withdrawn before.")
    locked.withdrawn_at, locked.withdrawn_by, locked.withdrawn_why = at, by, why.strip()
    locked.save(update_fields=["withdrawn_at", "withdrawn_by", "withdrawn_why"])
    return locked


def months_without(club: Club) -> list[dt.date]:
    """Published months that have no bulletin, or a withdrawn one alone; the newest first."""
    had = Bulletin.objects.filter(club=club, withdrawn_at=None).values("month")
    months = Publication.objects.filter(club=club).exclude(month__in=had)
    return list(months.order_by("-month").values_list("month", flat=True))


def months_coming(club: Club, *, at: dt.datetime) -> list[tuple[dt.date, dt.date]]:
    """Months up to the present one that are not published yet, the newest first, each with the day it will be."""
    month, found = at.astimezone(zone_of(club.time_zone)).date().replace(day=1), []
    while month > last_due(club, at):
        found.append((month, published_on(month)))
        month = (month - dt.timedelta(days=1)).replace(day=1)
    return found


def mark_of(bulletin: Bulletin) -> str:
    """Changes with the foreword: a form tells by it which one was looked at."""
    return hashlib.sha256(bulletin.foreword.encode()).hexdigest()[:16]


def _locked_draft(bulletin: Bulletin, seen: str) -> Bulletin:
    locked = Bulletin.objects.select_for_update(of=("self",)).get(pk=bulletin.pk)
    if locked.issued_at is not None:
        raise AlreadyIssued("It is issued.")
    if mark_of(locked) != seen:
        raise ChangedMeanwhile("Its foreword was changed meanwhile.")
    return locked
