"""/.well-known/security.txt: what RFC 9116 asks for, once an operator named somebody."""

import datetime as dt
from typing import Any

import pytest
from django.core.exceptions import ImproperlyConfigured
from django.test import Client
from django.utils import timezone

from config.from_environment import contact

PLACE = "/.well-known/security.txt"


def test_it_names_whom_to_tell_and_until_when(client: Client, settings: Any) -> None:
    settings.SECURITY_CONTACT = contact("security@example.org")
    settings.SITE_URL = "https://recount.example.org"

    answer = client.get(PLACE)

    assert answer.status_code == 200 and answer["Content-Type"] == "text/plain; charset=utf-8"
    fields = dict(line.split(": ", 1) for line in answer.content.decode().splitlines())
    assert fields.pop("Contact") == "mailto:security@example.org"
    assert fields.pop("Canonical") == f"https://recount.example.org{PLACE}"
    assert fields.pop("Preferred-Languages") == "en, de"
    until = dt.datetime.fromisoformat(fields.pop("Expires"))
    assert dt.timedelta(days=30) < until - timezone.now() < dt.timedelta(days=365)
    assert not fields


def test_without_a_contact_there_is_none(client: Client, settings: Any) -> None:
    settings.SECURITY_CONTACT = ""

    assert client.get(PLACE).status_code == 404


@pytest.mark.parametrize("said", ["https://example.org/hole", "mailto:a@example.org", "tel:+49-30-1234", ""])
def test_contacts_that_a_reader_can_follow(said: str) -> None:
    assert contact(f" {said} ") == said


@pytest.mark.parametrize(
    "said", ["the office", "http://example.org", "javascript:x", "a@b\nContact: c@d", "tel:030"]
)
def test_other_contacts_stop_the_start(said: str) -> None:
    with pytest.raises(ImproperlyConfigured, match="SECURITY_CONTACT is"):
        contact(said)
