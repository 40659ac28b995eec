"""A hundred and twenty days of a club of sixty keepers, the clock moved on by eight hours at a time, every mail listed.

The keepers differ: some count when first asked, some late, some never; some put off, skip, cancel, stop the mails
or leave. `tests/golden/season_mails.txt` is the list, read through once for sense; write it anew with
`RECOUNT_GOLDEN=1 python -m pytest tests/flows/test_season_of_mails.py` and read what changed.
"""

import datetime as dt
import os
import re
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django.core import mail
from django.test import Client

from apiaries.actions import add_numbered_colonies, add_yard, end_colony, end_membership
from apiaries.models import Person, Yard
from apiaries.permissions import Role
from counts.actions import NewCount, record_samples
from counts.models import CountWeek
from counts.samples import BeesBy, Method
from reports.actions import put_off, stop_mails
from reports.links import MailKind
from reports.models import Digest, DigestState, Notice
from reports.planner import plan_notices
from reports.sender import send_due
from reports.today import item_about
from tests.cast import Cast, join, make_person
from treatments.actions import (
    NewDose,
    NewRound,
    NewTreatment,
    cancel_treatment,
    give_round,
    record_treatment,
    set_out_by,
    skip_recount,
    take_out,
)
from treatments.models import Application, Recount, Round, Treatment

pytestmark = [pytest.mark.slow, pytest.mark.django_db, pytest.mark.usefixtures("reference")]

GOLDEN = Path(__file__).parent.parent / "golden" / "season_mails.txt"
FIRST = dt.date(2026, 6, 20)
SPRING = dt.datetime(2026, 4, 1, tzinfo=dt.UTC)
DAYS = 120
HOURS = 8  # from one look to the next: one of them falls into everybody's day
KEEPERS = 60
ZONES = (
    "Europe/Berlin",
    "Pacific/Chatham",
    "America/New_York",
    "Australia/Lord_Howe",
    "UTC",
    "Antarctica/Troll",
)
WAYS = ("oxalic_vapour_us", "thymol_gel_gb", "amitraz_strip_us", "oxalic_vapour_us", "formic_other_any")
HABITS = (
    "counts when first asked",
    "counts when late",
    "never answers",
    "puts off once, then counts",
    "skips the recount",
    "counts by the link in the mail",
    "cancels the treatment",
    "stops the mails",
    "leaves the club",
    "loses the colonies",
    "stops calls for counts",
    "has quiet weekends",
)


OUT_NOW = re.compile(r"To take out(?! soon)")


@dataclass
class Keeper:
    """One of the sixty: what they keep, how they treat and what they do about mails."""

    person: Person
    yard: Yard
    habit: str
    treats_on: dt.date
    way: str
    treatment: Treatment | None = None
    done_on: dict[str, dt.date] = field(default_factory=dict)
    """Subject by subject, the day on which it was closed."""


@dataclass(frozen=True)
class Arrived:
    """One mail: who got it, when by their own clock, and what it says."""

    name: str
    local: dt.datetime
    subject: str
    lines: tuple[str, ...]

    def __str__(self) -> str:
        return f"{self.local:%Y-%m-%d %H:%M} {self.name}: {self.subject} | {' | '.join(self.lines)}"


def _keepers(cast: Cast) -> list[Keeper]:
    made = []
    for number in range(KEEPERS):
        person = make_person(f"Keeper{number:02}")
        person.time_zone = ZONES[number % len(ZONES)]
        habit = HABITS[number % len(HABITS)]
        person.quiet_days = [5, 6] if habit == "has quiet weekends" else []
        person.mail_at = dt.time(6 + number % 4, 30 * (number % 2))
        person.save()
        join(cast.club, person, Role.MEMBER)
        yard = add_yard(keeper=person, region=cast.north, name=f"Yard {number:02}", by=person)
        Yard.objects.filter(pk=yard.pk).update(time_zone=person.time_zone, made_at=SPRING)
        yard.refresh_from_db()
        add_numbered_colonies(yard=yard, first=1, last=3, started_on=FIRST, by=person)
        treats_on = FIRST + dt.timedelta(days=5 + (number * 7) % 60)
        made.append(Keeper(person, yard, habit, treats_on, WAYS[(number // 2) % len(WAYS)]))
    return made


def _treat(keeper: Keeper, at: dt.datetime) -> None:
    """Given today; every third keeper has planned two rounds more, a week apart."""
    on = keeper.treats_on
    colonies = list(keeper.yard.colonies.all())
    given = NewRound(on, on, None, tuple(NewDose(colony, Decimal(1)) for colony in colonies))
    number = int(keeper.person.name.removeprefix("Keeper"))
    stays = Application.objects.get(key=keeper.way).stays
    further = [] if stays or number % 3 else [NewRound(on + dt.timedelta(days=7 * n)) for n in (1, 2)]
    keeper.treatment = record_treatment(
        new=NewTreatment(
            yard=keeper.yard,
            application=Application.objects.get(key=keeper.way),
            rounds=(given, *further),
            withdrawal_days=(None, 0, 14)[number % 3],
        ),
        at=at,
        by=keeper.person,
    )
    if keeper.way == "formic_other_any" and number % 4 < 2:  # half of them enter the label's day
        round_ = keeper.treatment.rounds.get()
        set_out_by(round_=round_, out_by=on + dt.timedelta(days=20), at=at, by=keeper.person)


def _count(keeper: Keeper, on: dt.date, at: dt.datetime) -> None:
    counts = [
        NewCount(colony, Method.ALCOHOL_WASH, on, 3, bees=300, bees_by=BeesBy.COUNTED)
        for colony in keeper.yard.colonies.living()
    ]
    record_samples(counts=counts, at=at, by=keeper.person)


def _closed(keeper: Keeper, on: dt.date, *kinds: str) -> None:
    """From now on nothing of these kinds may come about what was open."""
    for kind, subject in Notice.objects.filter(person=keeper.person).values_list("kind", "subject"):
        if kind.split("_")[0] in kinds:
            keeper.done_on.setdefault(subject, on)


def _react(keeper: Keeper, arrived: Arrived, at: dt.datetime, body: str) -> None:
    """What a keeper does two hours after a mail came."""
    subject, on = arrived.subject, at.astimezone(ZoneInfo(keeper.person.time_zone)).date()
    late = "late" in subject or "not made" in subject or "ends" in subject
    _do_the_steps(keeper, body, on, at)
    asks = re.search(r"[Rr]ecount|Count asked|Count week|Count not", body.split("Done already")[0])
    if not asks:
        return
    if keeper.habit in ("counts when first asked", "has quiet weekends", "stops calls for counts"):
        if "coming up" not in subject:
            _count(keeper, on, at)
            _closed(keeper, on, "recount", "count", "week")
    elif keeper.habit == "counts when late" and late:
        _count(keeper, on, at)
        _closed(keeper, on, "recount", "count", "week")
    elif keeper.habit == "puts off once, then counts":
        _put_off_or_count(keeper, on, at)
    elif keeper.habit == "skips the recount" and "ecount" in subject:
        _skip(keeper, on, at)
    elif (
        keeper.habit == "counts by the link in the mail"
        and "/recount/" in body
        and "coming up" not in subject
    ):
        _count_by_link(keeper, body, on)
    elif keeper.habit == "cancels the treatment" and "ecount" in subject:
        _cancel(keeper, on, at)


def _do_the_steps(keeper: Keeper, body: str, on: dt.date, at: dt.datetime) -> None:
    """Rounds are given when due and strips taken out when due, except by those who never answer."""
    if keeper.habit == "never answers" or keeper.treatment is None:
        return
    for round_ in Round.objects.filter(treatment=keeper.treatment, treatment__cancelled_at=None):
        if round_.given_on is None and round_.planned_on <= on and "Round" in body:
            doses = [NewDose(colony, Decimal(1)) for colony in keeper.yard.colonies.living()]
            if doses:
                give_round(round_=round_, given_on=on, doses=doses, at=at, by=keeper.person)
                keeper.done_on.setdefault(f"round:{round_.pk}", on)
        elif round_.given_on is not None and round_.out_on is None and OUT_NOW.search(body):
            take_out(round_=round_, out_on=on, at=at, by=keeper.person)
            keeper.done_on.setdefault(f"out:{round_.pk}", on)


def _put_off_or_count(keeper: Keeper, on: dt.date, at: dt.datetime) -> None:
    subjects = Notice.objects.filter(person=keeper.person, withdrawn_at=None).values_list(
        "subject", flat=True
    )
    for subject in set(subjects):
        item = item_about(keeper.person, subject, on)
        if item is None or item.matter.kind not in ("recount", "count", "week"):
            continue
        if not keeper.person.put_offs.filter(subject=subject).exists():
            put_off(person=keeper.person, matter=item.matter, at=at, by=keeper.person)
            return
        _count(keeper, on, at)
        _closed(keeper, on, "recount", "count", "week")
        return


def _cancel(keeper: Keeper, on: dt.date, at: dt.datetime) -> None:
    if keeper.treatment is None or keeper.treatment.cancelled_at is not None:
        return
    keeper.treatment = cancel_treatment(
        treatment=keeper.treatment, why="written down twice", at=at, by=keeper.person
    )
    _closed(keeper, on, "recount", "round", "out", "clear")


def _skip(keeper: Keeper, on: dt.date, at: dt.datetime) -> None:
    recount = Recount.objects.get(treatment=keeper.treatment)
    if recount.skipped_at is None:
        skip_recount(recount=recount, why="the bees are in the heather", at=at, by=keeper.person)
        keeper.done_on.setdefault(f"recount:{recount.pk}", on)


def _count_by_link(keeper: Keeper, body: str, on: dt.date) -> None:
    found = re.search(r"https?://[^/]+(/recount/\S+)", body)
    assert found
    client = Client()
    page = client.get(found[1])
    if page.status_code != 200 or page.context.get("formset") is None:
        return
    answer = client.post(found[1], _filled(page))
    assert answer.status_code == 302, answer.content.decode()[:3000]
    _closed(keeper, on, "recount", "count", "week")


def _filled(page: Any) -> dict[str, str]:
    """The form as it opened, with a wash of 300 bees and one mite in the first colony."""
    form, rows = page.context["form"], page.context["formset"]
    data = {one.html_name: one.value() for one in form if one.value() is not None}
    for row in rows.forms if hasattr(rows, "forms") else rows:
        data |= {one.html_name: one.value() for one in row if one.value() is not None}
    first = next(iter(rows))
    data |= {
        form["method"].html_name: "alcohol_wash",
        form["brood"].html_name: "none",
        first["mites"].html_name: "1",
        first["bees"].html_name: "300",
    }
    return {name: str(value) for name, value in data.items()}


def _once(keeper: Keeper, on: dt.date, at: dt.datetime, cast: Cast) -> None:
    """What happens to some on a day of their own, mails or not."""
    gone_on = keeper.treats_on + dt.timedelta(days=16)
    if on != gone_on:
        return
    if keeper.habit == "stops the mails":
        stop_mails(person=keeper.person, kind=MailKind.REMINDERS, by=keeper.person)
        stop_mails(person=keeper.person, kind=MailKind.CALLS, by=keeper.person)
    elif keeper.habit == "stops calls for counts":
        stop_mails(person=keeper.person, kind=MailKind.CALLS, by=keeper.person)
    elif keeper.habit == "leaves the club":
        end_membership(membership=keeper.person.memberships.get(), at=at, by=keeper.person)
    elif keeper.habit == "loses the colonies":
        for colony in keeper.yard.colonies.living():
            end_colony(colony=colony, ended_on=on, why="died out", by=keeper.person)
    else:
        return
    _closed(keeper, on, *(("count", "week") if keeper.habit == "stops calls for counts" else ALL))


ALL = ("recount", "round", "out", "clear", "count", "week")


def _arrived(message: Any, keeper: Keeper, at: dt.datetime) -> Arrived:
    text = message.body
    told = [
        line for line in text.splitlines() if re.match(r"Yard \d\d: |What: |When: |This mail is late", line)
    ]
    return Arrived(
        keeper.person.name, at.astimezone(ZoneInfo(keeper.person.time_zone)), message.subject, tuple(told)
    )


def _season(cast: Cast) -> Iterator[tuple[Keeper, Arrived, dt.datetime]]:
    keepers = _keepers(cast)
    by_address = {keeper.person.email: keeper for keeper in keepers}
    waiting: list[tuple[Keeper, Arrived, str]] = []
    for step in range(DAYS * 24 // HOURS):
        at = dt.datetime.combine(FIRST, dt.time(), tzinfo=dt.UTC) + dt.timedelta(hours=HOURS * step)
        with time_machine.travel(at, tick=False):
            for keeper, arrived, body in waiting:
                _refresh(keeper)
                _react(keeper, arrived, at, body)
            for keeper in keepers:
                on = at.astimezone(ZoneInfo(keeper.person.time_zone)).date()
                if keeper.treatment is None and on == keeper.treats_on:
                    _treat(keeper, at)
                if 6 <= at.astimezone(ZoneInfo(keeper.person.time_zone)).hour < 14:
                    _once(keeper, on, at, cast)
            mail.outbox.clear()
            plan_notices(at=at)
            while send_due(at=at):
                pass
            waiting = []
            for message in mail.outbox:
                keeper = by_address[message.to[0]]
                arrived = _arrived(message, keeper, at)
                waiting.append((keeper, arrived, message.body))
                yield keeper, arrived, at


def _refresh(keeper: Keeper) -> None:
    keeper.person = Person.objects.get(pk=keeper.person.pk)
    keeper.yard = Yard.objects.select_related("keeper", "club", "region").get(pk=keeper.yard.pk)


def test_a_season_for_sixty_keepers(cast: Cast, settings: Any) -> None:
    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
    cast.club.count_months = [7, 9]
    cast.club.save()
    CountWeek.objects.create(
        club=cast.club,
        first_on=dt.date(2026, 8, 17),
        last_on=dt.date(2026, 8, 23),
        set_by=cast.dana,
        set_at=dt.datetime(2026, 6, 1, tzinfo=dt.UTC),
    )
    Yard.objects.filter(pk__in=[cast.alice_yard.pk, cast.charlie_yard.pk]).update(closed_on=FIRST)
    keepers: dict[str, Keeper] = {}
    mails: list[Arrived] = []
    for keeper, arrived, _ in _season(cast):
        keepers[keeper.person.name] = keeper
        mails.append(arrived)

    _as_read(mails)
    _at_most_one_a_day(mails)
    _at_no_time_or_day_they_do_not_want(mails, keepers)
    _nothing_after_done(keepers)
    _each_notice_once_and_none_left(mails)


def _at_most_one_a_day(mails: list[Arrived]) -> None:
    per_day = Counter((one.name, one.local.date()) for one in mails)
    assert max(per_day.values()) == 1
    assert len({one.name for one in mails}) >= KEEPERS - KEEPERS // len(
        HABITS
    )  # some go before they are asked


def _at_no_time_or_day_they_do_not_want(mails: list[Arrived], keepers: dict[str, Keeper]) -> None:
    for one in mails:
        person = keepers[one.name].person
        assert one.local.weekday() not in person.quiet_days, one
        assert 7 <= one.local.hour < 21 or one.local.hour == person.mail_at.hour, one


def _nothing_after_done(keepers: dict[str, Keeper]) -> None:
    """No mail told anything about what had been done, skipped, cancelled, stopped or lost before."""
    for keeper in keepers.values():
        sent = Digest.objects.filter(person=keeper.person, state=DigestState.SENT)
        for digest in sent.prefetch_related("notices"):
            for notice in digest.notices.all():
                done_on = keeper.done_on.get(notice.subject)
                if notice.withdrawn_at is None and done_on is not None:
                    assert digest.on <= done_on, (keeper.person.name, keeper.habit, notice)


def _each_notice_once_and_none_left(mails: list[Arrived]) -> None:
    assert Digest.objects.filter(state=DigestState.SENT).count() == len(mails)
    assert not Digest.objects.filter(state__in=[DigestState.DEAD, DigestState.EXPIRED]).exists()
    told = defaultdict(list)
    for notice in Notice.objects.filter(withdrawn_at=None, digest__state=DigestState.SENT):
        told[notice.person_id, notice.kind, notice.subject].append(notice.on)
    twice = {key: days for key, days in told.items() if len(days) > 1}
    assert all(person_put_off(key) for key in twice), twice


def person_put_off(key: tuple[int, str, str]) -> bool:
    """Only what its keeper put off is told again."""
    person, _, subject = key
    return Person.objects.get(pk=person).put_offs.filter(subject=subject).exists()


def _as_read(mails: list[Arrived]) -> None:
    listed = "".join(f"{one}\n" for one in sorted(mails, key=lambda one: (one.name, one.local)))
    if os.environ.get("RECOUNT_GOLDEN"):
        GOLDEN.write_text(listed)
    assert listed == GOLDEN.read_text()
