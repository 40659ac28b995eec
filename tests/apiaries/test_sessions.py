"""Who is signed in comes along with the session; whether they are is asked as Django asks."""

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest
from django.contrib.auth import SESSION_KEY
from django.contrib.sessions.models import Session
from django.core.cache import cache
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from apiaries.actions import end_membership
from apiaries.models import Person, SignIn
from reports.models import Suspension
from tests.cast import Cast

Opens = Callable[[Person], Client]


def key_of(client: Client) -> str:
    key = client.session.session_key
    assert key
    return str(key)


def page_of(client: Client) -> Any:
    return client.get(reverse("apiaries:cautions"))


def asked(client: Client) -> list[str]:
    with CaptureQueriesContext(connection) as queries:
        page_of(client)
    return [query["sql"] for query in queries.captured_queries]


def test_one_statement_says_who_they_are(cast: Cast, client_for: Opens) -> None:
    Suspension.objects.create(person=cast.alice, email=cast.alice.email, why="550", since=timezone.now())
    client = client_for(cast.alice)

    answer = page_of(client)
    person = answer.wsgi_request.user

    assert len(asked(client)) == 1
    with CaptureQueriesContext(connection) as further:
        assert person == cast.alice
        assert person.membership == cast.alice.membership
        assert person.membership.club.name == cast.club.name
        assert person.suspension.why == "550"
        assert person.has_totp is False
    assert not further.captured_queries
    loaded = Person.objects.get(pk=cast.alice.pk)
    assert {one.attname: getattr(person, one.attname) for one in Person._meta.concrete_fields} == {
        one.attname: getattr(loaded, one.attname) for one in Person._meta.concrete_fields
    }


def test_who_left_the_club_comes_without_one(cast: Cast, client_for: Opens) -> None:
    client = client_for(cast.bob)
    end_membership(membership=cast.bob.membership, at=timezone.now(), by=cast.adam)

    person = page_of(client).wsgi_request.user

    assert (person, person.membership) == (cast.bob, None)


@pytest.mark.parametrize("spoilt", ["no row", "row of somebody else"])
def test_row_of_the_sign_in_lets_nobody_in(cast: Cast, client_for: Opens, spoilt: str) -> None:
    """The session alone says whose it is."""
    client = client_for(cast.alice)
    rows = SignIn.objects.filter(session_key=key_of(client))
    if spoilt == "no row":
        rows.delete()
    else:
        rows.update(person=cast.dana)

    assert page_of(client).wsgi_request.user == cast.alice


def test_row_of_a_sign_in_without_a_person_in_the_session_lets_nobody_in(
    cast: Cast, client_for: Opens
) -> None:
    client = client_for(cast.alice)
    session = client.session
    del session[SESSION_KEY]
    session.save()

    assert not page_of(client).wsgi_request.user.is_authenticated


def test_other_password_ends_it(cast: Cast, client_for: Opens) -> None:
    client = client_for(cast.alice)
    key = key_of(client)
    cast.alice.set_password("quite another 4")
    cast.alice.save()

    assert not page_of(client).wsgi_request.user.is_authenticated
    assert not Session.objects.filter(pk=key).exists()


def test_who_may_not_sign_in_is_a_stranger(cast: Cast, client_for: Opens) -> None:
    client = client_for(cast.alice)
    Person.objects.filter(pk=cast.alice.pk).update(is_active=False)

    assert not page_of(client).wsgi_request.user.is_authenticated


def test_session_that_has_run_out_is_none(cast: Cast, client_for: Opens) -> None:
    client = client_for(cast.alice)
    Session.objects.filter(pk=key_of(client)).update(expire_date=timezone.now() - dt.timedelta(seconds=1))

    assert not page_of(client).wsgi_request.user.is_authenticated


def test_old_secret_still_holds(cast: Cast, client_for: Opens, settings: Any) -> None:
    """After SECRET_KEY was changed, what the one before signed holds as long as it is named."""
    client = client_for(cast.alice)
    settings.SECRET_KEY_FALLBACKS = [settings.SECRET_KEY]
    settings.SECRET_KEY = "n" * 50
    cache.clear()

    first = page_of(client).wsgi_request.user
    again = page_of(client).wsgi_request.user

    assert (first, again) == (cast.alice, cast.alice)


def test_what_is_put_into_a_session_is_kept(cast: Cast, client_for: Opens) -> None:
    client = client_for(cast.alice)
    session = client.session
    session["word"] = "honey"
    session.save()

    assert page_of(client).wsgi_request.session["word"] == "honey"
    assert client.session["word"] == "honey"
