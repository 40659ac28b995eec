"""The page for the yard and its ticks: who may, what is kept, what is refused in words, and once is once."""

import datetime as dt
import json
import re
import threading
import uuid
from decimal import Decimal

import pytest
from django.db import connections
from django.test import Client
from django.urls import reverse

from tests.treatments.making import treat
from treatments.actions import NewDose, cancel_treatment, give_round
from treatments.day_actions import NewHive, NewSheet, keep_device, set_sheet
from treatments.models import Application, SheetMark
from treatments.yard_ticks import BYTES_MAX, ENTRIES_MAX

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("reference")]
AT = dt.datetime.now(dt.UTC) - dt.timedelta(hours=3)
ON = dt.date(2026, 8, 12)
TRIAL = {
    "name": "pan",
    "tried_on": ON,
    "first_minutes": Decimal("10.5"),
    "following_minutes": Decimal(7),
    "cool_minutes": Decimal(2),
}


@pytest.fixture
def sheet(cast):
    """Alice's round of oxalic vapour with a timed heater, three hives, made three hours ago."""
    device = keep_device(device=None, keeper=cast.alice, facts=TRIAL, at=AT, by=cast.alice)
    new = NewSheet(
        starts_at=dt.time(9, 30),
        hives=tuple(NewHive(colony=one, amount=Decimal(2)) for one in cast.colonies[:3]),
        wait_minutes=Decimal(5),
        sealed_minutes=Decimal(15),
        device=device,
    )
    treatment = treat(cast.colonies[:3], planned=[ON])
    return set_sheet(round_=treatment.rounds.get(), sheet=new, at=AT, by=cast.alice)


def address(sheet, name="round-marks"):
    return reverse(f"treatments:{name}", args=[sheet.round.treatment_id, sheet.round.number])


def entry(sheet, **more):
    facts = {
        "key": str(uuid.uuid4()),
        "hive": sheet.hives.first().pk,
        "step": "started",
        "at": (AT + dt.timedelta(hours=1)).isoformat(),
        "remark": "",
        "undo": None,
    }
    return facts | more


def send(client, sheet, *entries, **more):
    return client.post(address(sheet), {"entries": entries} | more, content_type="application/json")


def answers(response):
    assert response.status_code == 200, response.content
    return [(one["key"], one["state"]) for one in response.json()["answers"]]


@pytest.fixture
def alice(cast, client_for):
    return client_for(cast.alice)


def phone_data(client, sheet):
    page = client.get(address(sheet, "round-yard")).content.decode()
    return json.loads(re.search(r'id="yard-data" type="application/json">(.*?)</script>', page)[1])


# The page.


def test_page_tells_the_phone_hives_minutes_and_ticks_and_no_other_persons_name(alice, cast, sheet):
    send(alice, sheet, entry(sheet))
    data = phone_data(alice, sheet)

    assert [one["name"] for one in data["hives"]] == ["1", "2", "3"]
    assert data["minutes"] == {"heaters": 1, "first": 10.5, "following": 7.0, "wait": 5.0, "sealed": 15.0}
    assert [(one["step"], one["undone"]) for one in data["state"]["marks"]] == [("started", False)]
    assert (data["person"], data["name"]) == (cast.alice.pk, "Alice")
    assert "Bob" not in json.dumps(data)


def test_page_names_the_person_it_may_be_kept_for_until_the_round_is_over(alice, cast, sheet):
    assert alice.get(address(sheet, "round-yard"))["X-Keep-For"] == str(cast.alice.pk)
    assert alice.get(address(sheet, "round-yard"))["Cache-Control"] == "private, no-store"

    give(cast, sheet)
    page = alice.get(address(sheet, "round-yard"))

    assert "X-Keep-For" not in page
    assert "Nothing can be ticked any more" in page.content.decode()


def test_sheet_leads_to_the_yard_only_while_it_may_be_ticked(alice, cast, client_for, sheet):
    def leads(client):
        return address(sheet, "round-yard") in client.get(address(sheet, "round-sheet")).content.decode()

    assert leads(alice) and leads(client_for(cast.bob))
    assert not leads(client_for(cast.ines))
    give(cast, sheet)
    assert not leads(alice)


def test_page_for_strips_has_one_step_and_no_vapour(alice, cast):
    way = Application.objects.exclude(way="vapour").filter(key="formic_gel_strip_us").get()
    treatment = treat(cast.colonies[:2], planned=[ON], way=way.key)
    hives = tuple(NewHive(colony=one, amount=Decimal(2)) for one in cast.colonies[:2])
    new = NewSheet(starts_at=dt.time(9), hives=hives, wait_minutes=Decimal(5), sealed_minutes=Decimal(15))
    sheet = set_sheet(round_=treatment.rounds.get(), sheet=new, at=AT, by=cast.alice)

    page = alice.get(address(sheet, "round-yard")).content.decode()

    assert 'data-step="started"' in page
    assert 'data-step="drawn"' not in page and "Seal first" not in page
    assert phone_data(alice, sheet)["vapour"] is False


def give(cast, sheet):
    give_round(
        round_=sheet.round,
        given_on=ON,
        doses=[NewDose(cast.colonies[0], Decimal(2))],
        at=AT,
        by=cast.alice,
    )


# What is kept.


def test_ticks_are_kept_and_answered_by_their_keys(alice, cast, sheet):
    one, two = entry(sheet, remark="wasps"), entry(sheet, step="drawn")

    response = send(alice, sheet, one, two)

    assert answers(response) == [(one["key"], "saved"), (two["key"], "saved")]
    assert {mark["key"] for mark in response.json()["marks"]} == {one["key"], two["key"]}
    kept = SheetMark.objects.get(entry_key=one["key"])
    assert (kept.step, kept.remark, kept.at, kept.recorded_by) == (
        "started", "wasps", dt.datetime.fromisoformat(one["at"]), cast.alice
    )  # fmt: skip


def test_sent_again_and_ticked_on_two_phones_counts_once(alice, cast, client_for, sheet):
    mine, bobs = entry(sheet), entry(sheet)
    send(alice, sheet, mine)

    assert answers(send(alice, sheet, mine, mine)) == [(mine["key"], "here")] * 2
    assert answers(send(client_for(cast.bob), sheet, bobs)) == [(bobs["key"], "here")]
    assert SheetMark.objects.count() == 1


def test_undo_takes_back_the_tick_with_the_key_once(alice, sheet):
    tick = entry(sheet)
    back = entry(sheet, undo=tick["key"])
    again = entry(sheet)

    found = answers(send(alice, sheet, tick, back, back, again))

    assert [state for _, state in found] == ["saved", "saved", "here", "saved"]
    assert SheetMark.objects.filter(undone_at=None).get().entry_key == uuid.UUID(again["key"])
    assert answers(send(alice, sheet, tick)) == [(tick["key"], "here")]  # a replay does not bring it back
    assert SheetMark.objects.filter(undone_at=None).count() == 1


def test_undo_of_a_tick_that_never_came_changes_nothing(alice, cast, client_for, sheet):
    send(client_for(cast.bob), sheet, entry(sheet))

    back = entry(sheet, undo=str(uuid.uuid4()))

    assert answers(send(alice, sheet, back)) == [(back["key"], "here")]
    assert SheetMark.objects.filter(undone_at=None).count() == 1


def test_undo_reaches_no_other_sheet(alice, cast, sheet):
    tick = entry(sheet)
    send(alice, sheet, tick)
    other = treat(cast.colonies[3:5], planned=[ON])
    hives = tuple(NewHive(colony=one, amount=Decimal(2)) for one in cast.colonies[3:5])
    new = NewSheet(starts_at=dt.time(9), hives=hives, wait_minutes=Decimal(5), sealed_minutes=Decimal(15))
    second = set_sheet(round_=other.rounds.get(), sheet=new, at=AT, by=cast.alice)

    answers(send(alice, second, entry(second, undo=tick["key"])))

    assert SheetMark.objects.get().undone_at is None


def test_nothing_sent_tells_how_things_stand(alice, sheet):
    send(alice, sheet, entry(sheet))

    told = send(alice, sheet).json()

    assert told["answers"] == [] and len(told["marks"]) == 1


# What is refused, one by one.

BAD = {
    "no entry": 7,
    "nothing in it": {},
    "key is no UUID": {"key": "nonsense"},
    "key is a number": {"key": 5},
    "key is long": {"key": "a" * 5000},
    "key cannot be sent back": {"key": "\ud800"},
    "hive of nobody": {"hive": 10**30},
    "hive is text": {"hive": "1"},
    "hive is true": {"hive": True},
    "hive is missing": {"hive": None},
    "no such step": {"step": "danced"},
    "step is a list": {"step": ["started"]},
    "no time": {"at": None},
    "time in words": {"at": "noon"},
    "time without a zone": {"at": "2026-08-12T10:00:00"},
    "time is a number": {"at": 1e300},
    "time at the end of times": {"at": "9999-12-31T23:59:59.999999-23:59"},
    "time before all": {"at": "0001-01-01T00:00:00+23:59"},
    "time in a week": {"at": (dt.datetime.now(dt.UTC) + dt.timedelta(days=7)).isoformat()},
    "time before the sheet": {"at": (AT - dt.timedelta(hours=2)).isoformat()},
    "remark is a list": {"remark": ["x"]},
    "remark is long": {"remark": "x" * 201},
    "remark with a zero": {"remark": "a\0b"},
    "remark of half a letter": {"remark": "\udc00"},
    "undo is no UUID": {"undo": "x"},
    "undo is a list": {"undo": [1]},
}


@pytest.mark.parametrize("bad", BAD.values(), ids=BAD)
def test_bad_entry_is_refused_in_words_and_the_next_is_kept(alice, sheet, bad):
    good = entry(sheet)
    odd = entry(sheet) | bad if isinstance(bad, dict) and bad else bad

    told = send(alice, sheet, odd, good).json()["answers"]

    assert [one["state"] for one in told] == ["refused", "saved"]
    assert told[0]["reason"].endswith((".", "?")) and told[1]["key"] == good["key"]
    assert SheetMark.objects.get().entry_key == uuid.UUID(good["key"])


def test_refused_entry_is_answered_by_its_key(alice, sheet):
    odd = entry(sheet, step="danced")

    assert answers(send(alice, sheet, odd)) == [(odd["key"], "refused")]


@pytest.mark.parametrize("closed", ["given", "cancelled"])
def test_tick_that_comes_too_late_is_refused_and_one_that_came_stays(alice, cast, sheet, closed):
    early, late = entry(sheet), entry(sheet, step="drawn")
    send(alice, sheet, early)
    if closed == "given":
        give(cast, sheet)
    else:
        cancel_treatment(treatment=sheet.round.treatment, why="rain", at=AT, by=cast.alice)

    response = send(alice, sheet, early, late)

    assert answers(response) == [(early["key"], "here"), (late["key"], "refused")]
    assert "noted as given" in response.json()["answers"][1]["reason"]
    assert response.json()["closed"] is True


# What is refused as a whole.

ODD_BODIES = {
    "nothing": b"",
    "no JSON": b"{",
    "no UTF-8": b"\xff\xfe",
    "a list": b"[]",
    "a number": b"3",
    "null": b"null",
    "no entries": b"{}",
    "entries are no list": b'{"entries": {"0": 1}}',
    "very deep": b'{"entries": ' + b"[" * 100_000,
    "a very long number": b'{"entries": ' + b"9" * 5000 + b"}",
}


@pytest.mark.parametrize("body", ODD_BODIES.values(), ids=ODD_BODIES)
def test_odd_body_is_refused(alice, sheet, body):
    response = alice.post(address(sheet), body, content_type="application/json")

    assert response.status_code == 400 and response.json()["error"]


def test_not_a_number_inside_an_entry_is_refused(alice, sheet):
    body = json.dumps({"entries": [entry(sheet, hive=float("nan"))]})

    told = alice.post(address(sheet), body, content_type="application/json")

    assert [one["state"] for one in told.json()["answers"]] == ["refused"]


def test_too_many_entries_and_too_much_are_refused_as_a_whole(alice, sheet):
    many = send(alice, sheet, *[entry(sheet) for _ in range(ENTRIES_MAX + 1)])
    much = alice.post(address(sheet), b" " * (BYTES_MAX + 1), content_type="application/json")

    assert (many.status_code, much.status_code) == (400, 413)
    assert SheetMark.objects.count() == 0


def test_as_many_as_allowed_are_kept(alice, sheet):
    assert len(answers(send(alice, sheet, *[entry(sheet) for _ in range(ENTRIES_MAX)]))) == ENTRIES_MAX


@pytest.mark.parametrize(
    "kind", ["multipart/form-data; boundary=x", "text/plain", "application/x-www-form-urlencoded"]
)
def test_form_is_no_entry(alice, sheet, kind):
    assert alice.post(address(sheet), b"entries=1", content_type=kind).status_code == 400


def test_forged_request_is_refused(cast, sheet):
    client = Client(enforce_csrf_checks=True)
    client.force_login(cast.alice, backend="allauth.account.auth_backends.AuthenticationBackend")

    assert send(client, sheet, entry(sheet)).status_code == 403
    client.get(address(sheet, "round-yard"))
    token = client.cookies["csrftoken"].value
    for kind in ("multipart/form-data; boundary=x", "application/json"):
        body = json.dumps({"entries": []})
        found = client.post(address(sheet), body, content_type=kind, headers={"x-csrftoken": token})
        assert found.status_code == (200 if kind == "application/json" else 400)


def test_ticks_of_one_person_are_never_kept_as_anothers(cast, client_for, sheet):
    response = send(client_for(cast.bob), sheet, entry(sheet), person=cast.alice.pk)

    assert response.status_code == 409 and not SheetMark.objects.exists()


def test_signed_out_keeps_nothing(sheet):
    assert send(Client(), sheet, entry(sheet)).status_code == 302
    assert not SheetMark.objects.exists()


# At once.


@pytest.mark.django_db(transaction=True)
def test_same_entry_sent_eight_times_at_once_is_kept_once(cast, client_for, sheet):
    client_for(cast.alice)
    tick, found, ready = entry(sheet), [], threading.Barrier(8)

    def sends():
        client = client_for(cast.alice)
        ready.wait()
        try:
            found.extend(answers(send(client, sheet, tick)))
        finally:
            connections.close_all()

    threads = [threading.Thread(target=sends) for _ in range(8)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()

    assert sorted(state for _, state in found) == ["here"] * 7 + ["saved"]
    assert SheetMark.objects.count() == 1
