"""R9 and R10: clocks that jump, and clocks that are put forward and back: every mail once, at its hour."""

import datetime as dt
import random
from collections import Counter
from functools import cache
from zoneinfo import ZoneInfo, available_timezones

import pytest
from hypothesis import given
from hypothesis import strategies as st

from apiaries.models import Person
from reports.due_days import instant_of
from reports.models import Digest, DigestState
from tests.faults.machinery import FULL, Crew, Figure, Sink, sized
from tests.faults.outbox import DUE, GIVEN, SAVED, TICK, figure, planned
from tests.faults.people import keepers
from treatments.models import Recount

NAMED = ("Australia/Lord_Howe", "Pacific/Chatham", "Antarctica/Troll")
MINUTE, HOUR, DAY = dt.timedelta(minutes=1), dt.timedelta(hours=1), dt.timedelta(days=1)
JUMPS = (HOUR, -HOUR, DAY, -DAY)


@pytest.mark.slow
@pytest.mark.django_db(transaction=True)
def test_a_clock_that_jumps_sends_nothing_twice_and_nothing_early(
    crew: Crew, sink: Sink, figures: list[Figure]
) -> None:
    """Six days of ticks; now and then the clock is wrong by an hour or a day for some of them, or goes back."""
    number = sized(10, 100)
    people = keepers(number, given_on=[GIVEN + dt.timedelta(days=day) for day in range(3)], recorded_at=SAVED)
    sink.order(grey=frozenset(person.email for person in people[::3]), grey_minutes=20)
    chance = random.Random(20260325)
    true, ticks = DUE - 8 * HOUR, 0
    while true < DUE + 5 * DAY:
        wrong = chance.choice(JUMPS) if chance.random() < 0.3 else dt.timedelta()
        for _ in range(chance.randint(1, 3)):
            sink.set_clock(true)
            crew.tick(true + wrong, hands=1 + chance.randrange(2))
            true, ticks = true + sized(6, 1) * HOUR, ticks + 1

    found = figure("R9: clock an hour and a day wrong, both ways", 3 * number, sink, f"{ticks} ticks")
    figures.append(found)
    told = Counter(
        (notice.person_id, notice.subject)
        for digest in Digest.objects.filter(state=DigestState.SENT)
        for notice in digest.notices.filter(withdrawn_at=None)
    )
    assert set(told.values()) == {1} and len(told) == 3 * number
    assert (found.doubled, found.lost) == (0, 0)
    assert all(digest.sent_at >= digest.send_at for digest in Digest.objects.filter(state=DigestState.SENT))


@pytest.mark.slow
@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("jump", [HOUR, DAY], ids=["hour", "day"])
def test_a_retry_set_by_a_clock_that_was_ahead_is_made_at_the_next_tick(
    jump: dt.timedelta, crew: Crew, sink: Sink, figures: list[Figure]
) -> None:
    due = planned(20)
    addresses = frozenset(Person.objects.filter(digests__isnull=False).values_list("email", flat=True))
    sink.order(grey=addresses, grey_minutes=10)
    sink.set_clock(DUE)
    assert crew.tick(DUE + jump, plan=False)["later"] == due
    sink.set_clock(DUE + TICK)
    crew.tick(DUE + TICK)

    found = figure(
        f"R9: clock {jump} ahead while the server puts off", due, sink, "one tick after its return"
    )
    figures.append(found)
    assert (found.received, found.doubled, found.lost) == (due, 0, 0)


def changes_of(zone: str) -> list[dt.datetime]:
    """The instants of 2026 from which on a zone's clock differs from UTC by another amount."""
    found = []
    clock = ZoneInfo(zone)
    at = dt.datetime(2026, 1, 1, tzinfo=dt.UTC)
    while at.year == 2026:
        day_later = at + DAY
        if at.astimezone(clock).utcoffset() != day_later.astimezone(clock).utcoffset():
            moment = at
            for step in (HOUR, MINUTE):
                while moment.astimezone(clock).utcoffset() == (moment + step).astimezone(clock).utcoffset():
                    moment += step
            found.append(moment + MINUTE)
        at = day_later
    return found


@cache
def all_changes() -> list[tuple[str, dt.datetime]]:
    return [(zone, at) for zone in sorted(available_timezones()) for at in changes_of(zone)]


def error_of(zone: str, on: dt.date, asked: dt.time) -> dt.timedelta:
    """How far the clock on the wall is from what was asked for, when the mail is due."""
    shown = instant_of(on, asked, zone).astimezone(ZoneInfo(zone)).replace(tzinfo=None)
    return shown - dt.datetime.combine(on, asked)


def gap_of(zone: str, at: dt.datetime) -> dt.timedelta:
    """How much the clock jumps ahead at that instant; nothing if it goes back."""
    before = (at - dt.timedelta(minutes=1)).astimezone(ZoneInfo(zone)).utcoffset()
    after = at.astimezone(ZoneInfo(zone)).utcoffset()
    assert before is not None and after is not None
    return max(after - before, dt.timedelta())


def test_the_named_zones_change_their_clocks_as_expected() -> None:
    """Half an hour, an hour from half past to a quarter, two hours: from the time zone data base."""
    gaps = {zone: {gap_of(zone, at) for one, at in all_changes() if one == zone} for zone in NAMED}

    assert gaps == {
        "Australia/Lord_Howe": {dt.timedelta(), dt.timedelta(minutes=30)},
        "Pacific/Chatham": {dt.timedelta(), dt.timedelta(hours=1)},
        "Antarctica/Troll": {dt.timedelta(), dt.timedelta(hours=2)},
    }
    assert len({zone for zone, _ in all_changes()}) > 100


def test_every_minute_of_the_night_is_met_in_every_zone() -> None:
    """All changes of 2026, every quarter of an hour from midnight to 04:00, on the day itself and those beside it."""
    seen = 0
    for zone, at in all_changes():
        gap, day = gap_of(zone, at), at.astimezone(ZoneInfo(zone)).date()
        for on in (day - DAY, day, day + DAY):
            for quarter in range(17):
                error = error_of(zone, on, dt.time(quarter // 4, quarter % 4 * 15))
                assert dt.timedelta() <= error <= gap, (zone, on, quarter)
                assert error == dt.timedelta() or on in (day, day - DAY), (zone, on, quarter)
                seen += 1
    assert seen > 10_000


@given(
    st.deferred(lambda: st.sampled_from(all_changes())),
    st.times(max_value=dt.time(4, 59)),
    st.integers(-1, 1),
)
def test_any_minute_in_any_zone_is_met_or_jumped_over(
    change: tuple[str, dt.datetime], asked: dt.time, days: int
) -> None:
    zone, at = change
    asked = asked.replace(second=0, microsecond=0)
    on = at.astimezone(ZoneInfo(zone)).date() + days * DAY

    assert dt.timedelta() <= error_of(zone, on, asked) <= gap_of(zone, at)


def representatives() -> list[tuple[str, dt.datetime]]:
    """One zone for each hour and way of changing, and the named ones; at night all zones."""
    if FULL:
        return all_changes()
    found = {}
    for zone, at in all_changes():
        local = at.astimezone(ZoneInfo(zone))
        found[zone if zone in NAMED else None, local.time(), gap_of(zone, at)] = (zone, at)
    return sorted(found.values())


EVERY_HOUR = ((0, 0), (1, 15), (2, 0), (2, 15), (3, 30), (4, 0))
FAR = dt.date(2027, 6, 1)
HOURS = [dt.time(hour, minute) for hour, minute in sized(((0, 0), (2, 15)), EVERY_HOUR)]


@pytest.mark.slow
@pytest.mark.django_db(transaction=True)
def test_one_mail_for_everybody_on_the_day_the_clocks_change(
    crew: Crew, sink: Sink, figures: list[Figure]
) -> None:
    """A recount falls due on that day; ticks every quarter of an hour, those who plan and send at work twice."""
    cases = [(zone, at, hour) for zone, at in representatives() for hour in HOURS]
    made = keepers(
        len(cases), given_on=[dt.date(2025, 12, 1)], recorded_at=dt.datetime(2025, 12, 2, tzinfo=dt.UTC)
    )
    asked = dict(zip((person.pk for person in made), cases, strict=True))
    for pk, (zone, _, hour) in asked.items():
        Person.objects.filter(pk=pk).update(time_zone=zone, mail_at=hour)
    recounts = Recount.objects.all()
    recounts.update(earliest_on=FAR, ideal_on=FAR, latest_on=FAR)
    ticks = 0
    for change in sorted({at for _, at, _ in cases}):
        group = {pk: case for pk, case in asked.items() if case[1] == change}
        due: dict[int, dt.datetime] = {}
        for pk, (zone, at, hour) in group.items():
            day = at.astimezone(ZoneInfo(zone)).date()
            recounts.filter(treatment__yard__keeper=pk).update(earliest_on=day, ideal_on=day)
            due[pk] = instant_of(day, hour, zone)
        moments = sorted({at + minutes * MINUTE for at in due.values() for minutes in (-7, 8)})
        ticks += len(moments)
        hands = [crew.start("ticks", at=[at.isoformat() for at in moments]) for _ in range(2)]
        for hand in hands:
            hand.came_to()
        for digest in Digest.objects.filter(person__in=group):
            assert digest.sent_at is not None, asked[digest.person_id]
            assert digest.sent_at - due[digest.person_id] == 8 * MINUTE, asked[digest.person_id]
        recounts.filter(treatment__yard__keeper__in=group).update(earliest_on=FAR, ideal_on=FAR)

    note = f"{len(representatives())} changes at {len(HOURS)} hours, {ticks} ticks by two processes"
    found = figure("R10: mails on days when clocks change", len(cases), sink, note)
    figures.append(found)
    assert (found.received, found.doubled, found.lost) == (len(cases), 0, 0)
