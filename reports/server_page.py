"""How this server stands, for whoever runs it: mails, work, sheets, backups, versions. Nothing of any club."""

import datetime as dt
import platform
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, version

import django
from django.db import connection
from django.db.migrations.recorder import MigrationRecorder

from apiaries.language import mark, say
from reports.models import WorkDone
from reports.work import WORK, Standing, standings

MOST_HOSTS = 20
OURS = ("apiaries", "counts", "treatments", "reports")
REASON_WORDS = {
    "refused": mark("refused for good by a mail server"),
    "failed": mark("could not be written"),
    "expired": mark("could not leave before what they tell was of no use"),
    "other": mark("for another reason"),
}


@dataclass(frozen=True)
class WorkRow:
    """One kind of work, over all hosts."""

    words: str
    state: str
    """`done`, `late` or `none`: where nothing is late and it was never done."""
    standing: Standing


@dataclass(frozen=True)
class HostWork:
    """What one host did last, of one kind."""

    words: str
    row: WorkDone


@dataclass(frozen=True)
class Host:
    """One machine or container, the one that worked last first."""

    name: str
    works: list[HostWork]
    last: dt.datetime


def work_rows(*, at: dt.datetime) -> list[WorkRow]:
    """In the order of their importance; verified medicine records have a place of their own."""
    rows = [one for one in standings(at=at) if one.work != "medicine_chains"]
    return [WorkRow(say(WORK[one.work].words), _state(one), one) for one in rows]


def _state(one: Standing) -> str:
    if one.late:
        return "late"
    return "done" if one.done_at is not None else "none"


def hosts() -> tuple[list[Host], int]:
    """Those that worked last, and how many more there are; in one query."""
    by_host: dict[str, list[HostWork]] = {}
    for row in WorkDone.objects.filter(work__in=WORK).order_by("-at", "work"):
        by_host.setdefault(row.host, []).append(HostWork(say(WORK[row.work].words), row))
    found = [Host(name, works, works[0].row.at) for name, works in by_host.items()]
    return found[:MOST_HOSTS], max(0, len(found) - MOST_HOSTS)


def chains_verified() -> WorkDone | None:
    """The last run of verify_medicine_records, on whichever host."""
    return WorkDone.objects.filter(work="medicine_chains").order_by("-at").first()


def reasons(given_up: dict[str, int]) -> list[tuple[str, int]]:
    """Why mails were given up, in words; those that happened."""
    return [(say(words), given_up[name]) for name, words in REASON_WORDS.items() if given_up[name]]


def versions() -> list[tuple[str, str]]:
    """Of the program and what it stands on."""
    last = MigrationRecorder.Migration.objects.filter(app__in=OURS).order_by("-applied", "-pk").first()
    number = int(getattr(connection, "pg_version", 0))
    return [
        ("Recount", _program()),
        ("Python", platform.python_version()),
        ("Django", django.get_version()),
        ("PostgreSQL", f"{number // 10_000}.{number % 10_000}"),
        (say(mark("Last migration")), f"{last.app}.{last.name}" if last is not None else "–"),
    ]


def _program() -> str:
    try:
        return version("recount")
    except PackageNotFoundError:  # run from a checkout that was never installed
        return "–"
