"""Where one is signed in: seen, ended at once, ended by what changes the way in, and kept no longer than said."""

import datetime as dt
import re
from collections.abc import Callable
from typing import Any

import pytest
from allauth.account.models import EmailAddress
from django.conf import settings
from django.contrib.sessions.models import Session
from django.core import mail
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from apiaries import sign_ins
from apiaries.actions.sign_ins import (
    NotOthers,
    NotTheirOwn,
    close_sessions,
    end_all_sign_ins,
    end_other_sign_ins,
    end_sign_in,
    note_new_key,
)
from apiaries.forgetting.erasing import erase
from apiaries.models import DeviceKind, Person, RefusedSignIn, SignIn
from apiaries.models.sign_ins import LASTS, RESTS
from apiaries.sessions import SessionStore
from apiaries.sign_in_log import mark_of
from reports.sweep import sweep
from tests.apiaries.outgoing import mails
from tests.apiaries.test_second_step import code_of, with_app
from tests.cast import PASSWORD, Cast

Opens = Callable[[Person | None], Client]
LIST = reverse("apiaries:sign-in-list")
OTHERS = reverse("apiaries:sign-in-end-others")
ON_A_PHONE = "Mozilla/5.0 (some phone; 17) Engine/5 (like others) Browser/9 Mobi"
AT_A_DESK = "Mozilla/5.0 (some system; 64 bit) Engine/5 Browser/9"
NEW_PASSWORD = "another-smoker-of-brass-9"


def sign_in(person: Person, *, agent: str = AT_A_DESK, password: str = PASSWORD) -> Client:
    """By the form, as anybody does."""
    client = Client(HTTP_USER_AGENT=agent)
    EmailAddress.objects.get_or_create(
        user=person, email=person.email, defaults={"verified": True, "primary": True}
    )
    client.post(reverse("account_login"), {"login": person.email, "password": password})
    return client


def is_in(client: Client) -> bool:
    return client.get(reverse("apiaries:me")).status_code == 200


def row_of(client: Client) -> SignIn:
    return SignIn.objects.get(session_key=client.session.session_key)


def part(client: Client, name: str) -> str:
    """One part of the page, without its marks."""
    page = client.get(LIST).content.decode()
    found = re.search(rf'id="{name}">(.*?)</section>', page, re.DOTALL)
    assert found is not None
    return " ".join(re.sub("<[^>]+>", " ", found[1]).split())


@pytest.mark.parametrize(
    ("agent", "device"),
    [
        (ON_A_PHONE, DeviceKind.PHONE),
        (AT_A_DESK, DeviceKind.COMPUTER),
        ("scale/1.0", DeviceKind.UNKNOWN),
        ("", DeviceKind.UNKNOWN),
        ("\x00" * 5_000, DeviceKind.UNKNOWN),
    ],
)
def test_of_the_browser_only_its_kind_is_kept(cast: Cast, agent: str, device: DeviceKind) -> None:
    client = sign_in(cast.alice, agent=agent)

    assert row_of(client).device == device
    fields = {field.name for field in SignIn._meta.get_fields()}
    assert fields == {"id", "person", "session_key", "device", "signed_in_at", "last_seen_at"}


def test_page_shows_where_and_which_is_this_one(cast: Cast) -> None:
    phone, desk = sign_in(cast.alice, agent=ON_A_PHONE), sign_in(cast.alice)
    sign_in(cast.bob)

    here = part(desk, "open")

    assert here.startswith("Computer or tablet this one Signed in")
    assert here.count("Signed in") == 2 and here.count("Phone") == 1
    assert part(phone, "open").startswith("Phone this one")


def test_one_is_ended_at_once_and_stands_among_the_earlier(cast: Cast) -> None:
    phone, desk = sign_in(cast.alice, agent=ON_A_PHONE), sign_in(cast.alice)
    end = reverse("apiaries:sign-in-end", args=[row_of(phone).pk])

    assert desk.post(end, follow=True).content.decode().count("That device is signed out.") == 1

    assert not is_in(phone) and is_in(desk)
    assert "Phone" not in part(desk, "open") and "Phone" in part(desk, "earlier")
    assert "signed out already" in desk.post(end, follow=True).content.decode()


def test_all_others_are_ended_and_nobody_elses(cast: Cast) -> None:
    first, second, third, bobs = (sign_in(who) for who in (cast.alice, cast.alice, cast.alice, cast.bob))

    page = third.post(OTHERS, follow=True).content.decode()

    assert "2 other devices are signed out." in page and "signed in nowhere else" in page
    assert [is_in(one) for one in (first, second, third, bobs)] == [False, False, True, True]


def test_actions_end_nobody_elses(cast: Cast) -> None:
    mine = row_of(sign_in(cast.alice))

    with pytest.raises(NotTheirOwn):
        end_sign_in(sign_in=mine, at=timezone.now(), by=cast.bob)
    with pytest.raises(NotTheirOwn):
        end_other_sign_ins(person=cast.alice, keep=None, at=timezone.now(), by=cast.bob)


def test_administrator_signs_a_member_out_everywhere(cast: Cast, client_for: Opens) -> None:
    theirs, bobs, admin = (
        [sign_in(cast.charlie), sign_in(cast.charlie)],
        sign_in(cast.bob),
        client_for(cast.adam),
    )
    page = reverse("apiaries:member-sign-out", args=[cast.charlie.membership.pk])
    change = admin.get(reverse("apiaries:member-change", args=[cast.charlie.membership.pk])).content.decode()
    assert page in change

    assert "Sign Charlie out everywhere?" in admin.get(page).content.decode()
    assert all(is_in(one) for one in theirs)
    done = admin.post(page, follow=True).content.decode()

    assert "Charlie is signed out of 2 devices. They are told by mail." in done
    assert [is_in(one) for one in (*theirs, bobs, admin)] == [False, False, True, True]
    (told,) = mails()
    assert told.to == ["charlie@example.org"]
    assert "Adam, an administrator of Test club, signed you out of Recount in every browser." in told.body
    assert "Charlie was signed in nowhere." in admin.post(page, follow=True).content.decode()
    assert len(mails()) == 1


def test_administrator_ends_their_own_on_their_own_page(cast: Cast, client_for: Opens) -> None:
    admin = client_for(cast.adam)
    page = reverse("apiaries:member-sign-out", args=[cast.adam.membership.pk])

    assert admin.post(page)["Location"] == LIST and is_in(admin)
    with pytest.raises(NotOthers):
        end_all_sign_ins(member=cast.adam.membership, at=timezone.now(), by=cast.adam)


def test_refused_passwords_and_codes_are_shown_to_whom_they_were_about(cast: Cast) -> None:
    bobs = sign_in(cast.bob)
    with_app(cast.alice)
    EmailAddress.objects.create(user=cast.alice, email="alice@example.com", verified=True)
    sign_in(cast.alice, agent=ON_A_PHONE, password="wrong-password")
    Client().post(reverse("account_login"), {"login": " ALICE@example.com", "password": "wrong-password"})
    halfway = sign_in(cast.alice)
    halfway.post(reverse("mfa_authenticate"), {"code": "000000"})

    desk = Client()
    desk.force_login(cast.alice)
    assert part(desk, "refused").count("20") >= 3  # three days, each with its year
    assert RefusedSignIn.objects.filter(mark=mark_of("alice@example.org")).count() == 2
    assert part(bobs, "refused").startswith("Refused None.")


def test_a_try_is_written_for_an_address_that_nobody_has_too(cast: Cast) -> None:
    Client().post(reverse("account_login"), {"login": "nobody@example.org", "password": "wrong-password"})

    (tried,) = RefusedSignIn.objects.all()
    assert tried.mark == mark_of("nobody@example.org")
    assert {field.name for field in RefusedSignIn._meta.get_fields()} == {"id", "mark", "device", "at"}


def test_page_of_somebody_who_was_guessed_at_for_hours_stays_short(cast: Cast, client_for: Opens) -> None:
    tries = [
        RefusedSignIn(mark=mark_of(cast.alice.email), device=DeviceKind.UNKNOWN, at=timezone.now())
        for _ in range(70)
    ]
    RefusedSignIn.objects.bulk_create(tries)

    assert part(client_for(cast.alice), "refused").endswith("And 50 earlier ones.")


def test_last_use_is_kept_by_the_hour_and_written_once_in_it(
    cast: Cast, client_for: Opens, django_assert_num_queries: Any
) -> None:
    client = client_for(cast.alice)
    row = row_of(client)
    hours_ago = timezone.now() - dt.timedelta(hours=5)
    SignIn.objects.filter(pk=row.pk).update(last_seen_at=hours_ago)
    page = reverse("apiaries:cautions")

    with django_assert_num_queries(2):  # session, and with it who they are; that it was used in this hour
        client.get(page)
    with django_assert_num_queries(1):
        client.get(page)

    row.refresh_from_db()
    assert row.last_seen_at > hours_ago
    assert (row.last_seen_at.minute, row.last_seen_at.second, row.last_seen_at.microsecond) == (0, 0, 0)


def test_session_from_before_sign_ins_were_noted_is_noted_and_closed_with_the_rest(
    cast: Cast, client_for: Opens
) -> None:
    before, never_used = client_for(cast.alice), client_for(cast.alice)
    for client in (before, never_used):
        session = client.session
        del session[sign_ins.OWN]
        session.save()
    SignIn.objects.all().delete()

    assert is_in(before)
    assert row_of(before).person == cast.alice

    assert close_sessions(cast.alice, at=timezone.now()) == 2
    assert not is_in(before) and not is_in(never_used)


def test_new_password_ends_the_others_and_keeps_this_one_under_its_new_key(cast: Cast) -> None:
    other, here = sign_in(cast.alice), sign_in(cast.alice)
    was = row_of(here)

    here.post(
        reverse("account_change_password"),
        {"oldpassword": PASSWORD, "password1": NEW_PASSWORD, "password2": NEW_PASSWORD},
    )

    assert is_in(here) and not is_in(other)
    now = row_of(here)
    assert now.pk == was.pk and now.session_key != was.session_key
    assert part(here, "open").count("Signed in") == 1


def test_password_may_be_a_long_sentence(cast: Cast) -> None:
    long = "Zwölf Völker stehen am Waldrand, und alle sind gezählt. " * 4
    here = sign_in(cast.alice)
    here.post(
        reverse("account_change_password"), {"oldpassword": PASSWORD, "password1": long, "password2": long}
    )

    assert is_in(sign_in(cast.alice, password=long))
    assert not is_in(sign_in(cast.alice, password=long[:72])), "none of it is cut off"


@pytest.mark.parametrize("how", ["password", "code"])
def test_proven_once_more_it_goes_on_under_a_new_key(cast: Cast, how: str) -> None:
    client, stolen = sign_in(cast.alice), Client()
    page = reverse("account_reauthenticate" if how == "password" else "mfa_reauthenticate")
    proof = PASSWORD if how == "password" else code_of(with_app(cast.alice))
    row, key = row_of(client), client.session.session_key
    stolen.cookies[settings.SESSION_COOKIE_NAME] = key
    assert is_in(stolen)

    client.post(page, {how: "000000"})
    assert client.session.session_key == key, "nothing was proven"
    client.post(page, {how: proof})

    assert client.session.session_key != key and not Session.objects.filter(session_key=key).exists()
    assert is_in(client) and not is_in(stolen)
    assert row_of(client).pk == row.pk


def test_of_two_at_once_the_later_key_holds(cast: Cast) -> None:
    client = sign_in(cast.alice)
    row, before = row_of(client), dict(client.session.items())
    client.post(reverse("account_reauthenticate"), {"password": PASSWORD})
    one = client.session.session_key
    other = SessionStore()
    other.update(before)
    other.create()  # what the second request, which had read the session before, makes of it

    note_new_key(sign_in=row.pk, session_key=other.session_key)

    assert not Session.objects.filter(session_key=one).exists() and not is_in(client)
    row.refresh_from_db()
    assert row.session_key == other.session_key
    assert SignIn.objects.filter(person=cast.alice).count() == 1


def test_password_set_by_a_mailed_link_ends_all(cast: Cast, client: Client) -> None:
    thief = sign_in(cast.alice)
    client.post(reverse("account_reset_password"), {"email": cast.alice.email})
    link = re.search(r"https?://[^/\s]+(/account/password/reset/key/\S+)", str(mail.outbox[-1].body))
    assert link is not None
    form = client.get(link[1], follow=True).redirect_chain[-1][0]

    client.post(form, {"password1": NEW_PASSWORD, "password2": NEW_PASSWORD})

    assert not is_in(thief)
    assert not SignIn.objects.open(timezone.now()).filter(person=cast.alice).exists()


def test_second_step_turned_on_codes_anew_and_off_end_the_others(cast: Cast) -> None:
    here = sign_in(cast.alice)
    here.post(reverse("account_reauthenticate"), {"password": PASSWORD})

    def ends_others(address: str, **typed: str) -> bool:
        other = Client()
        other.force_login(cast.alice)
        assert is_in(other)
        here.post(address, typed)
        return not is_in(other) and is_in(here)

    set_up = here.get(reverse("mfa_activate_totp")).content.decode()
    secret = re.search(r'value="([A-Z2-7]{16,})"', set_up)
    assert secret is not None
    assert ends_others(reverse("mfa_activate_totp"), code=code_of(secret[1]))
    assert ends_others(reverse("mfa_generate_recovery_codes"))
    assert ends_others(reverse("mfa_deactivate_totp"))


def test_signing_in_with_the_second_step_ends_nothing(cast: Cast) -> None:
    secret = with_app(cast.alice)
    first = Client()
    first.force_login(cast.alice)
    second = sign_in(cast.alice)

    second.post(reverse("mfa_authenticate"), {"code": code_of(secret)})

    assert is_in(first) and is_in(second)


@pytest.mark.parametrize(
    ("who", "age", "unused", "holds"),
    [
        ("alice", LASTS, dt.timedelta(0), False),
        ("alice", LASTS - dt.timedelta(hours=1), LASTS - dt.timedelta(hours=1), True),
        ("dana", RESTS, RESTS, False),
        ("dana", LASTS - dt.timedelta(hours=1), RESTS - dt.timedelta(hours=2), True),
    ],
)
def test_sign_in_is_over_after_its_time(
    cast: Cast, client_for: Opens, who: str, age: dt.timedelta, unused: dt.timedelta, holds: bool
) -> None:
    client, now = client_for(getattr(cast, who)), timezone.now()
    SignIn.objects.update(signed_in_at=now - age, last_seen_at=now - unused)

    assert SignIn.objects.over(now).exists() is not holds  # by which the sweep goes

    assert is_in(client) is holds
    assert Session.objects.exists() is holds


def test_operator_rests_as_short_as_a_coordinator(cast: Cast, client_for: Opens) -> None:
    Person.objects.filter(pk=cast.alice.pk).update(is_operator=True)
    client = client_for(cast.alice)
    SignIn.objects.update(last_seen_at=timezone.now() - RESTS)
    assert SignIn.objects.over(timezone.now()).exists()

    assert not is_in(client)


def test_sweep_ends_what_is_over_and_forgets_what_is_old(cast: Cast, client_for: Opens) -> None:
    now = timezone.now()
    rested, old, fresh = client_for(cast.dana), client_for(cast.alice), client_for(cast.bob)
    SignIn.objects.filter(pk=row_of(rested).pk).update(last_seen_at=now - RESTS)
    SignIn.objects.filter(pk=row_of(old).pk).update(signed_in_at=now - LASTS)
    for days in (29, 30):
        at = now - dt.timedelta(days=days)
        RefusedSignIn.objects.create(mark="0123456789", device=DeviceKind.PHONE, at=at)

    gone = sweep(at=now)

    assert (gone["sign-ins-over"], gone["sign-ins"], gone["refused-sign-ins"]) == (2, 1, 1)
    assert set(SignIn.objects.values_list("person", flat=True)) == {cast.dana.pk, cast.bob.pk}
    assert list(Session.objects.values_list("pk", flat=True)) == [fresh.session.session_key]
    assert RefusedSignIn.objects.count() == 1


def test_of_somebody_who_was_forgotten_no_sign_in_and_no_try_is_left(cast: Cast) -> None:
    sign_in(cast.alice)
    bobs = sign_in(cast.bob)
    for person in (cast.alice, cast.bob):
        Client().post(reverse("account_login"), {"login": person.email, "password": "wrong-password"})

    erase(cast.alice, at=timezone.now(), by=None, known=True)

    assert list(SignIn.objects.all()) == [row_of(bobs)]
    assert [tried.mark for tried in RefusedSignIn.objects.all()] == [mark_of("bob@example.org")]
