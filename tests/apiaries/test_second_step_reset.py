"""A lost phone: the second step is taken off by somebody else, never in silence."""

from collections.abc import Callable
from io import StringIO
from typing import Any

import pytest
from allauth.mfa.models import Authenticator
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from apiaries.actions import change_role
from apiaries.actions.second_step import NoSecondStep, NotOthers, reset_second_step
from apiaries.models import AccountNotice, Person
from apiaries.permissions import Role
from apiaries.row_history import event_model
from tests.apiaries.outgoing import mails
from tests.apiaries.test_second_step import with_app
from tests.cast import Cast

Opens = Callable[[Person | None], Client]
COMMAND = "reset_second_step"
WHY = "lost the phone, asked by telephone"


def test_console_takes_it_off_tells_and_signs_out(cast: Cast, client_for: Opens, settings: Any) -> None:
    settings.REQUIRE_SECOND_STEP = True
    with_app(cast.dana)
    danas, alices = client_for(cast.dana), client_for(cast.alice)
    assert danas.get(reverse("apiaries:member-list")).status_code == 200
    out = StringIO()

    call_command(COMMAND, "Dana@example.org", "--why", WHY, stdout=out)

    assert "is off" in out.getvalue()
    assert not Authenticator.objects.filter(user=cast.dana).exists()
    assert danas.get(reverse("apiaries:me"))["Location"].startswith(reverse("account_login"))
    assert alices.get(reverse("apiaries:me")).status_code == 200
    again = client_for(cast.dana)  # and until it is set up anew, nothing opens
    assert again.get(reverse("apiaries:member-list"))["Location"] == reverse("apiaries:second-step")
    sent = mails()
    assert sorted(message.to[0] for message in sent) == ["adam@example.org", "dana@example.org"]
    assert all(WHY in message.body and "of Dana" in message.body for message in sent)


def test_history_says_who_when_and_why(cast: Cast) -> None:
    with_app(cast.dana)

    reset_second_step(person=cast.dana, why=WHY, at=timezone.now(), by=cast.adam)

    last: Any = event_model(Person).objects.filter(pgh_obj=cast.dana.pk).order_by("pgh_id").last()
    assert last.second_step_reset_at is not None
    told = last.pgh_context.metadata
    assert (told["by"], told["verb"], told["why"]) == (cast.adam.pk, "reset_second_step", WHY)


def test_administrators_are_all_told_but_for_who_lost_it(cast: Cast) -> None:
    change_role(membership=cast.charlie.memberships.get(), role=Role.ADMINISTRATOR, by=cast.adam)
    with_app(cast.charlie)

    reset_second_step(person=cast.charlie, why=WHY, at=timezone.now(), by=cast.adam)

    told = AccountNotice.objects.filter(kind="step_reset").order_by("to").values_list("to", flat=True)
    assert list(told) == ["adam@example.org", "charlie@example.org"]
    assert "reset by Adam" in AccountNotice.objects.get(to="charlie@example.org", kind="step_reset").text


def test_nobody_resets_their_own(cast: Cast) -> None:
    with_app(cast.adam)

    with pytest.raises(NotOthers):
        reset_second_step(person=cast.adam, why=WHY, at=timezone.now(), by=cast.adam)

    assert Authenticator.objects.filter(user=cast.adam).exists()


def test_what_cannot_be_changes_nothing(cast: Cast) -> None:
    with pytest.raises(NoSecondStep):
        reset_second_step(person=cast.alice, why=WHY, at=timezone.now(), by=cast.adam)
    for words in (["nobody@example.org", "--why", WHY], ["alice@example.org", "--why", WHY]):
        with pytest.raises(CommandError):
            call_command(COMMAND, *words)
    with_app(cast.alice)
    with pytest.raises(CommandError, match="Say why"):
        call_command(COMMAND, "alice@example.org", "--why", " ")

    assert Authenticator.objects.filter(user=cast.alice).exists()
    assert not AccountNotice.objects.exists()
