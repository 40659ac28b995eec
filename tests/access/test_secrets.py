"""Nothing of a yard shines through: change every fact of it, and those who may not see it get the very same bytes.

All that is asked of the service, whatever it counts, sorts or draws, is asked before and after. What changes is
written past the actions on purpose: what an action works out for a club (a month that is published, a mail that is
owed) is somebody's to know, what was typed is not.
"""

import datetime as dt
from collections.abc import Callable, Iterator
from decimal import Decimal
from typing import Any

import pytest
import time_machine
from django.db.models import F
from django.test import Client
from django.urls import reverse

from apiaries.actions import set_sharing
from apiaries.api.paging import Pages
from apiaries.models import Colony, Person, Visit, Yard
from counts.models import ImportBatch, MiteSample
from tests.access.answers import person_named, told
from tests.access.policy import rows, scope_rows
from tests.access.world import World
from tests.api_asking import Program
from treatments.models import Device, Dose, MedicineDisposal, MedicinePurchase, Round, Treatment

Opens = Callable[[Person | None], Client]
Answers = dict[tuple[str, str], tuple[int, bytes, dict[str, str]]]
SORTED_BY = ("ordering", "order", "order_by", "sort", "o")
MASKED = ("latitude", "-longitude", "keeper__email", "place", "mites")


@pytest.fixture
def world(made: World, db: Any, settings: Any) -> Iterator[World]:
    """In one instant: what tells the time tells the same one."""
    settings.ACCOUNT_RATE_LIMITS = False
    with time_machine.travel(dt.datetime.now(dt.UTC), tick=False):
        yield made


def _all_answers(world: World, client: Client, program: Program, person: str) -> Answers:
    """To every address that can be read, whether it refuses or not; not where a secret word is all that is needed."""
    program.ask("me/")  # when a token was last used is shown, to the hour
    found = {}
    for name, words, verb, expected in rows():
        open_to_all = expected["stranger"] == "200" and (not words or words == "calendar's word")
        if verb != "GET" or open_to_all or name.startswith(("account_", "mfa_")):
            continue
        url = reverse(name, kwargs=world.arguments(words))
        answer = program.ask(url) if name.startswith("api:") else client.get(url)
        found[name, words] = told(answer, url)
    return found


def _spoil(world: World) -> None:
    """Every fact of Alice's becomes another: names, places, numbers, days, notes."""
    yard, alice = world.cast.alice_yard, world.cast.alice
    Yard.objects.filter(pk=yard.pk).update(
        name="Aaa secret", latitude=Decimal("1.5"), longitude=Decimal("2.5"), cell="851f1d4bfffffff"
    )
    Colony.objects.filter(yard=yard).update(
        brood_boxes=5, supers_on=True, number=F("number") + 100, name=F("label_code")
    )
    MiteSample.objects.filter(yard=yard).update(mites=F("mites") + 61, note="secret note")
    Treatment.objects.filter(yard=yard).update(note="secret treatment")
    Dose.objects.filter(colony__yard=yard).update(amount=F("amount") + 1)
    Round.objects.filter(treatment__yard=yard).update(planned_on=F("planned_on") + dt.timedelta(days=3))
    Visit.objects.filter(yard=yard).exclude(visited_on=None).update(
        recommendations="secret advice", told="not"
    )
    for kept in (MedicinePurchase, MedicineDisposal):
        kept.objects.filter(keeper=alice).update(product="secret strips", quantity=77)
    Device.objects.filter(keeper=alice).update(name="secret pan")
    ImportBatch.objects.filter(by=alice).update(file_name="secret.csv")


def _differing(before: Answers, after: Answers) -> Iterator[tuple[str, str]]:
    for where, answer in before.items():
        if answer != after[where]:
            yield where


@pytest.mark.parametrize("person", ["stranger", "charlie", "dana", "ivan", "adam", "zoe"])
@pytest.mark.owner
def test_facts_that_are_hidden_change_no_byte(world: World, client_for: Opens, person: str) -> None:
    who = person_named(world.cast, person)
    client, program = client_for(who), Program(who)
    before = _all_answers(world, client, program, person)

    _spoil(world)

    assert list(_differing(before, _all_answers(world, client, program, person))) == []


@pytest.mark.owner
def test_these_facts_are_seen_by_those_who_may(world: World, client_for: Opens) -> None:
    client, program = client_for(world.cast.ines), Program(world.cast.ines)
    before = _all_answers(world, client, program, "ines")

    _spoil(world)

    assert len(list(_differing(before, _all_answers(world, client, program, "ines")))) > 20


def test_exact_place_changes_no_byte_for_who_sees_the_area(world: World, client_for: Opens) -> None:
    alice = world.cast.alice
    Yard.objects.filter(pk=world.cast.alice_yard.pk).update(
        latitude=Decimal("48.10000"), longitude=Decimal("11.50000"), cell="851f8d7bfffffff"
    )
    set_sharing(membership=alice.memberships.get(), shares_counts=True, by=alice)
    client, program = client_for(world.cast.dana), Program(world.cast.dana)
    before = _all_answers(world, client, program, "dana")
    assert before["apiaries:yard-detail", "yard"][0] == before["api:yard-detail", "yard"][0] == 200

    Yard.objects.filter(pk=world.cast.alice_yard.pk).update(latitude=Decimal("48.10007"))

    assert list(_differing(before, _all_answers(world, client, program, "dana"))) == []
    ines = Program(world.cast.ines).ask("yards/").content
    assert b"48.10007" in ines and b"48.1" not in program.ask("yards/").content


@pytest.mark.parametrize("by", MASKED)
def test_lists_are_sorted_by_nothing_that_was_asked_for(world: World, by: str) -> None:
    program = Program(world.cast.dana)
    for name, verb, _ in scope_rows():
        if verb == "GET" and name.endswith("-list"):
            for parameter in SORTED_BY:
                answer = program.ask(f"{reverse(name)}?{parameter}={by}")
                assert answer.status_code == 400, (name, parameter)
    assert Pages.ordering == "-pk"
