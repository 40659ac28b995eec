"""How many mails one sender hands over in a second, to a real SMTP server in a thread of the same process.

Run on request: MAILS=300 .venv/bin/python -m pytest -s -q tests/bench/bench_mails.py
Made through the real actions, so that each mail has its own person, recount and link. The server's thread and the
sender share one interpreter: a mail server elsewhere leaves the sender more of the processor.
"""

import os
import time

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from apiaries.actions import add_numbered_colonies, add_yard
from apiaries.permissions import Role
from reports.planner import plan_notices
from reports.sender import Outcome, send_due
from tests.cast import STARTED, join, make_person
from tests.reports.post_office import open_post_office
from tests.reports.treating import at, treated

MAILS = int(os.environ.get("MAILS", "300"))
DUE = at("08-20", 5)


@pytest.mark.django_db(transaction=True)
def test_mails_per_second(reference, cast, settings):
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    for number in range(MAILS):
        keeper = join(cast.club, make_person(f"keeper{number}"), Role.MEMBER)
        yard = add_yard(keeper=keeper, region=cast.north, name="Yard", by=keeper)
        treated(add_numbered_colonies(yard=yard, first=1, last=1, started_on=STARTED, by=keeper))
    assert plan_notices(at=DUE) == MAILS
    with open_post_office() as office:
        settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", office.port
        with CaptureQueriesContext(connection) as asked:
            assert send_due(at=DUE, limit=1) == {Outcome.SENT: 1}
        since, worked = time.perf_counter(), time.process_time()
        assert send_due(at=DUE, limit=MAILS) == {Outcome.SENT: MAILS - 1}
        seconds, worked = time.perf_counter() - since, time.process_time() - worked
    assert len(office.taken) == MAILS
    print(
        f"\n{MAILS - 1} mails in {seconds:.2f} s: {(MAILS - 1) / seconds:.0f} a second "
        f"({worked:.2f} s of the processor); {len(asked)} questions to the database for one mail"
    )
