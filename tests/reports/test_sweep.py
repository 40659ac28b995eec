"""What is over goes, what is not stays, and facts are never touched."""

import datetime as dt
from pathlib import Path
from typing import Any

import psycopg
import pytest
from django.apps import apps
from django.contrib.sessions.models import Session
from django.core.cache import cache
from django.core.management import CommandError, call_command
from django.db import DatabaseError, connection

from apiaries import sweeping as of_people
from apiaries.forgetting.registry import history_of
from apiaries.models import Invitation, Membership
from apiaries.permissions import Role
from counts.imports.actions import take_in_sheet
from counts.imports.said import Said
from counts.models import ImportBatch, ImportState, ImportWork
from reports import sweep as sweeping
from reports.models import Digest, DigestAttempt, DigestState, Notice, NoticeKind, ReturnedFile
from reports.sweep import ALL, sweep
from reports.sweeping import MAIL_DAYS
from tests.cast import Cast

AT = dt.datetime(2026, 9, 1, 12, tzinfo=dt.UTC)
DAY = dt.timedelta(days=1)


def session(key: str, ends: dt.datetime) -> None:
    Session.objects.create(session_key=key, session_data="x", expire_date=ends)


def invite(cast: Cast, email: str, *, sent: dt.datetime, ends: dt.datetime) -> Invitation:
    made = Invitation.objects.create(
        club=cast.club,
        email=email,
        role=Role.MEMBER,
        invited_by=cast.dana,
        expires_at=ends,
    )
    Invitation.objects.filter(pk=made.pk).update(invited_at=sent)
    return made


def mail(cast: Cast, on: dt.date, state: DigestState) -> Digest:
    digest = Digest.objects.create(
        person=cast.alice,
        on=on,
        send_at=AT,
        next_at=AT,
        useless_after=AT,
        state=state,
        sent_at=AT if state == DigestState.SENT else None,
        message_id=f"<{on}@example.org>",
    )
    DigestAttempt.objects.create(digest=digest, started_at=AT, outcome="sent", detail="250 OK")
    Notice.objects.create(
        person=cast.alice,
        kind=NoticeKind.RECOUNT_DUE,
        subject="recount:1",
        on=on,
        planned_at=AT,
        digest=digest,
    )
    return digest


def test_sessions_that_ran_out_go(cast: Cast) -> None:
    session("over", AT - DAY)
    session("holds", AT + DAY)

    assert sweep(at=AT)["sessions"] == 1
    assert list(Session.objects.values_list("session_key", flat=True)) == ["holds"]


def test_counters_that_ran_out_go_and_those_that_hold_stay(cast: Cast) -> None:
    now = dt.datetime.now(dt.UTC)
    cache.clear()  # of rows that tests with real transactions left in the table
    cache.set("over", 5, 60)
    cache.set("holds", 5, 60 * 60 * 24)

    assert sweep(at=now + dt.timedelta(hours=1))["cache"] == 1
    assert (cache.get("over"), cache.get("holds")) == (None, 5)


def test_many_counters_push_none_out(cast: Cast) -> None:
    """Django's own table drops a third of its rows past 300, by their names: limits on guessing with them."""
    cache.set("a-guess", 5, 600)
    for number in range(320):
        cache.set(f"b-{number}", 1, 600)

    assert cache.get("a-guess") == 5


def test_address_of_who_never_came_goes_from_its_history_too(cast: Cast) -> None:
    old = invite(cast, "never@example.org", sent=AT - 120 * DAY, ends=AT - 91 * DAY)
    fresh = invite(cast, "lately@example.org", sent=AT - 90 * DAY, ends=AT - 89 * DAY)
    word = old.token

    assert sweep(at=AT)["addresses-of-invitations"] == 1
    old.refresh_from_db()
    fresh.refresh_from_db()
    assert (old.email, fresh.email) == (of_people.NOBODY, "lately@example.org")
    assert old.token != word
    for history in history_of(Invitation):
        kept = list(history._default_manager.filter(pgh_obj=old.pk).values_list("email", flat=True))
        assert set(kept) == {of_people.NOBODY}
    assert sweep(at=AT)["addresses-of-invitations"] == 0


def test_who_was_put_out_does_not_come_back_by_an_old_invitation(cast: Cast) -> None:
    before = invite(cast, cast.charlie.email, sent=AT - 3 * DAY, ends=AT + 10 * DAY)
    after = invite(cast, cast.charlie.email, sent=AT - DAY, ends=AT + 10 * DAY)
    other = invite(cast, "new@example.org", sent=AT - 3 * DAY, ends=AT + 10 * DAY)
    Membership.objects.filter(person=cast.charlie).update(ended_at=AT - 2 * DAY, ended_by=cast.adam)

    sweep(at=AT)

    assert [Invitation.objects.get(pk=one.pk).is_open(AT) for one in (before, after, other)] == [
        False,
        True,
        True,
    ]


def test_sheet_that_nobody_came_back_to_is_put_aside_without_its_file(cast: Cast) -> None:
    club = cast.club
    kept = {"club": club, "name": "a.csv", "data": b"x", "said": Said(), "by": cast.dana}
    old = take_in_sheet(at=AT - 31 * DAY, **kept)
    new = take_in_sheet(at=AT - 29 * DAY, **kept)
    ImportBatch.objects.update(state=ImportState.LOOK)

    assert sweep(at=AT)["sheets"] == 1
    old.refresh_from_db()
    assert old.state == ImportState.REFUSED
    assert list(ImportWork.objects.values_list("pk", flat=True)) == [new.pk]


def test_returned_file_is_kept_a_day(cast: Cast) -> None:
    file = {"content": b"x", "sha256": "0" * 64, "told": {}}
    ReturnedFile.objects.create(person=cast.alice, sent_at=AT - DAY - dt.timedelta(seconds=1), **file)
    ReturnedFile.objects.create(person=cast.bob, sent_at=AT - dt.timedelta(hours=23), **file)

    assert sweep(at=AT)["returned-files"] == 1
    assert ReturnedFile.objects.get().person == cast.bob


def test_old_mails_go_with_all_they_left_and_waiting_ones_stay(cast: Cast) -> None:
    old = AT.date() - dt.timedelta(days=MAIL_DAYS + 1)
    mail(cast, old, DigestState.SENT)
    mail(cast, old - DAY, DigestState.DEAD)
    waiting = mail(cast, old - 2 * DAY, DigestState.PENDING)
    late = mail(cast, old + DAY, DigestState.SENT)

    assert sweep(at=AT)["mails"] == 2
    assert set(Digest.objects.all()) == {waiting, late}
    assert set(DigestAttempt.objects.values_list("digest", flat=True)) == {waiting.pk, late.pk}
    left = set(Notice.objects.values_list("pk", flat=True))
    assert len(left) == 2
    for history in history_of(Notice):
        assert set(history._default_manager.values_list("pgh_obj", flat=True)) == left


def test_it_goes_on_in_portions_until_all_are_gone(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sweeping, "PORTION", 2)
    for number in range(5):
        session(f"over {number}", AT - DAY)

    assert sweep(at=AT)["sessions"] == 5


def test_one_kind_that_fails_stops_no_other(
    cast: Cast, monkeypatch: pytest.MonkeyPatch, capsys: Any, caplog: pytest.LogCaptureFixture
) -> None:
    def refuse(at: dt.datetime, most: int) -> int:
        raise DatabaseError("no")

    session("over", AT - DAY)
    first = of_people.Sweep("first", "", "", "", refuse)
    monkeypatch.setattr(sweeping, "ALL", (first, *ALL))

    with pytest.raises(CommandError, match="Not all could be swept"):
        call_command("sweep")

    printed = capsys.readouterr().out
    assert "first: stopped, see the log" in printed
    assert "sessions: 1 gone" in printed
    assert "sweep of first stopped" in caplog.text


def test_facts_stay_whatever_the_day_is(reference: None, cast: Cast) -> None:
    """A hundred years later nothing but the listed kinds is less, and a second sweep finds nothing."""
    may_go = {
        "sessions.session",
        "reports.digest",
        "reports.digestattempt",
        "reports.notice",
        "reports.noticeevent",
        "reports.returnedfile",
        "counts.importwork",
        "counts.importrow",
        "treatments.lockedentry",
    }

    def rows() -> dict[str, int]:
        return {
            model._meta.label_lower: model._default_manager.count()
            for model in apps.get_models()
            if model._meta.managed and model._meta.label_lower not in may_go
        }

    invite(cast, "never@example.org", sent=AT, ends=AT + DAY)
    mail(cast, AT.date(), DigestState.SENT)
    before = rows()
    later = AT + 36500 * DAY
    assert before["apiaries.yard"] > 0

    first = sweep(at=later)

    after = rows()
    assert {name: (before[name], after[name]) for name in before if after[name] < before[name]} == {}
    assert first["mails"] == 1
    assert set(sweep(at=later).values()) == {0}


@pytest.mark.slow
@pytest.mark.django_db(transaction=True)
def test_what_somebody_holds_is_left_for_the_next_time() -> None:
    session("held", AT - DAY)
    session("free", AT - DAY)
    with psycopg.connect(**connection.get_connection_params() | {"cursor_factory": None}) as other:
        other.execute("SELECT 1 FROM django_session WHERE session_key = 'held' FOR UPDATE")

        assert sweep(at=AT)["sessions"] == 1

    assert sweep(at=AT)["sessions"] == 1
    assert Session.objects.count() == 0


def test_every_kind_stands_in_the_page_with_its_code() -> None:
    page = (Path(__file__).parents[2] / "docs/reference/retention.md").read_text()

    assert len({one.name for one in ALL}) == len(ALL)
    for one in ALL:
        assert f"| `{one.name}` | `{one.portion.__module__}.{one.portion.__name__}` |" in page
