"""R13, R14, R16, R18: one click stops it, a poisoned row stops nobody, a deaf worker is noticed, done means done."""

import datetime as dt
import json
import signal
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.core.cache import cache
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from apiaries.models import Person
from reports.links import stop_token
from reports.models import Digest, DigestAttempt, DigestState
from reports.planner import plan_notices
from tests.faults.machinery import Crew, Figure, Sink, sized, wait_until
from tests.faults.outbox import DUE, TICK, figure, planned, waiting
from tests.faults.people import due_now
from tests.faults.workers import open_celeries, open_own_redis
from tests.reports.counting import count

pytestmark = [pytest.mark.slow, pytest.mark.django_db(transaction=True)]

SLOW = 0.4  # seconds that the server holds a mail
ONE_CLICK = {"List-Unsubscribe": "One-Click"}


def keepers_owed() -> list[Person]:
    return list(Person.objects.filter(digests__isnull=False).order_by("pk"))


def test_one_click_stops_the_next_mail(crew: Crew, sink: Sink, figures: list[Figure]) -> None:
    """Some click, some have scanners that only look, of some somebody forges the link."""
    due = planned(30)
    people = keepers_owed()
    clicking, looked_at, forged = people[:10], people[10:20], people[20:]
    stranger = Client(enforce_csrf_checks=True)
    for person in clicking:
        for _ in range(2):
            answer = stranger.post(reverse("reports:mail-stop", args=[stop_token(person)]), ONE_CLICK)
            assert answer.status_code in (200, 202)
    for person in looked_at:
        assert stranger.get(reverse("reports:mail-stop", args=[stop_token(person)])).status_code == 200
    for person in forged:
        token = stop_token(person)
        other = token[:-1] + ("A" if token[-1] != "A" else "B")
        assert stranger.post(reverse("reports:mail-stop", args=[other]), ONE_CLICK).status_code == 404
    crew.tick(DUE, hands=2)

    found = figure("R13: one click", due, sink, f"{len(clicking)} clicked")
    figures.append(found)
    assert {mail["to"] for mail in sink.taken} == {person.email for person in looked_at + forged}
    assert (found.doubled, found.lost) == (0, 0)


POISONS: dict[str, Callable[[Digest], object]] = {
    # An address that no mail can carry: nothing that a form would let in.
    "address": lambda digest: Person.objects.filter(pk=digest.person_id).update(email="a\nb@example.org"),
}


@pytest.mark.parametrize("poison", sorted(POISONS))
def test_a_poisoned_row_stops_no_other(poison: str, crew: Crew, sink: Sink, figures: list[Figure]) -> None:
    due = planned(20)
    bad = Digest.objects.order_by("next_at", "pk")[5]
    POISONS[poison](bad)
    crew.tick(DUE)
    assert len(sink.taken) == due - 1, "all the others, in the first tick"
    at = DUE
    while waiting():
        at += 4 * TICK
        assert at < DUE + dt.timedelta(days=20), "it is never given up"
        crew.tick(at)

    bad.refresh_from_db()
    found = figure(
        f"R14: a poisoned row ({poison})", due, sink, f"{bad.attempts.count()} tries of the poisoned one"
    )
    figures.append(found)
    assert bad.state == DigestState.DEAD
    assert (found.received, found.doubled, found.lost) == (due - 1, 0, 0)
    assert bad.attempts.count() <= 10


def test_a_zone_that_is_no_more_stops_nobody(crew: Crew, sink: Sink, figures: list[Figure]) -> None:
    """A new time zone data base may lack one: its people get their mail by UTC."""
    due = planned(20)
    Person.objects.filter(pk=Digest.objects.order_by("next_at", "pk")[5].person_id).update(
        time_zone="Europe/Atlantis"
    )
    crew.tick(DUE)
    crew.tick(DUE + dt.timedelta(hours=12))

    found = figure("R14: a zone that is no more", due, sink)
    figures.append(found)
    assert (found.received, found.doubled, found.lost) == (due, 0, 0)


def health() -> tuple[int, int]:
    cache.clear()
    answer = Client().get(reverse("reports:healthz-reminders"))
    return answer.status_code, json.loads(answer.content)["oldest_due_minutes"]


def test_a_deaf_worker_is_noticed_and_another_does_the_work(
    crew: Crew, sink: Sink, figures: list[Figure], tmp_path: Path
) -> None:
    number = sized(20, 100)
    with (
        open_own_redis(tmp_path) as redis,
        open_celeries(tmp_path, redis.url, sink.url) as celeries,
    ):
        log = celeries.worker()
        celeries.running[0].send_signal(signal.SIGSTOP)
        due_now(number, "First")
        celeries.wake()
        time.sleep(2)
        status, minutes = health()
        assert (status, sink.taken) == (503, []) and minutes > 15
        crew.tick(timezone.now())
        assert len(sink.taken) == number
        assert health() == (200, 0)

        celeries.running[0].send_signal(signal.SIGCONT)
        wait_until(lambda: "succeeded" in log.read_text())
        assert len(sink.taken) == number, "what it had not heard in time changes nothing"
        redis.drop_lines()
        due_now(number, "Second")
        celeries.wake()
        wait_until(lambda: len(sink.taken) == 2 * number)
        wait_until(lambda: log.read_text().count("succeeded") == 2)

    found = figure("R16: worker stopped, then its line cut", 2 * number, sink, "health 503, then 200")
    figures.append(found)
    assert (found.received, found.doubled, found.lost) == (2 * number, 0, 0)
    assert health() == (200, 0)


def test_done_means_done_while_the_sender_is_at_work(crew: Crew, sink: Sink, figures: list[Figure]) -> None:
    """Recounts are saved while a mail is under way: of those, none goes out any more."""
    due = planned(sized(20, 60))
    sink.order(slow=SLOW)
    sender = crew.start("tick", at=DUE.isoformat(), plan=False)
    wait_until(lambda: len(sink.taken) >= 3, every=0.01)
    saved: dict[str, float] = {}
    for person in keepers_owed()[due // 4 :]:
        count(person.yards.get().colonies.get(), dt.date(2026, 8, 20), 1)
        saved[person.email] = time.time()
    tally = sender.came_to()
    mails = sink.taken

    note = f"{len(saved)} saved, {tally['empty']} withdrawn"
    figures.append(figure("R18: recounts saved while mails leave", due, sink, note))
    assert tally["empty"] > due // 4, "it came too late for nearly all"
    for earlier, mail in zip(mails, mails[1:], strict=False):
        # The sender looks when the server has let it go from the mail before, not earlier.
        looked_at = earlier["at"] + SLOW
        assert saved.get(mail["to"], looked_at) >= looked_at, f"{mail['to']} had counted"
    crew.tick(DUE + TICK)
    assert sink.copies().total() == due - tally["empty"]


def test_done_while_its_mail_is_held_makes_no_second(
    cast: Any, reference: Any, crew: Crew, sink: Sink, figures: list[Figure]
) -> None:
    """The mail is already with the server when the recount is saved: it stays one, and no late one follows."""
    from tests.reports.treating import treated

    treated(cast.colonies[:1])
    plan_notices(at=DUE)
    sink.order(slow=1.5)
    sender = crew.start("tick", at=DUE.isoformat(), plan=False)
    wait_until(lambda: sink.taken, every=0.01)
    before = time.monotonic()
    count(cast.colonies[0], dt.date(2026, 8, 20), 1)
    waited = time.monotonic() - before
    assert sender.came_to() == {"sent": 1}
    for days in range(1, 30):
        plan_notices(at=DUE + dt.timedelta(days=days))
    crew.tick(DUE + dt.timedelta(days=30))

    figures.append(
        figure("R18: saved while the server has the mail", 1, sink, f"saving waited {waited:.2f} s")
    )
    assert sink.copies().total() == 1
    assert DigestAttempt.objects.count() == 1
