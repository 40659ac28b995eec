"""Every box and every question that takes a key: nothing hidden is offered, named or told apart from what never was."""

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django import forms
from django.db import transaction
from django.test import Client
from django.urls import reverse

from apiaries.actions import set_sharing
from apiaries.api.filters import KeyFilter
from apiaries.models import Person
from tests.access.answers import NOBODYS, told
from tests.access.choices import FORMS, MAY_NAME, NO_KEYS, boxes, questions
from tests.access.facts import number_of_rows
from tests.access.foreign import hidden_from, make_foreign, named_by
from tests.access.policy import rows
from tests.access.test_tokens import _patterns
from tests.access.world import World
from tests.api_asking import Program
from tests.flows.forms import fields_of

Opens = Callable[[Person | None], Client]
Found = dict[str, dict[str, list[int]]]
KINDS = {(name, box): kind for name, _, box, kind in boxes()}


@pytest.fixture
def world(made: World, db: Any) -> World:
    return made


@pytest.fixture
def foreign(world: World, settings: Any) -> Found:
    settings.ACCOUNT_RATE_LIMITS = False
    charlie = world.cast.charlie
    set_sharing(membership=charlie.memberships.get(), shares_counts=True, by=charlie)
    return make_foreign(world.cast)


def _pages(person: str) -> Iterator[tuple[str, str]]:
    """Addresses that show the person a page, with their words."""
    for name, words, verb, expected in rows():
        if verb == "GET" and expected[person] == "200" and not name.startswith(("api:", "account_", "mfa_")):
            yield name, words


def _forms_in(context: Any) -> list[forms.BaseForm]:
    """Every form that the page was given, filters too."""
    found: dict[int, forms.BaseForm] = {}
    for layer in context or ():
        for part in getattr(layer, "dicts", [layer]):
            for value in part.values() if hasattr(part, "values") else ():
                for one in value if isinstance(value, list | tuple) else [value]:
                    form = getattr(one, "form", one)
                    if isinstance(form, forms.BaseForm):
                        found[id(form)] = form
    return list(found.values())


def _offered(field: forms.Field) -> set[int]:
    """The keys among a field's choices, under the headings of groups too."""
    found = set()
    for value, told_as in getattr(field, "choices", ()):
        for key, _ in told_as if isinstance(told_as, list | tuple) else [(value, told_as)]:
            if str(key).isdecimal() and str(key) != "0":
                found.add(int(str(key)))
    return found


@pytest.mark.parametrize("person", MAY_NAME)
def test_nothing_hidden_is_offered(world: World, client_for: Opens, foreign: Found, person: str) -> None:
    client, seen = client_for(getattr(world.cast, person)), set()
    for name, words in _pages(person):
        page = client.get(reverse(name, kwargs=world.arguments(words)) + FORMS.get(name, ""))
        for form in _forms_in(page.context):
            for box, field in form.fields.items():
                offered = _offered(field)
                if box in NO_KEYS or not offered and not isinstance(field, forms.ModelChoiceField):
                    continue
                assert (name, box) in KINDS, (
                    f"{name}: {box} takes a key, and tests/access/choices.py has it not"
                )
                assert offered <= named_by(foreign, person, KINDS[name, box]), (name, box)
                seen.add((name, box))
    missed = {
        (name, box) for name, box in set(KINDS) - seen if person == "alice" and _opens_to(name, "alice")
    }
    assert missed <= {("counts:sample-list", "region"), ("treatments:treatment-list", "region")}


def _opens_to(name: str, person: str) -> bool:
    return any(name == one for one, _ in _pages(person))


@pytest.mark.parametrize("person", MAY_NAME)
def test_hidden_things_in_boxes_write_nothing(
    world: World, client_for: Opens, foreign: Found, person: str
) -> None:
    client, open_pages, tried = client_for(getattr(world.cast, person)), set(_pages(person)), 0
    for name, words, box, kind in boxes():
        if (name, words) not in open_pages:
            continue
        url = reverse(name, kwargs=world.arguments(words)) + FORMS.get(name, "")
        page = client.get(url).content.decode()
        if client.post(url).status_code == 405:
            continue  # a list: it is asked, below
        _, fields = fields_of(page)
        before, answers = number_of_rows(), {}
        for pk in (*hidden_from(foreign, person, kind), NOBODYS):
            with transaction.atomic():
                answers[pk] = told(client.post(url, fields | {box: [str(pk)]}), url, str(pk))
                assert number_of_rows() == before, (name, box, pk)
                transaction.set_rollback(True)
            assert answers[pk][0] in (200, 400, 404), (name, box, answers[pk][0])
            tried += 1
        assert all(one == answers[NOBODYS] for one in answers.values()), (name, box)
    assert tried >= 4 or person in ("ines", "ivan", "bob", "zoe", "charlie", "dana"), tried


@pytest.mark.parametrize("person", MAY_NAME)
def test_hidden_things_in_questions_are_as_what_never_was(
    world: World, client_for: Opens, foreign: Found, person: str
) -> None:
    who = getattr(world.cast, person)
    client, program = client_for(who), Program(who)
    for name, parameter, kind in questions():
        url = reverse(name)
        ask = program.ask if name.startswith("api:") else client.get
        answers = {
            pk: told(ask(f"{url}?{parameter}={pk}"), f"{url}?{parameter}={pk}", str(pk))
            for pk in (*hidden_from(foreign, person, kind), NOBODYS)
        }
        assert len(answers) > 1, (name, parameter)
        for pk, answer in answers.items():
            assert answer == answers[NOBODYS], (name, parameter, pk)


def test_questions_of_the_interface_are_all_here() -> None:
    found = set()
    for pattern in _patterns():
        filterset = getattr(getattr(pattern.callback, "cls", None), "filterset_class", None)
        if filterset is not None and pattern.name.endswith("-list"):
            taken = {name for name, one in filterset.base_filters.items() if isinstance(one, KeyFilter)}
            found |= {(f"api:{pattern.name}", name) for name in taken}

    assert found == {(name, parameter) for name, parameter, _ in questions() if name.startswith("api:")}
