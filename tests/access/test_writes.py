"""What would be right from its keeper writes nothing from anybody else: by form, phone, sheet or program."""

import uuid
from collections.abc import Callable
from typing import Any

import pytest
from django.core.cache import cache
from django.db import transaction
from django.test import Client
from django.urls import reverse

from apiaries.models import Person
from counts.imports.actions import NothingReady, bring_in_sheet
from counts.models import ImportRow, MiteSample
from tests.access.answers import NOBODYS, told
from tests.access.choices import FORMS, MAY_NAME
from tests.access.facts import number_of_rows
from tests.access.foreign import hidden_from, make_foreign
from tests.access.policy import rows
from tests.access.world import AT, World
from tests.api_asking import Program
from tests.counts.api.test_writing import new_key
from tests.counts.importing import sheet_of
from tests.flows.forms import fields_of

Opens = Callable[[Person | None], Client]
WASH = {"method": "alcohol_wash", "sampled_on": "2026-08-14", "mites": 9, "bees_by": "counted", "bees": 310}
PHONE = {"v": 1, "method": "alcohol_wash", "bees_how": "half_cup", "mites": "9", "sampled_on": "2026-08-14"}
TYPED: dict[str, dict[str, Any]] = {
    "apiaries:yard-edit": {"name": "Another name"},
    "apiaries:helper-list": {"email": "charlie@example.org"},
    "apiaries:colony-add": {"numbers": "20-21", "name": "20", "first": "20", "last": "21"},
    "apiaries:colony-edit": {"name": "99"},
    "apiaries:colony-end": {"why": "robbed out"},
    "apiaries:change-undo": {"why": "by mistake"},
    "counts:sample-add": {"method": "alcohol_wash", "mites": "4"},
    "counts:sample-void": {"why": "spilt"},
    "counts:sample-correct": {"why": "misread", "mites": "8"},
    "treatments:treatment-add": {"dose_1": "30"},
    "treatments:treatment-cancel": {"why": "no longer needed"},
    "treatments:recount-skip": {"why": "too cold"},
    "treatments:purchase-add": {"product": "strips", "quantity": "3", "unit": "strips"},
    "treatments:purchase-void": {"why": "twice"},
    "treatments:disposal-void": {"why": "twice"},
    "treatments:device-edit": {"name": "Another pan"},
    "counts:import-undo": {"why": "mixed up"},
}
"""What has to be typed beside what the form holds, so that Alice's own is kept."""
KEPT_AT_LEAST = 20
OTHERS = ("bob", "charlie", "dana", "ines", "zoe")
"""All kinds of people that there are beside the keeper; the matrix has the others."""
CHANGES = ("correction", "void", "restore")


@pytest.fixture
def world(made: World, db: Any, settings: Any) -> World:
    settings.ACCOUNT_RATE_LIMITS = False
    cache.clear()
    return made


def test_right_forms_from_wrong_people(world: World, client_for: Opens) -> None:
    """Each form as Alice's browser would send it; nothing is written before she sends it herself."""
    alice, kept = client_for(world.cast.alice), set()
    others = {name: client_for(getattr(world.cast, name)) for name in OTHERS}
    others["stranger"] = client_for(None)
    before = number_of_rows()
    for name, words, _, expected in rows():
        if name.startswith(("api:", "account_", "mfa_")) or not words:
            continue
        url = reverse(name, kwargs=world.arguments(words)) + FORMS.get(name, "")
        page = alice.get(url)
        has_form = page.status_code == 200 and b"<form" in page.content.partition(b"<main")[2]
        fields = (fields_of(page.content.decode())[1] if has_form else {}) | TYPED.get(name, {})
        for who, client in others.items():
            if expected[who] not in ("403", "404", "in"):
                continue
            with transaction.atomic():
                answer = client.post(url, fields)
                after = number_of_rows()
                transaction.set_rollback(True)
            assert after == before, (name, words, who)
            assert answer.status_code in (302, 403, 404, 405), (name, words, who)
        with transaction.atomic():
            alice.post(url, fields)
            if number_of_rows() != before:
                kept.add(name)
            transaction.set_rollback(True)
    assert len(kept) >= KEPT_AT_LEAST, sorted(kept)


@pytest.mark.parametrize("person", MAY_NAME)
def test_colonies_of_others_in_what_a_program_sends(world: World, person: str) -> None:
    foreign = make_foreign(world.cast)
    program, before = Program(getattr(world.cast, person)), number_of_rows()
    answers = {}
    for pk in (*hidden_from(foreign, person, "colony"), NOBODYS):
        with transaction.atomic():
            key = {"Idempotency-Key": new_key()}
            answers[pk] = told(program.ask("counts/", "POST", WASH | {"colony": pk}, **key), str(pk))
            assert number_of_rows() == before, pk
            transaction.set_rollback(True)

    assert len(answers) > 1 and answers[NOBODYS][0] == 422
    assert all(one == answers[NOBODYS] for one in answers.values())


def _entry(**more: Any) -> dict[str, Any]:
    return PHONE | {"key": str(uuid.UUID(int=7)), "brood": "unknown", "at": "2026-08-14T10:00:00Z"} | more


@pytest.mark.parametrize("person", ["alice", "bob", "charlie"])
def test_colonies_of_others_in_what_a_phone_sends(world: World, client_for: Opens, person: str) -> None:
    foreign = make_foreign(world.cast)
    yard = world.cast.charlie_yard if person == "charlie" else world.cast.alice_yard
    url = reverse("counts:yard-entries", kwargs={"pk": yard.pk})
    client, before, answers = client_for(getattr(world.cast, person)), number_of_rows(), {}
    for pk in (*hidden_from(foreign, person, "colony"), NOBODYS):
        body = {"entries": [_entry(colony=pk)]}
        answers[pk] = client.post(url, body, content_type="application/json").json()["answers"]
        assert number_of_rows() == before

    assert [one["state"] for one in answers[NOBODYS]] == ["refused"]
    assert all(one == answers[NOBODYS] for one in answers.values())


@pytest.mark.parametrize("word", ["corrects", "undo"])
@pytest.mark.parametrize("person", ["bob", "charlie"])
def test_counts_of_others_in_what_a_phone_sends(
    world: World, client_for: Opens, person: str, word: str
) -> None:
    yard = world.cast.charlie_yard if person == "charlie" else world.cast.alice_yard
    colony = yard.colonies.first()
    url = reverse("counts:yard-entries", kwargs={"pk": yard.pk})
    client, before, answers = client_for(getattr(world.cast, person)), number_of_rows(), []
    for key in (world.sample.entry_key, uuid.UUID(int=9)):
        body = {"entries": [_entry(colony=colony.pk, why="misread") | {word: str(key)}]}
        answers.append(client.post(url, body, content_type="application/json").json()["answers"])
        assert number_of_rows() == before

    # Undoing what is not here is done already, as for a phone that did not hear of its own undoing.
    assert [one["state"] for one in answers[0]] == ["refused" if word == "corrects" else "here"]
    assert answers[0] == answers[1]


@pytest.mark.parametrize("chosen", [False, True])
def test_yards_of_others_in_a_sheet(world: World, chosen: bool) -> None:
    """A sheet that names Alice's yard, or was told its key: as if there were none of that name and that key."""
    found = []
    for name, pk in (("Home yard", world.cast.alice_yard.pk), ("Some yard", NOBODYS)):
        text = f"yard,colony,date,method,mites,bees\n{name},1,2026-08-12,alcohol wash,9,300\n"
        said = {"yards": {name.casefold(): pk, name: pk}} if chosen else {}
        sheet = sheet_of(world.cast.charlie, text, **said)
        found.append([str(_judged(row)).replace(name, "*") for row in sheet.staged.all()])
        before = MiteSample.objects.count()
        with pytest.raises(NothingReady), transaction.atomic():
            bring_in_sheet(batch=sheet, at=AT, by=world.cast.charlie)
        assert MiteSample.objects.count() == before

    assert found[0] == found[1]


def _judged(row: ImportRow) -> tuple[Any, ...]:
    return row.status, row.reasons, row.kinds, row.open, row.yard_id, row.colony_id


@pytest.mark.parametrize("person", MAY_NAME)
def test_counts_of_others_changed_by_a_program(world: World, person: str) -> None:
    """Whole bodies, and a tag that matches anything: what is not theirs to change stays as it is."""
    expected = {(name, words): answers for name, words, verb, answers in rows() if verb == "POST"}
    program, before = Program(getattr(world.cast, person)), number_of_rows()
    tag = Program(world.cast.alice).ask(f"counts/{world.sample.pk}/")["ETag"]
    before = number_of_rows()
    for change in CHANGES:
        wanted = expected[f"api:count-{change}", "sample"][person]
        if wanted not in ("403", "404"):
            continue
        body = (WASH | {"why": "misread"}) if change == "correction" else {"why": "misread"}
        for pk in (world.sample.pk, NOBODYS) if wanted == "404" else (world.sample.pk,):
            answer = program.ask(
                f"counts/{pk}/{change}/", "POST", body, **{"If-Match": tag, "Idempotency-Key": new_key()}
            )
            assert str(answer.status_code) == wanted, (change, pk)
    assert number_of_rows() == before


@pytest.mark.parametrize("change", CHANGES)
def test_programs_say_what_they_read(world: World, change: str) -> None:
    program, body = Program(world.cast.alice), {"why": "misread"}
    body = WASH | body if change == "correction" else body
    url, before = f"counts/{world.sample.pk}/{change}/", number_of_rows()

    for match, status in (({}, 428), ({"If-Match": '"older"'}, 412)):
        answer = program.ask(url, "POST", body, **{"Idempotency-Key": new_key()}, **match)
        assert answer.status_code == status
    assert number_of_rows() == before
