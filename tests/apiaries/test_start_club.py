"""The operator's first command."""

from io import StringIO
from typing import Any

import pytest
from allauth.account.models import EmailAddress
from django.core.management import CommandError, call_command

from apiaries.models import Club, Person

ASKED = {"time_zone": "Europe/Berlin", "administrator": "Rita@example.org"}


def start(name: str = "Ridge club", **options: Any) -> str:
    out = StringIO()
    call_command("start_club", name, stdout=out, **(ASKED | options))
    return out.getvalue()


def test_start_club_makes_club_administrator_and_regions(db: Any) -> None:
    out = start(region=["East", "West"])

    rita = Person.objects.get(email="rita@example.org")
    assert (rita.membership.role, rita.membership.club.name) == ("administrator", "Ridge club")
    assert [region.name for region in rita.membership.club.regions.all()] == ["East", "West"]
    assert "/account/login/" in out
    assert EmailAddress.objects.get(user=rita).verified
    assert not rita.has_usable_password()


def test_start_club_twice_changes_nothing_and_says_so(db: Any) -> None:
    start()

    assert "here already. Nothing was changed." in start(administrator="other@example.org")

    assert Club.objects.count() == Person.objects.count() == 1


@pytest.mark.parametrize(
    ("options", "words"),
    [({"time_zone": "Mars/Base"}, "Europe/Berlin"), ({"administrator": "nonsense"}, "valid email")],
)
def test_start_club_refuses_and_leaves_nothing(db: Any, options: dict[str, str], words: str) -> None:
    with pytest.raises(CommandError, match=words):
        start(**options)

    assert not Club.objects.exists()
    assert not Person.objects.exists()


def test_start_club_refuses_somebody_with_a_club(cast: Any) -> None:
    with pytest.raises(CommandError, match=r"belongs to Test club already"):
        start(administrator="alice@example.org")

    assert not Club.objects.filter(name="Ridge club").exists()
