"""Refusals of the interface, each in one shape (RFC 9457, from memory)."""

import json
from typing import Any, ClassVar

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.test import Client
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.test import APIRequestFactory, force_authenticate

from apiaries.api.fields import KeyOf
from apiaries.api.problems import FAULTS_MOST, faults_of
from apiaries.api.reading import LARGEST
from apiaries.api.views import ActionViewSet
from apiaries.api.yards import ColonyViewSet, YardViewSet
from apiaries.models import Colony
from config.api_docs import KINDS
from tests.api_asking import Program
from tests.cast import Cast

KNOWN = {name: status for name, status, _ in KINDS}


class Refused(ValueError):
    """What an action of these tests refuses."""


class NoteIn(serializers.Serializer):
    """A colony and some words."""

    colony = KeyOf(Colony.objects.recordable_by)
    words = serializers.CharField(max_length=5)
    mites = serializers.ListField(child=serializers.IntegerField(), required=False)


class Notes(ActionViewSet):
    """A doorway as the other rooms build them."""

    serializer_class = NoteIn
    refusals: ClassVar = {Refused: (409, "It was ended.", "colony")}
    raises: Exception | None = None

    def create(self, request: Any) -> Any:
        typed = self.body()
        if self.raises:
            raise self.raises
        return Response([typed["colony"].pk])


def _post(person: Any, body: Any, raises: Exception | None = None, kind: str = "application/json") -> Any:
    request = APIRequestFactory().generic("POST", "/", body, content_type=kind)
    force_authenticate(request, user=person)
    answer = Notes.as_view({"post": "create"}, raises=raises)(request)
    answer.render()
    return answer


def _problem(answer: Any, status: int) -> dict[str, Any]:
    assert answer.status_code == status, answer.content
    assert answer["Content-Type"] == "application/problem+json"
    said = json.loads(answer.content)
    assert said["status"] == status
    word = said["type"].removeprefix("/api/docs/#problem-")
    assert KNOWN[word] == status
    assert said["title"] and said["detail"]
    return said


def test_strangers_are_told_how_to_sign_in(cast: Cast) -> None:
    answer = Program(None).ask("yards/")

    _problem(answer, 401)
    assert answer["WWW-Authenticate"] == 'Bearer realm="Recount"'


@pytest.mark.parametrize("verb", ["GET", "POST", "PUT", "DELETE"])
@pytest.mark.parametrize(
    "path", ["honey/", "yards", "yards/x/", "yards/1/honey/", "", "/api/", "/api/v2/yards/"]
)
def test_addresses_that_are_none_are_problems_too(cast: Cast, path: str, verb: str) -> None:
    answers = [person.ask(path, verb) for person in (Program(None), Program(cast.alice))]

    for answer in answers:
        _problem(answer, 404)
    assert answers[0].content == Program(cast.charlie).ask(f"yards/{cast.alice_yard.pk}/").content


def test_no_answer_but_json(cast: Cast) -> None:
    _problem(Program(cast.alice).ask("yards/", Accept="text/html"), 406)
    assert Program(cast.alice).ask("yards/", Accept="text/html,*/*;q=0.8").status_code == 200


def test_no_other_verbs(cast: Cast) -> None:
    answer = Program(cast.alice).ask("yards/", "DELETE")

    _problem(answer, 405)
    assert answer["Allow"] == "GET, HEAD"


@pytest.mark.parametrize(
    ("asked", "name"),
    [
        ("honey=1", "honey"),
        ("region=1&region=2", "region"),
        ("region=", "region"),
        ("region=x", "region"),
        ("region=1.5", "region"),
        ("region=0", "region"),
        ("region=9999999999999999999", "region"),
        ("region=%00", "region"),
        ("open=maybe", "open"),
        ("open=True", "open"),
        ("limit=0", "limit"),
        ("limit=201", "limit"),
        ("limit=-1", "limit"),
        ("limit=١٢", "limit"),
        ("cursor=x", "cursor"),
        ("cursor=cD0x", "cursor"),
        ("format=json", "format"),
        ("ordering=latitude", "ordering"),
    ],
)
def test_odd_questions_are_named(cast: Cast, asked: str, name: str) -> None:
    said = _problem(Program(cast.alice).ask(f"yards/?{asked}"), 400)

    assert [fault["name"] for fault in said["fields"]] == [name]


def test_a_thing_by_its_key_is_asked_nothing(cast: Cast) -> None:
    _problem(Program(cast.alice).ask(f"yards/{cast.alice_yard.pk}/?limit=1"), 400)


@pytest.mark.parametrize(
    "body",
    [
        "", "{", "{'a': 1}", '{"words": NaN}', '{"words": -Infinity}', '{"words": "a", "words": "b"}', "[" * 100_000,
        b"\xff\xfe", '{"words": ' + "9" * 5000 + "}", '\ufeff{"words": "a"}',
    ],
)  # fmt: skip
def test_what_is_no_json_is_refused(cast: Cast, body: Any) -> None:
    status = 422 if body == "" else 400
    _problem(_post(cast.alice, body), status)


def test_an_endless_body_is_refused(cast: Cast) -> None:
    _problem(_post(cast.alice, '"' + "a" * LARGEST + '"'), 413)


@pytest.mark.parametrize(
    "kind", ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x"]
)
def test_no_body_but_json(cast: Cast, kind: str) -> None:
    _problem(_post(cast.alice, "words=a", kind=kind), 415)


def test_every_fault_is_named_at_its_place(cast: Cast) -> None:
    said = _problem(_post(cast.alice, '{"colony": 0, "words": "too long", "mites": [1, "x"]}'), 422)

    assert [fault["name"] for fault in said["fields"]] == ["colony", "words", "mites.1"]


@pytest.mark.parametrize("body", ['{"words": "a\\u0000"}', '{"words": "a"}', "[]", "null", '"x"', "3"])
def test_odd_bodies_are_refused(cast: Cast, body: str) -> None:
    _problem(_post(cast.alice, body), 422)


def test_keys_of_hidden_and_missing_things_are_refused_alike(cast: Cast) -> None:
    hidden = cast.charlie_yard.colonies.first().pk
    seen_only = cast.colony.pk  # Ines sees it and logs nothing there

    def refusal(person: Any, key: Any) -> bytes:
        answer = _post(person, json.dumps({"colony": key, "words": "a"}))
        _problem(answer, 422)
        return answer.content

    assert refusal(cast.alice, hidden) == refusal(cast.alice, 10**9) == refusal(cast.ines, seen_only)
    assert refusal(cast.alice, -1) == refusal(cast.alice, 2**63) == refusal(cast.alice, 10**9)
    for odd in (True, "1", 1.0, [1], {"id": 1}, None):
        refusal(cast.alice, odd)
    assert _post(cast.bob, json.dumps({"colony": seen_only, "words": "a"})).status_code == 200


@pytest.mark.parametrize(
    ("raised", "status"),
    [
        (Refused("inside"), 409),
        (PermissionDenied(), 403),
        (ValidationError({"words": "No."}), 422),
        (ValidationError("No."), 422),
    ],
)
def test_refusals_of_actions(cast: Cast, raised: Exception, status: int) -> None:
    answer = _post(cast.alice, json.dumps({"colony": cast.colony.pk, "words": "a"}), raised)

    assert "inside" not in json.dumps(_problem(answer, status))


def test_nested_faults_are_told_flat() -> None:
    nested = {"entries": [{}, {"mites": ["Too many."]}], "general": ["Odd."]}

    assert faults_of(nested) == [
        {"name": "entries.1.mites", "detail": "Too many."},
        {"name": "general", "detail": "Odd."},
    ]


@pytest.mark.parametrize("number", [FAULTS_MOST, FAULTS_MOST + 1, 10_000])
def test_a_body_full_of_faults_is_not_answered_with_all_of_them(cast: Cast, number: int) -> None:
    body = {"colony": cast.colony.pk, "words": "a", "mites": ["x"] * number}

    said = _problem(_post(cast.alice, json.dumps(body)), 422)

    told = said["fields"][:FAULTS_MOST]
    assert [fault["name"] for fault in told] == [f"mites.{place}" for place in range(FAULTS_MOST)]
    more = [{"name": "general", "detail": "There are more faults; these are the first 50."}]
    assert said["fields"][FAULTS_MOST:] == ([] if number == FAULTS_MOST else more)


def test_a_fault_of_the_server_is_a_problem_and_tells_nothing(
    cast: Cast, monkeypatch: Any, caplog: Any
) -> None:
    def breaks(self: Any, person: Any) -> Any:
        raise RuntimeError("secret words")

    monkeypatch.setattr(ColonyViewSet, "queryset_for", breaks)
    client = Client(
        raise_request_exception=False, headers={"Authorization": f"Bearer {Program(cast.alice).word}"}
    )

    answer = client.get("/api/v1/colonies/")

    said = _problem(answer, 500)
    assert "secret" not in json.dumps(said)


def test_a_page_that_fails_stays_a_page(cast: Cast, monkeypatch: Any, client_for: Any) -> None:
    client = client_for(cast.alice)
    client.raise_request_exception = False
    monkeypatch.setattr("apiaries.views.yards.person_of", lambda request: 1 / 0)

    answer = client.get("/yards/")

    assert answer.status_code == 500
    assert answer["Content-Type"].startswith("text/html")


def test_writing_with_a_browser_wants_its_token_against_forgery(cast: Cast) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(cast.alice, backend="allauth.account.auth_backends.AuthenticationBackend")

    _problem(client.post("/api/v1/yards/", "{}", content_type="application/json"), 403)


def test_it_speaks_english_whoever_asks(cast: Cast) -> None:
    cast.alice.language = "de"
    cast.alice.save()

    answer = Program(cast.alice).ask("yards/?region=x", **{"Accept-Language": "de"})

    assert answer["Content-Language"] == "en-gb"
    assert "whole number" in answer.content.decode()


def test_views_open_nothing_but_what_is_visible() -> None:
    for view in (YardViewSet, ColonyViewSet):
        assert view.queryset is None  # the only way is `queryset_for(person)`
