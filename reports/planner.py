"""Fills the outbox: one row for every notice that is owed, in the mail of the person's day.

May run at any time, twice, and in several processes: the key of a notice comes from the facts.
"""

import datetime as dt
import logging
from collections import defaultdict

from django.db import transaction

from apiaries.models import Person
from reports.clock_ahead import forget_waits_from_ahead
from reports.digests import add_digest
from reports.due_days import local_day
from reports.models import Digest, DigestState, Heartbeat, Notice
from reports.owed import Owed, owed_notices

logger = logging.getLogger(__name__)
PLANNER, PAUSED = "planner", "paused"


def plan_notices(*, at: dt.datetime) -> int:
    """Plan everything owed that is not planned yet; how many notices that were.

    What a standstill left behind comes into one mail per person, which says that it is late. A person whose notices
    cannot be planned keeps nobody else waiting; the run then does not count as one, and the health page turns red.
    """
    forget_waits_from_ahead(at=at)
    by_person: dict[int, list[Owed]] = defaultdict(list)
    for owed in unplanned(owed_notices(at=at)):
        by_person[owed.person.pk].append(owed)
    before = last_run()
    planned = [_planned(owed, at=at, before=before) for _, owed in sorted(by_person.items())]
    if None not in planned:
        _beat(at)
    return sum(filter(None, planned))


def last_run() -> dt.datetime | None:
    """When everything owed was planned last; None before the first time."""
    return Heartbeat.objects.filter(name=PLANNER).values_list("at", flat=True).first()


def last_tick() -> dt.datetime | None:
    """The same, or when a worker last came to plan and found sending paused: either way it is not deaf."""
    ticks = Heartbeat.objects.filter(name__in=[PLANNER, PAUSED]).order_by("-at")
    return ticks.values_list("at", flat=True).first()


def found_paused(*, at: dt.datetime) -> None:
    """Nothing was planned, on purpose: that is no run, as what falls due meanwhile is late once it goes on."""
    _beat(at, PAUSED)


def _beat(at: dt.datetime, name: str = PLANNER) -> None:
    """Only ever forward: a clock that was set back does not undo what was done."""
    if not Heartbeat.objects.filter(name=name, at__lt=at).update(at=at):
        Heartbeat.objects.bulk_create([Heartbeat(name=name, at=at)], ignore_conflicts=True)


def _planned(owed: list[Owed], *, at: dt.datetime, before: dt.datetime | None) -> int | None:
    """How many notices of one person were planned; None if that cannot be done."""
    person = owed[0].person
    try:
        return _plan(person, owed, at=at, before=before)
    except Exception:  # whatever is wrong with one person's notices must not stop the others'
        logger.exception("notices of person %s cannot be planned", person.pk)
        return None


def unplanned(owed: list[Owed]) -> list[Owed]:
    """Those that are not in the outbox."""
    subjects = {one.subject for one in owed}
    known = set(Notice.objects.filter(subject__in=subjects).values_list("person_id", "kind", "subject", "on"))
    return [one for one in owed if one.key not in known]


@transaction.atomic
def _plan(person: Person, owed: list[Owed], *, at: dt.datetime, before: dt.datetime | None) -> int:
    # One planner at a time: another with the same list finds it planned, and adds no second, empty mail.
    Person.objects.select_for_update(no_key=True).get(pk=person.pk)
    owed = unplanned(owed)
    if not owed:
        return 0
    digest = open_digest(person, at=at, useless_after=max(one.useless_after for one in owed))
    if digest is None:
        return 0
    Notice.objects.bulk_create(
        [
            Notice(
                person=person,
                kind=one.kind,
                subject=one.subject,
                on=one.due.on,
                planned_at=at,
                digest=digest,
                caught_up=_is_caught_up(one, at=at, before=before),
            )
            for one in owed
        ],
        ignore_conflicts=True,
    )
    return len(owed)


def _is_caught_up(owed: Owed, *, at: dt.datetime, before: dt.datetime | None) -> bool:
    """Whether it could have been planned on its day, had anything run from that day on.

    What a run on its day or later did not plan was not owed then: it is no later than it can be.
    """
    zone = owed.person.time_zone
    return owed.due.on < local_day(at, zone) and (before is None or local_day(before, zone) < owed.due.on)


def open_digest(person: Person, *, at: dt.datetime, useless_after: dt.datetime) -> Digest | None:
    """The person's waiting mail, locked so that nobody sends it meanwhile; a new one if there is none.

    None while a sender holds it: the next run finds it sent, and goes on with another day.
    """
    waiting = Digest.objects.filter(person=person, state=DigestState.PENDING)
    if not waiting.exists():
        add_digest(person, at=at, useless_after=useless_after)
    digest = waiting.select_for_update(skip_locked=True).order_by("on").first()
    if digest is not None and digest.useless_after < useless_after:
        digest.useless_after = useless_after
        digest.save(update_fields=["useless_after"])
    return digest
