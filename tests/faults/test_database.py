"""R8 and R19: the database restarts under the senders; a reader that never ends does not slow the queue down."""

import datetime as dt
import json
import os
import statistics
import time
from pathlib import Path
from typing import Any

import psycopg
import pytest
from django.conf import settings
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext

from apiaries.models import Person
from config.embedded import EmbeddedServer
from reports.digests import message_id_of
from reports.mail_queue import Queue
from reports.models import Digest, DigestState
from reports.planner import plan_notices
from tests.faults.cluster import OF_ITS_OWN, database_of_its_own
from tests.faults.machinery import Crew, Figure, Hand, Sink, open_crew, sized, wait_until
from tests.faults.outbox import DUE, GIVEN, SAVED
from tests.faults.people import keepers

pytestmark = [pytest.mark.slow]

SPEED = 120
SENDERS = 3


def restart(server: EmbeddedServer, how: str) -> float:
    """Stop it in that way and start it again; the seconds until it answers."""
    before = time.monotonic()
    status, words = server.place.command(
        "pg_ctl", "restart", "-w", "-m", how, "-D", str(server.place.data), "-l", str(server.place.log)
    )
    assert status == 0, words
    return time.monotonic() - before


def asked(server: EmbeddedServer, question: str) -> Any:
    """The one value that a query of the server gives."""
    with server.connect("recount_test", OF_ITS_OWN) as connection:
        row = connection.execute(question).fetchone()
        assert row
        return row[0]


def kept_up(crew: Crew, senders: list[Hand], clock: dict[str, Any], seconds: float) -> int:
    """Start again whoever ends, as a supervisor does; how many that were."""
    ended, until = 0, time.monotonic() + seconds
    while time.monotonic() < until:
        for number, sender in enumerate(senders):
            if not sender.lives:
                senders[number] = crew.start("run", **clock)
                ended += 1
        time.sleep(0.05)
    return ended


def test_restarts_of_the_database_lose_nothing(
    server: EmbeddedServer, sink: Sink, figures: list[Figure], tmp_path: Path
) -> None:
    number = sized(150, 600)
    surroundings = os.environ | {
        "DATABASE_URL": database_of_its_own(server), "EMAIL_URL": sink.url, "RECOUNT_TEST": "1",
        "PYTHONPATH": str(settings.BASE_DIR),
    }  # fmt: skip
    with open_crew(tmp_path, surroundings) as crew:
        assert crew.start("fill", number=number).came_to() == {"planned": number}
        clock = {"start": DUE.isoformat(), "began": time.time(), "speed": SPEED}
        senders = [crew.start("run", **clock) for _ in range(SENDERS)]
        wait_until(lambda: sink.taken)
        ended, took = 0, []
        for how in ("fast", "immediate", "fast", "immediate"):
            ended += kept_up(crew, senders, clock, 1)
            took.append(restart(server, how))
        left = asked(server, "SELECT count(*) FROM reports_digest WHERE state = 'pending'")
        while asked(server, "SELECT count(*) FROM reports_digest WHERE state = 'pending'"):
            ended += kept_up(crew, senders, clock, 0.5)

    ids = asked(server, "SELECT array_agg(message_id) FROM reports_digest WHERE state = 'sent'")
    copies = sink.copies()
    found = Figure(
        "R8: database restarted fast and immediate, twice each",
        number,
        len(copies),
        copies.total() - len(copies),
        len(set(ids) - set(copies)),
        asked(server, "SELECT count(*) FROM reports_digestattempt"),
        f"{ended} senders ended and were started again; longest restart {max(took):.1f} s",
    )
    figures.append(found)
    assert left > 0, "the mails were gone before the restarts were"
    assert ended > 0, "the senders noticed nothing"
    assert (len(ids), found.received, found.lost) == (number, number, 0)
    assert found.doubled <= 4 * SENDERS


def place_of_tests() -> dict[str, Any]:
    """How to reach the database of the tests beside Django."""
    wanted = ("dbname", "user", "password", "host", "port")
    return {name: value for name, value in connection.get_connection_params().items() if name in wanted}


def looks_of(at: dt.datetime) -> list[str]:
    """The queries with which a run of a sender looks for its first mail and for the one after it."""
    queue, found = Queue(at), []
    with transaction.atomic():
        for _ in range(2):
            with CaptureQueriesContext(connection) as queries:
                assert queue.next() is not None
            (look,) = [query["sql"] for query in queries]
            found.append(look)
        transaction.set_rollback(True)
    return found


def looked_at(claim: str) -> tuple[int, float]:
    """How many pages that query reads, and how long 95 of 100 take at most, in milliseconds."""
    took = []
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(f"EXPLAIN (ANALYZE, BUFFERS, FORMAT JSON) {claim}")
        plan = json.loads(found) if isinstance(found := cursor.fetchone()[0], str) else found
        for _ in range(100):
            before = time.perf_counter()
            cursor.execute(claim)
            took.append((time.perf_counter() - before) * 1000)
    top = plan[0]["Plan"]
    return top["Shared Hit Blocks"] + top["Shared Read Blocks"], statistics.quantiles(took, n=20)[-1]


def pass_through(people: list[Person], number: int, at: dt.datetime) -> None:
    """So many mails are planned, claimed, and sent, row by row as far as PostgreSQL sees."""
    days = number // len(people)
    for day in range(days):
        on = DUE.date() - dt.timedelta(days=days - day)
        Digest.objects.bulk_create(
            Digest(
                person=person, on=on, send_at=at, next_at=at, useless_after=at + dt.timedelta(days=9),
                message_id=message_id_of(person, on),
            )
            for person in people
        )  # fmt: skip
        today = Digest.objects.filter(on=on, person__in=people)
        today.update(next_at=at + dt.timedelta(minutes=1))
        today.update(state=DigestState.SENT, sent_at=at)


@pytest.mark.django_db(transaction=True)
def test_a_reader_that_never_ends_does_not_slow_the_queue(figures: list[Figure], settings: Any) -> None:
    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
    number = sized(5_000, 100_000)
    people = keepers(100, given_on=[GIVEN], recorded_at=SAVED)
    plan_notices(at=DUE)
    with psycopg.connect(**place_of_tests()) as reader:
        reader.isolation_level = psycopg.IsolationLevel.REPEATABLE_READ
        reader.execute("SELECT count(*) FROM reports_digest")  # its snapshot is held from now on
        pages_before, before = looked_at(looks_of(DUE)[1])
        pass_through(people, number, DUE - dt.timedelta(hours=1))
        with connection.cursor() as cursor:
            cursor.execute("VACUUM ANALYZE reports_digest")
        first, second = looks_of(DUE)
        pages_of_first, _ = looked_at(first)
        pages, after = looked_at(second)

    note = (
        f"95 % of looks within {before:.1f} ms before, {after:.1f} ms after; pages read {pages_before}, {pages}; "
        f"by the first look of a run {pages_of_first}"
    )
    figures.append(Figure("R19: snapshot held while mails pass", number, number, 0, 0, 0, note))
    assert pages_of_first > 2 * pages_before, "nothing stood in the way"
    assert pages <= 2 * pages_before + 20, "every mail walks over what has passed"
