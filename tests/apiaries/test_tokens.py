"""Tokens of other programs: made, shown once, used within their scopes, ended."""

import datetime as dt
import json
import re
import uuid
from collections.abc import Callable
from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from apiaries.actions.tokens import (
    MOST_TOKENS,
    NoScope,
    NotTheirs,
    OddLife,
    TooManyTokens,
    make_token,
    note_use,
    revoke_token,
)
from apiaries.api.scopes import Scope, scope_words
from apiaries.models import AccessToken, Person
from tests.api_asking import ALL, Program
from tests.apiaries.outgoing import mails
from tests.cast import PASSWORD, Cast

Opens = Callable[[Person | None], Client]
AT = dt.datetime(2026, 8, 12, 10, 20, tzinfo=dt.UTC)
MAKE = reverse("apiaries:token-make")
LIST = reverse("apiaries:token-list")
TYPED = {"name": "scale", "scopes": ["yards:read", "counts:write"], "days": "90"}


def _make(person: Person, **said: Any) -> tuple[AccessToken, str]:
    facts = {"name": "scale", "scopes": ["yards:read"], "days": 30, "at": timezone.now(), "by": person}
    return make_token(person=person, **(facts | said))


def _confirmed(client_for: Opens, person: Person) -> Client:
    """Somebody who just typed their password."""
    client = client_for(person)
    client.post(reverse("account_reauthenticate"), {"password": PASSWORD})
    return client


def _words(answer: Any) -> list[str]:
    """The words of tokens that a page shows."""
    return re.findall(r'value="(rc_[a-z2-7]{40})"', answer.content.decode())


def test_word_has_200_random_bits_and_is_kept_as_its_digest_only(cast: Cast) -> None:
    made = [_make(cast.alice) for _ in range(20)]

    assert len({word for _, word in made}) == 20
    for token, word in made:
        assert re.fullmatch(r"rc_[a-z2-7]{40}", word)
        assert token.prefix == word[3:11]
    with connection.cursor() as cursor:
        for table in ("apiaries_accesstoken", "apiaries_accesstokenevent"):
            cursor.execute(f"SELECT t::text FROM {table} t")
            kept = str(cursor.fetchall())
            assert made[0][0].prefix in kept
            assert not any(word[11:] in kept for _, word in made)


def test_history_keeps_making_and_revoking_and_no_digest(cast: Cast) -> None:
    token, _ = _make(cast.alice)
    note_use(token=token, at=timezone.now(), by=cast.alice)
    revoke_token(token=token, at=timezone.now(), by=cast.alice)

    events = AccessToken.pgh_event_model.objects.filter(pgh_obj=token).order_by("pgh_id")

    assert [event.pgh_label for event in events] == ["insert", "update"]
    assert [event.pgh_context.metadata["verb"] for event in events] == ["make_token", "revoke_token"]
    assert not {"digest", "last_used_at"} & {field.name for field in events.model._meta.fields}


@pytest.mark.parametrize(
    ("said", "refusal"),
    [
        ({"scopes": []}, NoScope),
        ({"scopes": ["everything"]}, NoScope),
        ({"scopes": ["yards:read", "admin"]}, NoScope),
        ({"days": 31}, OddLife),
        ({"days": 0}, OddLife),
    ],
)
def test_odd_tokens_are_refused(cast: Cast, said: dict[str, Any], refusal: type[Exception]) -> None:
    with pytest.raises(refusal):
        _make(cast.alice, **said)
    assert not AccessToken.objects.exists()


def test_nobody_makes_or_revokes_a_token_of_somebody_else(cast: Cast) -> None:
    with pytest.raises(NotTheirs):
        _make(cast.alice, by=cast.adam)
    token, _ = _make(cast.alice)
    with pytest.raises(NotTheirs):
        revoke_token(token=token, at=timezone.now(), by=cast.adam)


def test_nobody_has_more_than_fifty(cast: Cast) -> None:
    for _ in range(MOST_TOKENS):
        token, _ = _make(cast.alice)
    with pytest.raises(TooManyTokens):
        _make(cast.alice)
    revoke_token(token=token, at=timezone.now(), by=cast.alice)
    _make(cast.alice)


@pytest.mark.parametrize(
    "wrong",
    [
        "scopes = ARRAY['admin']",
        "scopes = ARRAY[]::varchar[]",
        "expires_at = made_at",
        "expires_at = made_at + interval '2 years'",
        "revoked_at = now()",
    ],
)
def test_database_refuses_a_token_that_cannot_be(cast: Cast, wrong: str) -> None:
    token, _ = _make(cast.alice)
    with pytest.raises(IntegrityError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(f"UPDATE apiaries_accesstoken SET {wrong} WHERE id = %s", [token.pk])


def test_last_use_is_kept_to_the_hour_and_written_once_an_hour(cast: Cast, django_assert_num_queries) -> None:
    token, _ = _make(cast.alice, at=AT)

    for minute in (20, 59):
        note_use(token=token, at=AT.replace(minute=minute), by=cast.alice)
    token.refresh_from_db()
    assert token.last_used_at == AT.replace(minute=0)
    with django_assert_num_queries(0):
        note_use(token=token, at=AT.replace(minute=45), by=cast.alice)
    note_use(token=token, at=AT + dt.timedelta(hours=3), by=cast.alice)
    note_use(token=token, at=AT + dt.timedelta(hours=1), by=cast.alice)  # came late
    token.refresh_from_db()
    assert token.last_used_at == dt.datetime(2026, 8, 12, 13, tzinfo=dt.UTC)


def test_making_one_asks_for_the_password_first(cast: Cast, client_for: Opens) -> None:
    client = client_for(cast.alice)

    for answer in (client.get(MAKE), client.post(MAKE, TYPED)):
        assert answer.status_code == 302
        assert answer["Location"].startswith(reverse("account_reauthenticate"))
    assert not AccessToken.objects.exists()

    # What was typed before the password is not lost.
    password = f"{reverse('account_reauthenticate')}?next={MAKE}"
    page = client.post(password, {"password": PASSWORD})
    assert page.status_code == 200 and page["Cache-Control"] == "private, no-store"
    assert AccessToken.objects.get().name == "scale"
    assert len(_words(page)) == 1
    # The password sent again leads to an empty form.
    again = client.post(password, {"password": PASSWORD})
    assert again.status_code == 302 and again["Location"] == MAKE
    assert AccessToken.objects.count() == 1


def test_the_word_is_shown_once(cast: Cast, client_for: Opens) -> None:
    client = _confirmed(client_for, cast.alice)
    assert client.get(MAKE).status_code == 200

    answer = client.post(MAKE, TYPED)

    assert answer.status_code == 200
    token = AccessToken.objects.get()
    assert (token.person, token.scopes) == (cast.alice, ["yards:read", "counts:write"])
    assert token.expires_at - token.made_at == dt.timedelta(days=90)
    (word,) = _words(answer)
    assert answer["Cache-Control"] == "private, no-store"
    assert Program(None, word=word).ask("yards/").status_code == 200
    again = client.get(LIST).content.decode()
    assert word not in again
    assert f"rc_{token.prefix}" in again
    for scope in token.scopes:
        assert scope_words(scope) in again


def test_the_word_is_kept_nowhere_on_the_way(cast: Cast, client_for: Opens) -> None:
    client = _confirmed(client_for, cast.alice)

    (word,) = _words(client.post(MAKE, TYPED))

    assert word not in json.dumps(dict(client.session.items()), default=str)


def test_a_form_makes_one_token_however_often_it_is_sent(cast: Cast, client_for: Opens) -> None:
    client = _confirmed(client_for, cast.alice)
    typed = TYPED | {"key": str(client.get(MAKE).context["key"])}
    refused = client.post(MAKE, typed | {"name": ""})
    assert str(refused.context["key"]) != typed["key"]
    (word,) = _words(client.post(MAKE, typed))

    again = client.post(MAKE, typed, follow=True)

    assert again.redirect_chain == [(LIST, 302)]
    page = again.content.decode()
    assert "This token is made already" in page and word not in page and not _words(again)
    assert AccessToken.objects.count() == len(mails()) == 1
    # Another form is another token, of another person too.
    assert _words(client.post(MAKE, TYPED | {"key": str(uuid.uuid4())}))
    assert _words(_confirmed(client_for, cast.bob).post(MAKE, typed))
    assert AccessToken.objects.count() == 3


def test_a_form_that_was_refused_can_be_sent_again(cast: Cast, client_for: Opens) -> None:
    client = _confirmed(client_for, cast.alice)
    tokens = [_make(cast.alice)[0] for _ in range(MOST_TOKENS)]
    typed = TYPED | {"key": str(uuid.uuid4())}
    assert "You have 50 tokens" in client.post(MAKE, typed).content.decode()

    revoke_token(token=tokens[0], at=timezone.now(), by=cast.alice)

    assert _words(client.post(MAKE, typed))


def test_a_mail_tells_that_one_was_made_and_not_its_word(cast: Cast, client_for: Opens) -> None:
    client = _confirmed(client_for, cast.alice)

    (word,) = _words(client.post(MAKE, TYPED))

    (sent,) = mails()
    assert sent.to == ["alice@example.org"]
    for text in (sent.body, str(sent.alternatives[0][0])):
        assert "“scale”" in text and LIST in text
        assert "log, correct and void counts where you may" in text
        assert word not in text and AccessToken.objects.get().prefix not in text


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"name": ""}, "Say what the token is for."),
        ({"scopes": []}, "Choose at least one thing it may do."),
        ({"scopes": ["admin"]}, "admin"),
        ({"days": ""}, "Choose how long it works."),
        ({"days": "400"}, "400"),
    ],
)
def test_odd_form_keeps_what_was_typed_and_makes_nothing(
    cast: Cast, client_for: Opens, typed: dict[str, Any], words: str
) -> None:
    client = _confirmed(client_for, cast.alice)

    page = client.post(MAKE, TYPED | typed)

    assert page.status_code == 200
    assert words in page.content.decode()
    assert not AccessToken.objects.exists()
    assert page.context["form"]["name"].value() == (TYPED | typed)["name"]


def test_revoking_asks_once_and_shuts_out_at_once(cast: Cast, client_for: Opens) -> None:
    token, word = _make(cast.alice)
    client, program = client_for(cast.alice), Program(None, word=word)
    url = reverse("apiaries:token-revoke", args=[token.pk])
    assert program.ask("yards/").status_code == 200

    assert client.get(url).status_code == 200
    assert program.ask("yards/").status_code == 200
    client.post(url)

    assert program.ask("yards/").status_code == 401
    assert client.get(url).status_code == 404
    assert "no longer work" in client.get(LIST).content.decode()


def test_every_scope_has_words() -> None:
    assert len({scope_words(scope) for scope in ALL}) == len(Scope)
