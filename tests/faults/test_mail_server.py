"""R6 and R7: an outage is only lateness, a grey list only patience, and a refusal for good is told and not repeated."""

import datetime as dt
import random
from collections import Counter
from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from apiaries.models import Person
from reports.models import Digest, DigestAttempt, DigestState, Suspension
from tests.faults.machinery import Crew, Figure, Sink, sized
from tests.faults.outbox import DUE, GIVEN, SAVED, figure, planned, waiting
from tests.faults.people import keepers

pytestmark = [pytest.mark.slow, pytest.mark.django_db(transaction=True)]

MINUTES = dt.timedelta(minutes=1)


def shares(number: int) -> tuple[frozenset[str], frozenset[str]]:
    """A tenth of the addresses, and another three tenths."""
    addresses = sorted(Person.objects.filter(digests__isnull=False).values_list("email", flat=True))
    random.Random(20260820).shuffle(addresses)
    return frozenset(addresses[: number // 10]), frozenset(addresses[number // 10 : 4 * number // 10])


def test_an_outage_then_a_grey_list_kill_no_mail_but_those_refused(
    crew: Crew, sink: Sink, figures: list[Figure]
) -> None:
    due = planned(sized(100, 1_000))
    never, grey = shares(due)
    sink.order(up=False)
    for minutes in range(0, 31, 5):
        crew.tick(DUE + minutes * MINUTES, hands=2)
    spent = DigestAttempt.objects.exclude(outcome="outage").count()
    assert (spent, waiting(), sink.taken) == (0, due, [])

    sink.order(up=True, never=never, grey=grey, grey_minutes=10)
    at = DUE + 30 * MINUTES
    while waiting():
        at += 5 * MINUTES
        assert at < DUE + dt.timedelta(days=3), "some are never sent"
        sink.set_clock(at)
        crew.tick(at, hands=2)

    dead = set(Digest.objects.filter(state=DigestState.DEAD).values_list("person__email", flat=True))
    tries = Counter(DigestAttempt.objects.values_list("outcome", flat=True))
    note = (
        f"{len(grey)} on the grey list, {len(dead & grey)} of them dead; "
        f"{len(dead)} of {len(never)} refused dead; {spent} tries spent by the outage"
    )
    found = figure("R6: outage, grey list, refusals", due, sink, note)
    figures.append(found)
    assert dead == never
    assert (found.received, found.doubled, found.lost) == (due - len(never), 0, 0)
    assert tries["refused"] == len(never)
    assert tries["later"] >= len(grey), "the grey list never put anything off"


def test_a_slow_mail_server_is_waited_for(crew: Crew, sink: Sink, figures: list[Figure]) -> None:
    due = planned(sized(10, 40))
    sink.order(slow=1.0)
    tally = crew.tick(DUE, hands=3)

    found = figure("R6: a second for every mail", due, sink)
    figures.append(found)
    assert tally["sent"] == due
    assert (found.received, found.doubled, found.lost) == (due, 0, 0)


def test_a_refusal_for_good_is_told_and_never_repeated(
    crew: Crew, sink: Sink, figures: list[Figure], client_for: Callable[[Person | None], Client]
) -> None:
    number = sized(20, 100)
    days = [GIVEN + dt.timedelta(days=day) for day in range(3)]
    people = keepers(number, given_on=days, recorded_at=SAVED)
    sink.order(never=frozenset(person.email for person in people))
    crew.tick(DUE)
    page = client_for(people[3]).get(reverse("apiaries:me")).content.decode()
    assert people[3].email in page and "550 5.1.1 no such mailbox" in page

    for day in range(1, 4):
        crew.tick(DUE + dt.timedelta(days=day), hands=2)

    found = figure("R7: refused for good", number, sink, "one try each, three days of ticks afterwards")
    figures.append(found)
    assert (found.received, found.attempts) == (0, number)
    assert set(DigestAttempt.objects.values_list("outcome", flat=True)) == {"refused"}
    assert Suspension.objects.count() == number
    assert set(Digest.objects.values_list("state", flat=True)) == {DigestState.DEAD}
