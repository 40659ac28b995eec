"""The wish to be forgotten: asked with password and word, called off, carried out when due; journal and console."""

import datetime as dt
import json
import re
import smtplib
from collections.abc import Callable
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
import time_machine
from django.core.management import CommandError, call_command
from django.test import Client

from apiaries.actions import (
    LastAdministrator,
    NotOpen,
    ask_to_leave,
    call_off_leaving,
    change_role,
    forget_person,
)
from apiaries.forgetting import journal
from apiaries.leaving_sweep import forget_due
from apiaries.models import Club, How, Leaving, Membership, Person, Yard
from apiaries.permissions import Role
from tests.apiaries.outgoing import mails
from tests.cast import PASSWORD, Cast

AT = dt.datetime(2026, 9, 30, 12, tzinfo=dt.UTC)
DUE = AT + dt.timedelta(days=7)
SENT = {"password": PASSWORD, "word": "forget"}
PAGE = "/me/leave/"
Clients = Callable[[Person | None], Client]


@pytest.fixture(autouse=True)
def place(settings: Any, tmp_path: Path) -> Path:
    """Where the journal of a test is."""
    settings.ERASURE_JOURNAL = tmp_path / "deep" / "journal.jsonl"
    return settings.ERASURE_JOURNAL


def _text(response: Any) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", response.content.decode()))


@pytest.fixture
def on_the_day() -> Any:
    with time_machine.travel(AT, tick=False):
        yield


def test_who_asks_is_told_the_day_and_how_to_call_it_off(
    cast: Cast, client_for: Clients, on_the_day: None
) -> None:
    client = client_for(cast.charlie)

    page = client.post(PAGE, SENT, follow=True)

    assert "You will be forgotten on 7 Oct 2026" in _text(page)
    leaving = Leaving.objects.get()
    assert (leaving.person, leaving.how, leaving.due_at) == (cast.charlie, How.OWN, DUE)
    (sent,) = mails()
    assert sent.to == ["charlie@example.org"] and "7 Oct 2026" in sent.subject
    assert "/me/leave/" in sent.body and "call it off" in sent.body
    assert Person.objects.get(pk=cast.charlie.pk).name == "Charlie"  # nothing is erased yet


def test_asking_twice_is_asking_once(cast: Cast, client_for: Clients) -> None:
    client = client_for(cast.charlie)

    client.post(PAGE, SENT)
    client.post(PAGE, SENT)

    assert Leaving.objects.count() == 1 and len(mails()) == 1


@pytest.mark.parametrize(
    ("sent", "words"),
    [
        ({"password": "wrong", "word": "forget"}, "This is not your password."),
        ({"password": "", "word": "forget"}, "Enter your password."),
        ({"password": PASSWORD, "word": "delete"}, "Type “forget”, without the marks."),
        ({"password": PASSWORD, "word": ""}, "Type the word."),
    ],
)
def test_a_wrong_password_or_word_changes_nothing(
    cast: Cast, client_for: Clients, sent: dict[str, str], words: str
) -> None:
    page = client_for(cast.charlie).post(PAGE, sent)

    assert page.status_code == 200 and words in _text(page)
    assert not Leaving.objects.exists() and not mails()


def test_the_word_is_taken_in_any_case(cast: Cast, client_for: Clients) -> None:
    client_for(cast.charlie).post(PAGE, {"password": PASSWORD, "word": " Forget "})

    assert Leaving.objects.exists()


def test_passwords_cannot_be_guessed_here(cast: Cast, client_for: Clients) -> None:
    client = client_for(cast.charlie)

    answers = [client.post(PAGE, SENT | {"password": str(number)}).status_code for number in range(11)]

    assert answers == [200] * 10 + [429]


def test_without_a_password_one_must_have_signed_in_just_now(cast: Cast, client_for: Clients) -> None:
    cast.charlie.set_unusable_password()
    cast.charlie.save()
    client = client_for(cast.charlie)

    page = client.post(PAGE, {"word": "forget"})
    assert "come back within five minutes" in _text(page) and not Leaving.objects.exists()

    session = client.session
    session["account_authentication_methods_user"] = str(cast.charlie.pk)
    session["account_authentication_methods"] = [
        {"method": "code", "at": dt.datetime.now(dt.UTC).timestamp()}
    ]
    session.save()
    client.post(PAGE, {"word": "forget"})
    assert Leaving.objects.exists()


def test_called_off_nothing_happens(cast: Cast, client_for: Clients) -> None:
    client = client_for(cast.charlie)
    client.post(PAGE, SENT)
    assert "You will be forgotten on" in _text(client.get("/me/"))

    page = client.post("/me/leave/call-off/", follow=True)

    assert "You stay. Nothing was erased." in _text(page)
    assert forget_due(at=dt.datetime.now(dt.UTC) + dt.timedelta(days=30)) == 0
    assert Person.objects.get(pk=cast.charlie.pk).name == "Charlie"
    assert "Nothing was to be called off." in _text(client.post("/me/leave/call-off/", follow=True))
    client.post(PAGE, SENT)  # and can be asked for again
    assert Leaving.objects.open().count() == 1


def test_the_last_administrator_hands_over_first(cast: Cast, client_for: Clients) -> None:
    client = client_for(cast.adam)
    assert "Hand the club over first" in _text(client.get(PAGE))

    page = client.post(PAGE, SENT)

    assert "The club needs an administrator." in _text(page) and not Leaving.objects.exists()
    change_role(membership=cast.dana.memberships.get(), role=Role.ADMINISTRATOR, by=cast.adam)
    assert "Hand the club over first" not in _text(client.get(PAGE))
    client.post(PAGE, SENT)
    assert Leaving.objects.get().person == cast.adam
    # Nor may the other one go then.
    with pytest.raises(LastAdministrator):
        ask_to_leave(person=cast.dana, how=How.OWN, at=AT, by=cast.dana)


def test_who_became_the_last_administrator_meanwhile_waits(
    cast: Cast, caplog: pytest.LogCaptureFixture
) -> None:
    dana = cast.dana.memberships.get()
    change_role(membership=dana, role=Role.ADMINISTRATOR, by=cast.adam)
    ask_to_leave(person=cast.adam, how=How.OWN, at=AT, by=cast.adam)
    ask_to_leave(person=cast.charlie, how=How.OWN, at=AT, by=cast.charlie)
    Membership.objects.filter(pk=dana.pk).update(role=Role.MEMBER)

    assert forget_due(at=DUE) == 1  # Charlie's wish does not wait for Adam's

    assert "would be without an administrator" in caplog.text
    assert "Adam" not in caplog.text and "adam@" not in caplog.text
    assert Person.objects.get(pk=cast.adam.pk).forgotten_at is None


def test_an_administrator_notes_a_members_wish(cast: Cast, client_for: Clients) -> None:
    address = f"/members/{cast.charlie.memberships.get().pk}/forget/"
    client = client_for(cast.adam)

    page = client.post(address, SENT)
    assert "Without their written wish nobody is forgotten." in _text(page)
    assert "Orchard" not in _text(page)  # what is Charlie's is not shown to Adam

    page = client.post(address, SENT | {"in_writing": "on"}, follow=True)

    leaving = Leaving.objects.get()
    assert (leaving.person, leaving.how, leaving.asked_by) == (cast.charlie, How.IN_WRITING, cast.adam)
    assert mails()[0].to == ["charlie@example.org"] and "Adam noted your written wish" in mails()[0].body
    assert "Charlie will be forgotten on" in _text(page)
    page = client.post(f"{address}call-off/", follow=True)
    assert "Charlie stays. Nothing was erased." in _text(page)


def test_mail_server_away_the_wish_stands_and_the_mail_comes_after(
    cast: Cast, client_for: Clients, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: Any, **__: Any) -> None:
        raise smtplib.SMTPServerDisconnected("gone")

    with monkeypatch.context() as away:
        away.setattr("django.core.mail.backends.locmem.EmailBackend.open", refuse)
        client_for(cast.charlie).post(PAGE, SENT, follow=True)
        assert mails() == []

    assert Leaving.objects.open().count() == 1
    assert [sent.to for sent in mails()] == [["charlie@example.org"]]


def test_forgotten_they_cannot_sign_in_and_their_page_is_closed(
    cast: Cast, client_for: Clients, place: Path
) -> None:
    client = client_for(cast.charlie)
    assert client.get("/me/").status_code == 200
    ask_to_leave(person=cast.charlie, how=How.OWN, at=AT, by=cast.charlie)
    assert forget_due(at=DUE - dt.timedelta(seconds=1)) == 0

    assert forget_due(at=DUE) == 1

    assert client.get("/me/").status_code == 302
    page = Client().post("/account/login/", {"login": "charlie@example.org", "password": PASSWORD})
    assert page.status_code == 200 and "_auth_user_id" not in page.wsgi_request.session
    assert not Membership.objects.filter(person=cast.charlie, ended_at=None).exists()
    assert "Charlie" not in _text(client_for(cast.adam).get("/members/"))
    assert "Charlie" not in place.read_text() and "@" not in place.read_text()
    with pytest.raises(NotOpen):
        call_off_leaving(leaving=Leaving.objects.get(), at=DUE, by=cast.adam)
    with pytest.raises(NotOpen):
        forget_person(leaving=Leaving.objects.get(), at=DUE)


def test_the_address_can_be_invited_again(cast: Cast, client_for: Clients) -> None:
    ask_to_leave(person=cast.charlie, how=How.OWN, at=AT, by=cast.charlie)
    forget_due(at=DUE)
    data = {"email": "charlie@example.org", "role": "member"}

    client_for(cast.adam).post("/members/invite/", data)

    assert mails()[-1].to == ["charlie@example.org"]
    assert not Yard.objects.filter(keeper__email="charlie@example.org").exists()


def _restored(person: Person, **columns: Any) -> None:
    """As a backup of the day before has the row."""
    Person.objects.filter(pk=person.pk).update(
        name="Charlie", email="charlie@example.org", is_active=True, forgotten_at=None, **columns
    )


def test_a_restored_backup_is_told_who_was_forgotten(cast: Cast, place: Path) -> None:
    ask_to_leave(person=cast.charlie, how=How.OWN, at=AT, by=cast.charlie)
    forget_due(at=DUE)
    written = place.read_text()
    _restored(cast.charlie)
    Yard.objects.filter(keeper=cast.charlie).update(name="Orchard", closed_on=None)
    Leaving.objects.update(done_at=None)
    out = StringIO()

    call_command("replay_erasures", "--dry-run", stdout=out)
    assert f"person {cast.charlie.pk}: would be forgotten again" in out.getvalue()
    assert Person.objects.get(pk=cast.charlie.pk).name == "Charlie"
    call_command("replay_erasures", stdout=out)

    person = Person.objects.get(pk=cast.charlie.pk)
    assert (person.name, person.is_active, person.forgotten_at) == ("Former member", False, DUE)
    assert not Yard.objects.filter(name="Orchard").exists()
    assert not Leaving.objects.open().exists()
    assert place.read_text() == written  # a replay writes nothing anew
    out = StringIO()
    call_command("replay_erasures", str(place), stdout=out)
    assert "1 in the journal, 0 of them were back" in out.getvalue()


def test_a_replay_touches_nobody_else_under_the_same_key(cast: Cast, settings: Any) -> None:
    ask_to_leave(person=cast.charlie, how=How.OWN, at=AT, by=cast.charlie)
    forget_due(at=DUE)
    _restored(cast.charlie, joined_at=AT)  # another person, who joined at another moment

    with pytest.raises(CommandError, match=f"key of {cast.charlie.pk}"):
        call_command("replay_erasures", stdout=StringIO())

    assert Person.objects.get(pk=cast.charlie.pk).name == "Charlie"


def test_a_journal_of_an_old_key_is_read_with_it(cast: Cast, settings: Any) -> None:
    ask_to_leave(person=cast.charlie, how=How.OWN, at=AT, by=cast.charlie)
    forget_due(at=DUE)
    _restored(cast.charlie)
    old, settings.SECRET_KEY = settings.SECRET_KEY, "another key " * 5

    with pytest.raises(CommandError):
        call_command("replay_erasures", stdout=StringIO())
    settings.SECRET_KEY_FALLBACKS = [old]
    call_command("replay_erasures", stdout=StringIO())

    assert Person.objects.get(pk=cast.charlie.pk).name == "Former member"


@pytest.mark.parametrize("text", ["not json", "{}", '{"person": 1, "at": "yesterday", "mark": ""}', "[]"])
def test_a_broken_journal_is_named_and_nothing_is_changed(cast: Cast, place: Path, text: str) -> None:
    place.parent.mkdir()
    place.write_text(f"{text}\n")

    with pytest.raises(CommandError, match="line 1"):
        call_command("replay_erasures", stdout=StringIO())


def test_the_journal_is_its_owners_and_says_only_what_it_must(cast: Cast, place: Path) -> None:
    journal.append(cast.charlie, at=AT)
    journal.append(cast.bob, at=AT)

    assert place.stat().st_mode & 0o777 == 0o600
    told = [json.loads(line) for line in place.read_text().splitlines()]
    assert [set(one) for one in told] == [{"person", "at", "mark"}] * 2
    assert [line.person for line in journal.lines([place])] == [cast.charlie.pk, cast.bob.pk]


def test_the_console_rehearses_notes_and_forgets(cast: Cast, place: Path) -> None:
    out = StringIO()
    call_command("erase_keeper", "--email", "Charlie@example.org", "--dry-run", stdout=out)
    assert "apiaries_person: " in out.getvalue() and "Nothing was changed." in out.getvalue()
    assert Person.objects.get(pk=cast.charlie.pk).name == "Charlie" and not place.exists()
    assert Club.objects.get(pk=cast.club.pk).memberships.current().filter(person=cast.charlie).exists()

    call_command("erase_keeper", "--email", "charlie@example.org", stdout=out)
    assert Leaving.objects.get().how == How.CONSOLE and len(mails()) == 1
    assert Person.objects.get(pk=cast.charlie.pk).name == "Charlie"

    call_command("erase_keeper", "--email", "charlie@example.org", "--now", stdout=out)
    assert Person.objects.get(pk=cast.charlie.pk).name == "Former member"
    with pytest.raises(CommandError, match="Nobody signs in"):
        call_command("erase_keeper", "--email", "charlie@example.org", "--now", stdout=out)


def test_the_console_refuses_the_last_administrator_and_a_journal_that_cannot_be_written(
    cast: Cast, settings: Any, tmp_path: Path
) -> None:
    with pytest.raises(CommandError, match="without an administrator"):
        call_command("erase_keeper", "--email", "adam@example.org", "--now", stdout=StringIO())
    (tmp_path / "file").write_text("")
    settings.ERASURE_JOURNAL = tmp_path / "file" / "journal"

    with pytest.raises(CommandError, match="Nobody was forgotten"):
        call_command("erase_keeper", "--email", "charlie@example.org", "--now", stdout=StringIO())

    assert Person.objects.get(pk=cast.charlie.pk).name == "Charlie"
