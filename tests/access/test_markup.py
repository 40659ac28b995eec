"""What people type stays text, on every page, in the chart and in the mail, whoever looks."""

from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from apiaries.mail import invitation_mail
from apiaries.models import Person
from tests.access.policy import rows
from tests.access.world import World, make_world
from tests.cast import Cast

MARKUP = '"><script>alert(1)</script>'


@pytest.fixture
def world(cast: Cast, reference: None) -> World:
    """Every text that somebody can type is markup."""
    made = make_world(cast)
    for named in (cast.club, cast.north, cast.alice, cast.bob, cast.alice_yard, cast.colony):
        named.name = f"{MARKUP}{named.pk}"
        named.save()
    sample, treatment = made.sample, made.treatment
    sample.note = treatment.note = treatment.product = treatment.batch = treatment.supplier = MARKUP
    sample.save()
    treatment.save()
    return made


@pytest.mark.parametrize("name", ["alice", "adam", "ines"])
def test_typed_markup_stays_text(
    world: World, client_for: Callable[[Person | None], Client], name: str
) -> None:
    client, seen = client_for(getattr(world.cast, name)), 0
    for view, words, verb, _ in rows():
        if verb == "GET":
            answer = client.get(reverse(view, kwargs=world.arguments(words)))
            if answer.get("Content-Disposition", "").startswith("attachment"):
                continue  # a file to keep (CSV, PDF), which no browser shows as a page
            if "json" in answer["Content-Type"]:
                assert answer["X-Content-Type-Options"] == "nosniff"  # nor this, whatever it looks like
                continue
            page = answer.content
            assert b"<script>alert" not in page, view
            seen += b"&lt;script&gt;alert" in page
    assert seen  # it is there, as text


def test_typed_markup_stays_text_in_a_mail(world: World) -> None:
    page = str(invitation_mail(world.invitation).alternatives[0][0])

    assert "&lt;script&gt;alert" in page
    assert "<script>alert" not in page
