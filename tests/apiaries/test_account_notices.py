"""Mails about changes of an account: kept with the change, sent once, whatever the mail server does meanwhile."""

import datetime as dt
import re
import smtplib
import threading
from collections.abc import Callable
from typing import Any
from urllib.parse import urlencode

import pytest
from allauth.account.models import EmailAddress
from allauth.mfa.models import Authenticator
from django.core import mail
from django.core.mail.backends.locmem import EmailBackend
from django.db import connection
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from apiaries.actions import ask_to_leave, choose_language
from apiaries.actions.tokens import make_token, revoke_token
from apiaries.line import Line
from apiaries.models import AccessToken, AccountNotice, How, NoticeKind, Person
from apiaries.notices import OF_USE, tell
from apiaries.notices_sender import send_account_notices
from reports.health import oldest_due
from reports.pausing import pause_sending
from reports.tasks import wake_account_notices
from tests.apiaries.test_second_step import code_of
from tests.cast import PASSWORD, Cast

Opens = Callable[[Person | None], Client]
AT = dt.datetime(2026, 8, 12, 10, tzinfo=dt.UTC)
NEW_PASSWORD = "another-smoker-of-brass-9"


@pytest.fixture
def server_away(monkeypatch: pytest.MonkeyPatch) -> Callable[[], None]:
    """No mail server; call it to bring it back."""

    def refuse(*_: Any) -> None:
        raise OSError("no mail server")

    with monkeypatch.context() as patch:
        patch.setattr(EmailBackend, "open", refuse)
        patch.setattr(EmailBackend, "send_messages", refuse)
        yield patch.undo  # type: ignore[misc]


def kinds() -> list[str]:
    return list(AccountNotice.objects.values_list("kind", flat=True))


def signed_in(client_for: Opens, person: Person) -> Client:
    """With their password typed just now, and an address as after joining."""
    EmailAddress.objects.get_or_create(
        user=person, email=person.email, defaults={"verified": True, "primary": True}
    )
    client = client_for(person)
    client.post(reverse("account_reauthenticate"), {"password": PASSWORD})
    return client


def change_password(client: Client) -> Any:
    typed = {"oldpassword": PASSWORD, "password1": NEW_PASSWORD, "password2": NEW_PASSWORD}
    return client.post(reverse("account_change_password"), typed)


def test_server_away_the_change_is_saved_and_the_mail_arrives_once_after(
    cast: Cast, client_for: Opens, server_away: Callable[[], None]
) -> None:
    assert change_password(signed_in(client_for, cast.alice)).status_code == 302
    cast.alice.refresh_from_db()
    assert cast.alice.check_password(NEW_PASSWORD)
    for _ in range(20):
        assert send_account_notices(at=timezone.now()) == 0
    (waits,) = AccountNotice.objects.all()
    assert (waits.tries, waits.given_up_at) == (0, None)  # an outage is nobody's try
    assert oldest_due(at=timezone.now()) == waits.next_at  # and the health page turns red by it

    server_away()
    assert [send_account_notices(at=timezone.now()) for _ in range(3)] == [1, 0, 0]

    (sent,) = mail.outbox
    assert (sent.to, sent.subject) == (["alice@example.org"], "Your password was changed")
    assert sent.extra_headers["Message-ID"] == waits.message_id
    assert "It was not you?" in sent.body and "It was not you?" in str(sent.alternatives[0][0])
    (kept,) = AccountNotice.objects.all()
    assert (kept.text, kept.html) == ("", "") and kept.sent_at is not None


def test_change_that_is_undone_tells_nothing(
    cast: Cast, client_for: Opens, monkeypatch: pytest.MonkeyPatch
) -> None:
    client = signed_in(client_for, cast.alice)

    def break_off(*_: Any, **__: Any) -> None:
        raise RuntimeError

    monkeypatch.setattr("apiaries.notices.compose", break_off)
    with pytest.raises(RuntimeError):
        change_password(client)

    cast.alice.refresh_from_db()
    assert cast.alice.check_password(PASSWORD)  # with the mail about it, or not at all
    assert kinds() == []


def test_second_step_on_codes_anew_and_off(cast: Cast, client_for: Opens) -> None:
    client = signed_in(client_for, cast.alice)
    secret = re.search(r'value="([A-Z2-7]{16,})"', client.get(reverse("mfa_activate_totp")).content.decode())
    assert secret is not None

    client.post(reverse("mfa_activate_totp"), {"code": code_of(secret[1])})
    assert kinds() == ["step_on"]
    client.post(reverse("mfa_generate_recovery_codes"))
    assert kinds() == ["step_on", "codes"]
    client.post(reverse("mfa_deactivate_totp"))

    assert kinds() == ["step_on", "codes", "step_off"]
    assert not Authenticator.objects.filter(user=cast.alice).exists()


def test_changed_address_is_told_to_both(cast: Cast, client_for: Opens) -> None:
    client = signed_in(client_for, cast.alice)
    EmailAddress.objects.create(user=cast.alice, email="alice@example.com", verified=True)

    client.post(reverse("account_email"), {"email": "alice@example.com", "action_primary": ""})

    cast.alice.refresh_from_db()
    assert cast.alice.email == "alice@example.com"
    told = AccountNotice.objects.filter(kind=NoticeKind.EMAIL)
    assert {notice.to for notice in told} == {"alice@example.org", "alice@example.com"}
    assert all("alice@example.com from now on" in notice.text for notice in told)

    client.post(reverse("account_email"), {"email": "alice@example.org", "action_remove": ""})
    removed = AccountNotice.objects.get(kind=NoticeKind.EMAIL_REMOVED)
    assert removed.to == "alice@example.com" and "alice@example.org" in removed.text


@pytest.mark.parametrize(
    ("email", "action"),
    [
        ("thief@example.com", "action_add"),
        ("alice@example.com", "action_primary"),
        ("alice@example.com", "action_remove"),
    ],
)
def test_changing_addresses_asks_for_the_password_first_and_then_goes_on(
    cast: Cast, client_for: Opens, email: str, action: str
) -> None:
    for address, primary in (("alice@example.org", True), ("alice@example.com", False)):
        EmailAddress.objects.create(user=cast.alice, email=address, verified=True, primary=primary)
    before = list(EmailAddress.objects.values_list("email", "primary"))
    client, page, again = client_for(cast.alice), reverse("account_email"), reverse("account_reauthenticate")

    assert (
        client.post(page, {"email": email, action: ""})["Location"] == f"{again}?{urlencode({'next': page})}"
    )
    assert list(EmailAddress.objects.values_list("email", "primary")) == before and kinds() == []
    assert mail.outbox == []

    client.post(f"{again}?next={page}", {"password": PASSWORD, "next": page})

    if action == "action_add":  # its code is mailed; it is an address of theirs once they typed that
        assert [sent.to for sent in mail.outbox] == [["thief@example.com"]]
    else:
        assert list(EmailAddress.objects.values_list("email", "primary")) != before


def test_password_set_anew_by_mail_is_told(cast: Cast, client: Client) -> None:
    EmailAddress.objects.create(user=cast.alice, email=cast.alice.email, verified=True, primary=True)
    client.post(reverse("account_reset_password"), {"email": cast.alice.email})
    link = re.search(r"https?://[^/\s]+(/account/password/reset/key/\S+)", str(mail.outbox[0].body))
    assert link is not None
    form = client.get(link[1], follow=True)

    client.post(form.redirect_chain[-1][0], {"password1": NEW_PASSWORD, "password2": NEW_PASSWORD})

    cast.alice.refresh_from_db()
    assert cast.alice.check_password(NEW_PASSWORD)
    assert kinds() == ["password"]


def test_tokens_and_leaving_are_told_by_their_actions(cast: Cast) -> None:
    token, word = make_token(
        person=cast.alice, name="scale", scopes=["yards:read"], days=30, at=AT, by=cast.alice
    )
    assert revoke_token(token=token, at=AT, by=cast.alice)
    again = AccessToken.objects.get()
    assert not revoke_token(token=again, at=AT, by=cast.alice)
    ask_to_leave(person=cast.alice, how=How.OWN, at=AT, by=cast.alice)
    ask_to_leave(person=cast.alice, how=How.OWN, at=AT, by=cast.alice)

    assert kinds() == ["token_made", "token_revoked", "leaving"]
    assert all(word not in notice.text for notice in AccountNotice.objects.all())


def test_mail_is_in_the_persons_language_and_zone(cast: Cast) -> None:
    choose_language(person=cast.alice, language="de", by=cast.alice)

    notice = tell(NoticeKind.PASSWORD, cast.alice, at=AT)

    assert '<html lang="de">' in notice.html
    assert "12:00" in notice.text  # Berlin's summer


def test_refused_for_good_is_given_up_and_says_so(
    cast: Cast, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    notice = tell(NoticeKind.PASSWORD, cast.alice, at=AT)
    tell(NoticeKind.PASSWORD, cast.bob, at=AT)
    send = EmailBackend.send_messages

    def refuse(self: EmailBackend, messages: Any) -> int:
        if messages[0].to == ["alice@example.org"]:
            raise smtplib.SMTPRecipientsRefused({"alice@example.org": (550, b"no such mailbox")})
        return send(self, messages)

    monkeypatch.setattr(EmailBackend, "send_messages", refuse)
    assert send_account_notices(at=AT) == 1  # the other one goes on

    notice.refresh_from_db()
    assert (notice.given_up_at, notice.why_not, notice.text) == (AT, "550 no such mailbox", "")
    assert "given up: 550 no such mailbox" in caplog.text


def test_put_off_is_tried_again_later_and_given_up_in_the_end(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    notice = tell(NoticeKind.PASSWORD, cast.alice, at=AT)
    tried = []

    def grey(self: EmailBackend, messages: Any) -> int:
        tried.append(now)
        raise smtplib.SMTPRecipientsRefused({"alice@example.org": (450, b"later")})

    monkeypatch.setattr(EmailBackend, "send_messages", grey)
    now = AT
    while now < AT + OF_USE + dt.timedelta(hours=7):
        send_account_notices(at=now)
        now += dt.timedelta(minutes=30)

    notice.refresh_from_db()
    assert 10 < len(tried) < 20
    assert notice.given_up_at is not None and notice.given_up_at >= AT + OF_USE
    assert notice.why_not == "450 later"


def test_nothing_leaves_while_sending_is_paused(cast: Cast) -> None:
    tell(NoticeKind.PASSWORD, cast.alice, at=AT)
    pause_sending(at=AT, why="restored")

    wake_account_notices()

    assert mail.outbox == []


@pytest.mark.django_db(transaction=True)
def test_two_senders_send_it_once(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    tell(NoticeKind.PASSWORD, cast.alice, at=AT)
    others: list[int] = []
    hand_over = Line.hand_over

    def meanwhile(self: Line, message: Any) -> None:
        other = threading.Thread(target=another)
        other.start()
        other.join(30)
        hand_over(self, message)

    def another() -> None:
        others.append(send_account_notices(at=AT + dt.timedelta(minutes=5)))
        connection.close()

    monkeypatch.setattr(Line, "hand_over", meanwhile)
    assert send_account_notices(at=AT) == 1

    assert others == [0] and len(mail.outbox) == 1


def test_sender_killed_while_sending_leaves_it_for_later(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    notice = tell(NoticeKind.PASSWORD, cast.alice, at=AT)

    def die(*_: Any) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(Line, "hand_over", die)
        with pytest.raises(KeyboardInterrupt):
            send_account_notices(at=AT)
    notice.refresh_from_db()
    assert notice.sent_at is None and notice.text
    assert send_account_notices(at=AT) == 0  # behind the others, so that it cannot stop them for ever
    assert send_account_notices(at=AT + dt.timedelta(minutes=2)) == 1
