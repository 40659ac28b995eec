"""The part of the chaos that knows the project: makes keepers, reads what is there. Say: python -m tests.chaos.inside

An order is a line of JSON, the name of a job and what it wants; so is the answer. A job that meets a dead database is
done again until it lives, and makes nothing twice.
"""

import datetime as dt
import json
import sys
import time
from collections import Counter
from typing import Any

import django

SOON = dt.timedelta(hours=1)
"""A mail that leaves later is one for the next day, and not one that is tried again."""


def patiently(job: Any, wishes: dict[str, Any], patience: float = 300) -> Any:
    """What the job gives, once the database lets it."""
    from django.db import connection
    from django.db.utils import InterfaceError, OperationalError

    until = time.monotonic() + patience
    while True:
        try:
            return job(**wishes)
        except (OperationalError, InterfaceError):
            if time.monotonic() > until:
                raise
            connection.close()
            time.sleep(0.2)


def make(*, phones: int, keepers: int, colonies: int) -> list[dict[str, Any]]:
    """People with a yard each, who are signed in: so many count on phones, so many treat on pages."""
    from django.conf import settings
    from django.core.management import call_command
    from django.test import Client
    from django.utils import timezone

    from apiaries.actions import add_numbered_colonies, add_region, add_yard, found_club
    from apiaries.permissions import Role
    from tests.cast import join, make_person

    call_command("load_reference", verbosity=0)
    founder = make_person("Chaos-founder")
    club = found_club(name="Chaos", time_zone="UTC", administrator=founder)
    region = add_region(club=club, name="Everywhere", by=founder)
    today = timezone.now().date()
    made = []
    for number in range(phones + keepers):
        person = join(club, make_person(f"Chaos-{number}"), Role.MEMBER)
        yard = add_yard(keeper=person, region=region, name=f"Yard {number}", by=person)
        hives = add_numbered_colonies(
            yard=yard, first=1, last=colonies, started_on=today - dt.timedelta(days=400), by=person
        )
        browser = Client()
        browser.force_login(person, backend=settings.AUTHENTICATION_BACKENDS[0])
        cookies = {name: morsel.value for name, morsel in browser.cookies.items()}
        made.append(
            {"person": person.pk, "yard": yard.pk, "colonies": [one.pk for one in hives], "cookies": cookies}
        )
    return made


def wave(*, name: str, number: int) -> list[str]:
    """So many keepers who are owed a mail now, all or none; their addresses. A second time it makes nothing."""
    from django.db import transaction

    from apiaries.models import Club, Person
    from tests.faults.people import due_now
    from treatments.chain_actions import note_uses
    from treatments.models import Treatment

    with transaction.atomic():
        if not Club.objects.filter(name=f"Club of {name}").exists():
            due_now(number, name)
            given = Treatment.objects.filter(yard__club__name=f"Club of {name}")
            note_uses(given.values_list("pk", flat=True))  # what copies of rows leave out
    of_it = Person.objects.filter(email__startswith=name.lower(), memberships__role="member")
    return sorted(of_it.values_list("email", flat=True))


def unfinished() -> dict[str, int]:
    """What still waits: mails to be sent, regions and months to be worked out, notices to be planned."""
    from django.utils import timezone

    from reports.models import Digest, RegionMonthMark
    from reports.owed import owed_notices
    from reports.planner import unplanned

    now = timezone.now()
    return {
        "mails": Digest.objects.filter(state="pending", next_at__lt=now + SOON).count(),
        "figures": RegionMonthMark.objects.count(),
        "notices": len(unplanned(owed_notices(at=now))),
    }


def locks() -> dict[str, int]:
    """What is held by nobody who works: advisory locks and transactions open for longer than any work takes."""
    from django.db import connection

    with connection.cursor() as cursor:
        cursor.execute("SELECT count(*) FROM pg_locks WHERE locktype = 'advisory'")
        (advisory,) = cursor.fetchone()
        cursor.execute(
            "SELECT count(*) FROM pg_stat_activity WHERE state LIKE 'idle in transaction%%'"
            " AND xact_start < now() - interval '20 seconds'"
        )
        (idle,) = cursor.fetchone()
        cursor.execute("SELECT count(*) FROM pg_prepared_xacts")
        (prepared,) = cursor.fetchone()
    return {"advisory locks": advisory, "transactions left open": idle, "prepared transactions": prepared}


def reckon() -> dict[str, Any]:
    """All that is there in the end, for whoever knows what should be. The audit of the figures is among it."""
    from django.utils import timezone

    from counts.models import MiteSample
    from reports.figures import recompute_all
    from reports.models import Digest, DigestAttempt, RegionMonth
    from treatments.chain_check import all_faults
    from treatments.models import MedicineLink, Treatment
    from treatments.yard_outlooks import recompute_outlooks

    counts = MiteSample.objects.filter(colony__yard__club__name="Chaos")
    treatments = Treatment.objects.filter(yard__club__name="Chaos")
    unsure = DigestAttempt.objects.exclude(outcome__in=("sent", "taken", "quiet", "empty", "expired"))
    return {
        "counts": [
            [str(key), colony, mites, str(on)]
            for key, colony, mites, on in counts.values_list("entry_key", "colony_id", "mites", "sampled_on")
        ],
        "treatments": [str(key) for key in treatments.values_list("entry_key", flat=True)],
        "mails": dict(Digest.objects.values_list("message_id", "state")),
        "unsure": Counter(unsure.values_list("digest__message_id", flat=True)),
        "tries": DigestAttempt.objects.count(),
        "region months": RegionMonth.objects.count(),
        "drifts": [str(one.what) for one in recompute_all(at=timezone.now())],
        "outlooks": [str(one.what) for one in recompute_outlooks(at=timezone.now())],
        "links": MedicineLink.objects.count(),
        "chains": [f"keeper {one.keeper}, link {one.number}: {one.broken}" for one in all_faults()],
    }


JOBS = {job.__name__: job for job in (make, wave, unfinished, locks, reckon)}


def main() -> None:
    django.setup()
    for line in sys.stdin:
        order = json.loads(line)
        answer = patiently(JOBS[order["job"]], order["wishes"])
        sys.stdout.write(json.dumps(answer) + "\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
