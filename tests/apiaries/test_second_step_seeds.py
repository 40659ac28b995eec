"""Seeds of second steps are sealed before they reach the database, and read again with the keys that sealed them."""

import json
import logging
from collections import Counter
from collections.abc import Callable
from io import StringIO
from typing import Any

import pytest
from allauth.account.models import EmailAddress
from allauth.mfa.models import Authenticator
from allauth.mfa.recovery_codes.internal.auth import RecoveryCodes
from allauth.mfa.totp.internal.auth import TOTP
from django.contrib.sessions.models import Session
from django.core import mail
from django.core.management import CommandError, call_command
from django.db import connection
from django.test import Client
from django.urls import reverse

from apiaries import second_step_seeds
from apiaries.management.commands import seal_second_steps
from apiaries.models import Person
from apiaries.second_step_seeds import SEALED, Kept, UnreadableSeed, all_kept, kept_how, seal, unsealed
from config.trials_of_services import BeWise, Mend
from config.trials_of_sign_in import second_steps_are_sealed
from tests.apiaries.test_second_step import code_of, with_app
from tests.cast import PASSWORD, Cast

Opens = Callable[[Person | None], Client]
OLD = "an-older-key-that-was-made-up-for-these-tests-0123456789"
NEW = "a-newer-key-that-was-made-up-for-these-tests-9876543210"
CODE_ASKED_FOR = reverse("mfa_authenticate")


@pytest.fixture
def keys(settings: Any) -> Callable[..., None]:
    def put(*named: str) -> None:
        settings.SECOND_STEP_KEYS = named

    return put


def _in_database() -> str:
    with connection.cursor() as cursor:
        cursor.execute("SELECT string_agg(data::text, ' ') FROM mfa_authenticator")
        return str(cursor.fetchone()[0])


def _signs_in(person: Person, code: str) -> Any:
    EmailAddress.objects.get_or_create(user=person, email=person.email, verified=True, primary=True)
    client = Client()
    client.post(reverse("account_login"), {"login": person.email, "password": PASSWORD})
    return client.post(CODE_ASKED_FOR, {"code": code})


def test_what_is_set_up_in_the_browser_is_sealed_and_lets_in(
    cast: Cast, client_for: Opens, keys: Callable[..., None]
) -> None:
    keys(NEW)
    client = client_for(cast.alice)
    client.post(reverse("account_reauthenticate"), {"password": PASSWORD})
    form = client.get(reverse("mfa_activate_totp"))
    secret = form.context["form"].secret
    waiting = [str(one.get_decoded()) for one in Session.objects.all()]
    assert not any(secret in one for one in waiting) and any(SEALED in one for one in waiting)
    client.post(reverse("mfa_activate_totp"), {"code": "000000"})
    assert not any(secret in str(one.get_decoded()) for one in Session.objects.all())

    client.post(reverse("mfa_activate_totp"), {"code": code_of(secret)})

    codes = RecoveryCodes(Authenticator.objects.get(user=cast.alice, type="recovery_codes"))
    there = _in_database()
    assert secret not in there and unsealed(codes.instance.data["seed"]) not in there
    assert there.count(SEALED) == 2
    assert _signs_in(cast.alice, codes.get_unused_codes()[0])["Location"] == "/"
    assert _signs_in(cast.alice, "000000").status_code == 200, "another code lets nobody in"


def test_app_of_before_there_was_a_key_goes_on(cast: Cast, keys: Callable[..., None]) -> None:
    keys()
    secret = with_app(cast.alice)
    assert secret in _in_database()

    keys(NEW)

    assert _signs_in(cast.alice, code_of(secret))["Location"] == "/"


def test_command_seals_what_is_there_once_and_tells_nobody(cast: Cast, keys: Callable[..., None]) -> None:
    keys()
    secret, codes = with_app(cast.alice), RecoveryCodes.activate(cast.alice)
    shown = codes.generate_codes()
    codes.validate_code(shown[3])
    keys(NEW)
    mail.outbox.clear()

    first, again = StringIO(), StringIO()
    call_command("seal_second_steps", stdout=first)
    sealed = _in_database()
    call_command("seal_second_steps", stdout=again)

    assert "Seeds sealed now: 2, of which 2 were in plain text and 0" in first.getvalue()
    assert "Seeds sealed now: 0" in again.getvalue() and "Sealed already: 2." in again.getvalue()
    assert _in_database() == sealed and secret not in sealed
    assert all_kept() == Counter({Kept.NEWEST: 2})
    assert mail.outbox == []
    left = RecoveryCodes(Authenticator.objects.get(user=cast.alice, type="recovery_codes"))
    assert left.get_unused_codes() == [code for code in shown if code != shown[3]], "used ones stay used"
    assert _signs_in(cast.alice, code_of(secret))["Location"] == "/"


def test_signed_in_stay_so_while_it_is_sealed(
    cast: Cast, client_for: Opens, keys: Callable[..., None]
) -> None:
    keys()
    with_app(cast.alice)
    client = client_for(cast.alice)
    keys(NEW)

    call_command("seal_second_steps", stdout=StringIO())

    assert client.get(reverse("apiaries:yard-list")).status_code == 200


def test_key_is_replaced_by_a_newer_one_in_front(cast: Cast, keys: Callable[..., None]) -> None:
    keys(OLD)
    secret = with_app(cast.alice)
    Authenticator.objects.create(
        user=cast.bob, type=Authenticator.Type.RECOVERY_CODES, data={"migrated_codes": [seal("one"), "two"]}
    )
    keys(NEW, OLD)
    assert all_kept() == Counter({Kept.EARLIER: 2, Kept.PLAIN: 1})

    call_command("seal_second_steps", stdout=StringIO())
    keys(NEW)

    assert all_kept() == Counter({Kept.NEWEST: 3})
    assert RecoveryCodes(Authenticator.objects.get(user=cast.bob)).get_unused_codes() == ["one", "two"]
    assert _signs_in(cast.alice, code_of(secret))["Location"] == "/"


def test_without_its_key_the_page_says_whose_fault_it_is(
    cast: Cast, keys: Callable[..., None], caplog: pytest.LogCaptureFixture
) -> None:
    keys(OLD)
    secret = with_app(cast.alice)
    before = _in_database()
    for lost in ((), (NEW,)):
        keys(*lost)
        with caplog.at_level(logging.ERROR, "recount.second_step"):
            answer = _signs_in(cast.alice, code_of(secret))

        assert answer.status_code == 503
        assert "Your second step cannot be checked now" in answer.content.decode()
    assert "SECOND_STEP_KEY" in caplog.text and cast.alice.email not in caplog.text
    assert _in_database() == before

    keys(NEW, OLD)
    assert _signs_in(cast.alice, code_of(secret))["Location"] == "/"


@pytest.mark.parametrize("lost", ["app", "recovery codes"])
def test_unreadable_seed_stands_in_nobodys_way(cast: Cast, keys: Callable[..., None], lost: str) -> None:
    keys(OLD if lost == "app" else NEW)
    secret = with_app(cast.alice)
    keys(NEW if lost == "app" else OLD)
    codes = RecoveryCodes.activate(cast.alice).generate_codes()
    keys(NEW)
    fits = codes[0] if lost == "app" else code_of(secret)

    assert _signs_in(cast.alice, "000000").status_code == 503, "nobody can say that it is wrong"
    assert _signs_in(cast.alice, fits)["Location"] == "/"


def test_no_code_fits_a_seed_that_cannot_be_read(
    cast: Cast, keys: Callable[..., None], monkeypatch: pytest.MonkeyPatch
) -> None:
    """However unlikely it is that one fits what stands in for it."""
    keys(OLD)
    with_app(cast.alice)
    keys(NEW)
    monkeypatch.setattr(second_step_seeds, "generate_totp_secret", lambda: "JBSWY3DPEHPK3PXP")

    assert _signs_in(cast.alice, code_of("JBSWY3DPEHPK3PXP")).status_code == 503


def test_what_a_page_wrote_back_meanwhile_is_told(
    cast: Cast, keys: Callable[..., None], monkeypatch: pytest.MonkeyPatch
) -> None:
    keys()
    codes = RecoveryCodes.activate(cast.alice)
    keys(NEW)
    sealing = seal_second_steps.seal_all

    def meanwhile() -> Counter[Kept]:
        found = sealing()
        codes.mark_as_viewed()  # read before, without a lock
        return found

    monkeypatch.setattr(seal_second_steps, "seal_all", meanwhile)
    with pytest.raises(CommandError, match="1 came in between. Say it once more"):
        call_command("seal_second_steps", stdout=StringIO())

    monkeypatch.undo()
    call_command("seal_second_steps", stdout=StringIO())
    assert all_kept() == Counter({Kept.NEWEST: 1})


def test_command_says_what_it_cannot_read_and_leaves_it(cast: Cast, keys: Callable[..., None]) -> None:
    keys(OLD)
    with_app(cast.alice)
    keys()
    with_app(cast.bob)
    with pytest.raises(CommandError, match="SECOND_STEP_KEY is not set"):
        call_command("seal_second_steps")
    keys(NEW)

    out = StringIO()
    with pytest.raises(CommandError, match="1 seeds are sealed under a key that is not here"):
        call_command("seal_second_steps", stdout=out)

    assert "Seeds sealed now: 1, of which 1 were in plain text" in out.getvalue()
    assert all_kept() == Counter({Kept.NEWEST: 1, Kept.UNREADABLE: 1})


def test_changed_seal_is_not_taken(keys: Callable[..., None]) -> None:
    keys(NEW)
    kept = seal("JBSWY3DPEHPK3PXP")
    assert unsealed(kept) == "JBSWY3DPEHPK3PXP" and seal("JBSWY3DPEHPK3PXP") != kept
    middle = len(kept) // 2
    spoilt = kept[:middle] + ("A" if kept[middle] != "A" else "B") + kept[middle + 1 :]

    assert kept_how(spoilt) is Kept.UNREADABLE
    with pytest.raises(UnreadableSeed):
        unsealed(spoilt)


def test_setup_is_checked(cast: Cast, keys: Callable[..., None], settings: Any) -> None:
    keys()
    assert second_steps_are_sealed() == "not served"
    settings.SERVED = True
    with pytest.raises(BeWise, match="kept in plain text"):
        second_steps_are_sealed()
    with_app(cast.alice)
    keys(OLD)
    with pytest.raises(BeWise, match="1 seeds are not under the newest key"):
        second_steps_are_sealed()
    call_command("seal_second_steps", stdout=StringIO())
    assert second_steps_are_sealed() == "1 seeds, all sealed under the newest key"
    keys(NEW)
    with pytest.raises(Mend, match="1 seeds of second steps cannot be read"):
        second_steps_are_sealed()


def test_codes_let_in_once(cast: Cast) -> None:
    secret, codes = with_app(cast.alice), RecoveryCodes.activate(cast.alice)
    for code in (code_of(secret), codes.generate_codes()[0]):
        assert _signs_in(cast.alice, code)["Location"] == "/"
        again = _signs_in(cast.alice, code)
        assert again.status_code == 200 and "Incorrect code" in again.content.decode()


def test_nothing_is_sealed_twice(cast: Cast, keys: Callable[..., None]) -> None:
    keys(NEW)
    TOTP.activate(cast.alice, "JBSWY3DPEHPK3PXP")
    kept = json.loads(_in_database())["secret"]

    call_command("seal_second_steps", stdout=StringIO())

    assert json.loads(_in_database())["secret"] == kept
