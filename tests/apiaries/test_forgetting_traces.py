"""What is the leaver's is found however it is spelled, and what is others' stays whole."""

import datetime as dt
import json
from pathlib import Path
from typing import Any

import pytest
from django.contrib.sessions.backends.db import SessionStore
from django.core.mail import EmailMessage
from django.core.mail.backends.filebased import EmailBackend

from apiaries.actions import ask_to_leave, forget_person
from apiaries.actions.visit_follow_up import close_order
from apiaries.actions.visits import record_visit
from apiaries.forgetting.wiping import Traces
from apiaries.models import How, Person
from tests.cast import Cast
from tests.visiting import AT, ON, a_visit

LEFT = AT + dt.timedelta(days=8)


@pytest.fixture(autouse=True)
def place(settings: Any, tmp_path: Path) -> None:
    settings.ERASURE_JOURNAL = tmp_path / "journal.jsonl"
    settings.EMAIL_BACKEND = "django.core.mail.backends.filebased.EmailBackend"
    settings.EMAIL_FILE_PATH = tmp_path / "mail"


def _forget(person: Person) -> None:
    forget_person(leaving=ask_to_leave(person=person, how=How.OWN, at=AT, by=person), at=LEFT)


def _session(**told: Any) -> SessionStore:
    session = SessionStore()
    session.update(told)
    session.save()
    return session


def _mailed(to: str, path: Path) -> EmailBackend:
    """In a file of its own as long as the backend is kept: the file is named by it."""
    backend = EmailBackend(file_path=path)
    backend.send_messages([EmailMessage("To you", "Hello", "club@club.example", [to])])
    return backend


def test_fulfilled_order_keeps_what_was_noted_then(cast: Cast) -> None:
    Person.objects.filter(pk=cast.ines.pk).update(name="Ines Indigo")
    cast.ines.refresh_from_db()
    (order,) = record_visit(new=a_visit(cast), planned=None, at=AT, by=cast.ines).orders.all()
    close_order(order=order, done_on=ON, note="combs melted, seen by Ines Indigo", at=AT, by=cast.ines)

    _forget(cast.ines)

    order.refresh_from_db()
    assert (order.done_on, order.done_note) == (ON, "combs melted, seen by former member")


@pytest.mark.parametrize("domain", ["club.example", "clüb.example"])
def test_sessions_and_mails_of_a_longer_address_stay(cast: Cast, tmp_path: Path, domain: str) -> None:
    Person.objects.filter(pk=cast.charlie.pk).update(email=f"ann@{domain}")
    cast.charlie.refresh_from_db()
    theirs = [
        _session(login={"email": f"Ann@{domain}"}),
        _session(login=json.dumps({"email": f"ann@{domain}"})),
        _session(told=f"a mail went to\nann@{domain}"),
    ]
    others = _session(login={"email": f"joann@{domain}"})
    first = _mailed(f"ann@{domain}", tmp_path / "mail")
    went = set((tmp_path / "mail").iterdir())
    second = _mailed(f"joann@{domain}", tmp_path / "mail")
    assert first is not second
    stays = set((tmp_path / "mail").iterdir()) - went
    assert (len(went), len(stays)) == (1, 1)

    _forget(cast.charlie)

    assert [one.session_key for one in theirs if SessionStore().exists(one.session_key)] == []
    assert SessionStore().exists(others.session_key)
    assert set((tmp_path / "mail").iterdir()) == stays


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("write to ANN@clüb.example.", True),
        ("ann@xn--clb-ioa.example", True),
        (json.dumps("ann@clüb.example"), True),
        (json.dumps("ANN@CLÜB.EXAMPLE"), True),
        (json.dumps(json.dumps("ann@clüb.example")), True),
        (json.dumps("\nann@clüb.example"), True),
        ("joann@clüb.example", False),
        ("ann@clüb.examples", False),
        ("Ann Umber", False),
    ],
)
def test_address_is_found_as_a_whole_however_it_is_spelled(text: str, found: bool) -> None:
    traces = Traces(frozenset({"ann@clüb.example"}), frozenset({"Ann Umber"}))

    assert traces.address_in(text) is found


def test_somebody_without_traces_is_found_nowhere() -> None:
    assert not Traces(frozenset(), frozenset({"Ann"})).any_in("Ann")
