"""Fills the outbox: one row for every notice that is owed, in the mail of the person's day.

May run at any time, twice, and in several processes: the key of a notice comes from the facts.
"""

import datetime as dt
from collections import defaultdict

from django.db import transaction

from apiaries.models import Person
from reports.digests import add_digest
from reports.models import Digest, DigestState, Notice
from reports.owed import Owed, owed_notices


def plan_notices(*, at: dt.datetime) -> int:
    """Plan everything owed that is not planned yet; how many notices that were.

    What a standstill left behind comes into one mail per person, which says that it is late.
    """
    by_person: dict[int, list[Owed]] = defaultdict(list)
    for owed in unplanned(owed_notices(at=at)):
        by_person[owed.person.pk].append(owed)
    return sum(_plan(owed[0].person, owed, at=at) for _, owed in sorted(by_person.items()))


def unplanned(owed: list[Owed]) -> list[Owed]:
    """Those that are not in the outbox."""
    subjects = {one.subject for one in owed}
    known = set(Notice.objects.filter(subject__in=subjects).values_list("person_id", "kind", "subject", "on"))
    return [one for one in owed if one.key not in known]


@transaction.atomic
def _plan(person: Person, owed: list[Owed], *, at: dt.datetime) -> int:
    digest = _open_digest(person, at=at, useless_after=max(one.useless_after for one in owed))
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
            )
            for one in owed
        ],
        ignore_conflicts=True,
    )
    return len(owed)


def _open_digest(person: Person, *, at: dt.datetime, useless_after: dt.datetime) -> Digest | None:
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
