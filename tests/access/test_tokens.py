"""Every token × every address of the interface: nothing beyond its scopes, and nothing at all once it is dead."""

import datetime as dt
from collections.abc import Iterator
from typing import Any

import pytest
from django.urls import URLPattern, get_resolver, reverse
from django.utils import timezone

from apiaries.actions.tokens import make_token, revoke_token
from apiaries.api.scopes import Scope
from apiaries.models import AccessToken
from tests.access.policy import FOR_ALL, rows, scope_rows
from tests.access.world import World, make_world
from tests.api_asking import ALL, Program
from tests.cast import Cast

WORDS = {name: words for name, words, *_ in rows()}


@pytest.fixture
def world(cast: Cast, reference: None) -> World:
    return make_world(cast)


def _patterns() -> list[URLPattern]:
    (api,) = (one for one in get_resolver().url_patterns if getattr(one, "namespace", "") == "api")

    def flat(resolver: Any) -> Iterator[URLPattern]:
        for one in resolver.url_patterns:
            yield from [one] if isinstance(one, URLPattern) else flat(one)

    return list(flat(api))


def _verbs(pattern: URLPattern) -> set[str]:
    """What the view answers to, beside HEAD, which goes with GET."""
    view = pattern.callback
    known = getattr(view, "actions", None) or {
        verb: verb for verb in ("get", "post", "put", "patch", "delete") if hasattr(view.cls, verb)
    }
    return {verb.upper() for verb in known} - {"HEAD"}


def _ask(world: World, name: str, verb: str, program: Program) -> Any:
    url = reverse(name, kwargs=world.arguments(WORDS[name]))
    return program.ask(url, verb, None if verb == "GET" else {})


def test_table_names_every_address_and_verb() -> None:
    found = {
        (f"api:{pattern.name}", verb)
        for pattern in _patterns()
        if f"api:{pattern.name}" not in FOR_ALL
        for verb in _verbs(pattern)
    }

    assert found == {(name, verb) for name, verb, _ in scope_rows()}


def test_a_token_does_what_it_is_for_and_nothing_else(world: World) -> None:
    programs = {scope: Program(world.cast.alice, scope) for scope in ALL}
    refused = 0
    for name, verb, needed in scope_rows():
        for scope, program in programs.items():
            answer = _ask(world, name, verb, program)
            beyond = answer.status_code == 403 and answer.json()["type"].endswith("#problem-scope")
            assert beyond == (needed not in ("any", scope)), (name, verb, scope)
            assert answer.status_code != 401
            if beyond:
                refused += 1
                assert f'scope="{needed}"' in answer["WWW-Authenticate"]
    assert refused


def test_all_other_scopes_together_do_not_make_up_for_one(world: World) -> None:
    for name, verb, needed in scope_rows():
        if needed != "any":
            rest = [scope for scope in ALL if scope != needed]
            assert _ask(world, name, verb, Program(world.cast.alice, *rest)).status_code == 403, name


def test_a_scope_opens_no_more_than_the_person_may_see(world: World) -> None:
    expected = {name: answers for name, _, verb, answers in rows() if verb == "GET"}
    for name, verb, _ in scope_rows():
        if verb == "GET":
            for who in ("charlie", "bob", "dana", "ines", "ivan", "adam", "zoe"):
                answer = _ask(world, name, verb, Program(getattr(world.cast, who)))
                assert str(answer.status_code) == expected[name][who], (name, who)


def _revoked(token: AccessToken) -> None:
    revoke_token(token=token, at=timezone.now(), by=token.person)


def _over(token: AccessToken) -> None:
    now = timezone.now()
    AccessToken.objects.filter(pk=token.pk).update(made_at=now - dt.timedelta(days=30), expires_at=now)


def _account_closed(token: AccessToken) -> None:
    token.person.is_active = False
    token.person.save()


@pytest.mark.parametrize("dies", [_revoked, _over, _account_closed])
def test_a_dead_token_opens_nothing_from_the_next_request_on(world: World, dies: Any, settings: Any) -> None:
    settings.REST_FRAMEWORK = settings.REST_FRAMEWORK | {
        "DEFAULT_THROTTLE_RATES": {
            "reads": "999/m",
            "writes": "999/m",
            "strangers": "999/m",
            "failed_tokens": "999/m",
        }
    }
    token, word = make_token(
        person=world.cast.alice, name="x", scopes=ALL, days=30, at=timezone.now(), by=world.cast.alice
    )
    program = Program(None, word=word)
    assert program.ask("me/").status_code == 200

    dies(token)

    wrong = Program(None, word="rc_" + "a" * 40)
    for name, verb, _ in scope_rows():
        dead, never = (_ask(world, name, verb, one) for one in (program, wrong))
        assert dead.status_code == 401, name
        assert dead.content == never.content  # nobody learns that it was ever good
        assert 'error="invalid_token"' in dead["WWW-Authenticate"]


def test_a_dead_token_is_not_helped_out_by_a_cookie(world: World, client_for: Any) -> None:
    client = client_for(world.cast.alice)
    assert client.get("/api/v1/yards/").status_code == 200

    answer = client.get("/api/v1/yards/", headers={"Authorization": "Bearer rc_wrong"})

    assert answer.status_code == 401


@pytest.mark.parametrize(
    "sent", ["Bearer", "Bearer ", "Bearer rc_\x7f", "Bearer \u00e9", "Basic YTpi", "bearer x y", "rc_x"]
)
def test_odd_headers_sign_nobody_in(world: World, sent: str) -> None:
    assert Program(None).ask("yards/", Authorization=sent).status_code == 401


def test_the_word_stands_only_in_the_header(world: World) -> None:
    word = Program(world.cast.alice).word

    for path in (f"yards/?token={word}", f"yards/?access_token={word}"):
        assert Program(None).ask(path).status_code == 401


def test_every_scope_opens_something() -> None:
    assert {needed for *_, needed in scope_rows()} - {"any"} == {scope.value for scope in Scope}
