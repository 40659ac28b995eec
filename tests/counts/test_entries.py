"""Counts from a phone: an answer for each, once is once, a bad one in nobody's way, and whose they are."""

import datetime as dt
import json
import threading
import uuid
from pathlib import Path
from typing import Any

import pytest
from django.core.cache import cache
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection, connections
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from apiaries.actions import add_numbered_colonies, add_yard, end_helper, move_colony
from counts.actions import void_sample
from counts.change_actions import restore_sample
from counts.entries import BYTES_MAX, ENTRIES_MAX, OTHER_VERSION, VERSION
from counts.models import MiteSample
from tests.cast import STARTED, Cast

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("reference")]
VERSIONS = json.loads((Path(__file__).parent / "entry_versions.json").read_text())


@pytest.fixture
def alice(cast: Cast, client_for: Any) -> Client:
    cache.clear()
    return client_for(cast.alice)


def today(cast: Cast) -> dt.date:
    return cast.alice_yard.local_date(timezone.now())


def count(cast: Cast, colony: int = 0, **more: Any) -> dict[str, Any]:
    """What a phone notes of one wash of half a cup."""
    facts = {
        "v": VERSION,
        "key": str(uuid.uuid4()),
        "colony": cast.colonies[colony].pk,
        "method": "alcohol_wash",
        "bees_how": "half_cup",
        "mites": "9",
        "brood": "unknown",
        "sampled_on": today(cast).isoformat(),
        "day_by_clock": True,
        "at": timezone.now().isoformat(),
    }
    return facts | more


def send(client: Client, cast: Cast, *entries: object, **more: Any) -> Any:
    url = reverse("counts:yard-entries", args=[cast.alice_yard.pk])
    return client.post(url, {"entries": entries} | more, content_type="application/json")


def answers(response: Any) -> list[dict[str, Any]]:
    assert response.status_code == 200, response.content
    return response.json()["answers"]


def states(response: Any) -> list[tuple[str, str]]:
    return [(one["key"], one["state"]) for one in answers(response)]


def kept() -> list[tuple[str, int]]:
    return [(one.colony.name, one.mites) for one in MiteSample.objects.standing().order_by("pk")]


# What is kept.


def test_counts_are_kept_with_their_keys_and_answered_by_them(alice: Client, cast: Cast) -> None:
    one, two = count(cast), count(cast, 1, mites="0", brood="some", note="windy")

    assert states(send(alice, cast, one, two)) == [(one["key"], "saved"), (two["key"], "saved")]

    first, second = MiteSample.objects.order_by("pk")
    assert (str(first.entry_key), first.mites, first.bees, first.bees_by) == (one["key"], 9, 300, "volume")
    assert (str(second.entry_key), second.mites, second.brood, second.note) == (
        two["key"],
        0,
        "some",
        "windy",
    )
    assert first.recorded_by == cast.alice and first.rate is not None


def test_same_entry_again_is_here_and_counted_once(alice: Client, cast: Cast) -> None:
    one = count(cast)

    assert [answers(send(alice, cast, one, one))[n]["state"] for n in (0, 1)] == ["saved", "here"]
    assert states(send(alice, cast, one)) == [(one["key"], "here")]
    assert kept() == [("1", 9)]


@pytest.mark.parametrize(
    "other",
    [{"mites": "8"}, {"brood": "some"}, {"note": "other"}, {"bees_how": "counted", "bees": "300"}],
)
def test_same_key_with_something_else_is_a_conflict_and_changes_nothing(
    alice: Client, cast: Cast, other: dict[str, str]
) -> None:
    one = count(cast)
    send(alice, cast, one)

    (answer,) = answers(send(alice, cast, one | other))

    assert (answer["state"], answer["conflict"]) == ("refused", True)
    assert "saved before, with other numbers" in answer["reason"]
    sample = MiteSample.objects.get()
    assert (sample.mites, sample.brood, sample.note, sample.bees_by) == (9, "unknown", "", "volume")


def test_another_persons_key_is_a_conflict(alice: Client, cast: Cast, client_for: Any) -> None:
    one = count(cast)
    send(client_for(cast.bob), cast, one)

    assert answers(send(alice, cast, one))[0]["state"] == "refused"
    assert MiteSample.objects.get().recorded_by == cast.bob


def test_bad_entry_in_the_middle_of_fifty_leaves_the_others_alone(alice: Client, cast: Cast) -> None:
    days = [today(cast) - dt.timedelta(days=n) for n in range(9)]
    sent = [count(cast, n % 6, sampled_on=days[n // 6].isoformat(), mites="2") for n in range(ENTRIES_MAX)]
    sent[25]["mites"] = "many"

    told = answers(send(alice, cast, *sent))

    assert [one["key"] for one in told] == [one["key"] for one in sent]
    assert [n for n, one in enumerate(told) if one["state"] != "saved"] == [25]
    assert told[25]["fields"] == {"mites": ["Enter the number of mites, even if it is 0."]}
    assert MiteSample.objects.count() == ENTRIES_MAX - 1


def test_counts_of_a_board_and_of_drone_brood(alice: Client, cast: Cast) -> None:
    board = count(cast, method="board", board_days="3", treatment_in_hive="no", bees_how="")
    drone = count(cast, 1, method="drone_brood", cells_opened="50", mites="4")

    assert [one["state"] for one in answers(send(alice, cast, board, drone))] == ["saved", "saved"]
    first, second = MiteSample.objects.order_by("pk")
    assert (first.board_days, first.treatment_in_hive, first.bees) == (3, False, None)
    assert (second.cells_counted, second.mites) == (50, 4)


def test_bees_that_were_weighed_are_taken_as_published(alice: Client, cast: Cast) -> None:
    send(alice, cast, count(cast, bees_how="grams_25"))

    assert MiteSample.objects.get().bees == 200  # 25 g of bees: docs/reference/bees-per-measure.md, grams_25


def test_helper_sends_and_another_member_does_not(alice: Client, cast: Cast, client_for: Any) -> None:
    assert answers(send(client_for(cast.bob), cast, count(cast)))[0]["state"] == "saved"
    assert send(client_for(cast.charlie), cast, count(cast, 1)).status_code == 404
    assert send(client_for(cast.ines), cast, count(cast, 1)).status_code == 403
    assert len(kept()) == 1


def test_colony_of_another_member_is_refused_like_one_that_nobody_has(alice: Client, cast: Cast) -> None:
    theirs = cast.charlie_yard.colonies.first()
    sent = [count(cast, colony=0) | {"colony": pk} for pk in (theirs.pk, 10**8)]

    first, second = answers(send(alice, cast, *sent))

    assert first["state"] == second["state"] == "refused"
    assert first["reason"] == second["reason"] and "Was it moved" in first["reason"]
    assert kept() == []


def test_helper_who_no_longer_helps_is_turned_away_whole(cast: Cast, client_for: Any) -> None:
    bob = client_for(cast.bob)
    end_helper(helper=cast.alice_yard.helpers.get(), at=timezone.now(), by=cast.alice)

    assert send(bob, cast, count(cast)).status_code == 404
    assert kept() == []


# What is asked first.


def test_what_is_odd_is_asked_and_its_answer_sends_it(alice: Client, cast: Cast) -> None:
    odd = count(cast, mites="73")
    (asked,) = answers(send(alice, cast, odd))

    assert asked["state"] == "refused" and len(asked["asks"]) == 1
    assert kept() == []
    assert answers(send(alice, cast, odd | {"sure": "something else"}))[0]["state"] == "refused"
    assert answers(send(alice, cast, odd | {"sure": asked["sure"]}))[0]["state"] == "saved"
    assert kept() == [("1", 73)]


def test_second_count_of_a_day_is_asked_about(alice: Client, cast: Cast) -> None:
    send(alice, cast, count(cast))

    (asked,) = answers(send(alice, cast, count(cast, mites="8")))

    assert "Is this one more count?" in asked["reason"]


# The day, and the phone's clock.


def test_day_to_come_is_refused_at_its_field(alice: Client, cast: Cast) -> None:
    ahead = (today(cast) + dt.timedelta(days=365)).isoformat()

    (answer,) = answers(send(alice, cast, count(cast, sampled_on=ahead)))

    assert answer["state"] == "refused"
    assert "This date is still to come" in answer["fields"]["sampled_on"][0]


def test_day_by_a_clock_two_days_behind_is_asked_about(alice: Client, cast: Cast) -> None:
    behind = timezone.now() - dt.timedelta(days=2)
    old = cast.alice_yard.local_date(behind)
    one = count(cast, sampled_on=old.isoformat(), at=behind.isoformat())

    (asked,) = answers(send(alice, cast, one, sent_at=behind.isoformat()))

    assert asked["state"] == "refused" and "The phone’s clock is wrong" in asked["reason"]
    sure = answers(send(alice, cast, one | {"sure": asked["sure"]}, sent_at=behind.isoformat()))
    assert sure[0]["state"] == "saved"


@pytest.mark.parametrize("more", [{"day_by_clock": False}, {"at": "rubbish"}, {"at": "9999-12-31T23:59Z"}])
def test_day_that_was_typed_or_a_time_that_cannot_be_read_is_not_asked_about(
    alice: Client, cast: Cast, more: dict[str, Any]
) -> None:
    behind = timezone.now() - dt.timedelta(days=2)
    one = count(cast, sampled_on=(today(cast) - dt.timedelta(days=2)).isoformat()) | more

    assert answers(send(alice, cast, one, sent_at=behind.isoformat()))[0]["state"] == "saved"


def test_clock_that_is_a_minute_off_is_not_asked_about(alice: Client, cast: Cast) -> None:
    near = (timezone.now() - dt.timedelta(minutes=1)).isoformat()

    assert answers(send(alice, cast, count(cast, at=near), sent_at=near))[0]["state"] == "saved"


# Undone and corrected.


def test_undo_voids_with_its_reason_once(alice: Client, cast: Cast) -> None:
    one = count(cast)
    send(alice, cast, one)
    undo = {"v": VERSION, "key": str(uuid.uuid4()), "undo": one["key"], "why": "Wrong colony"}

    assert [states(send(alice, cast, undo))[0][1] for _ in range(2)] == ["saved", "here"]
    sample = MiteSample.objects.get()
    assert (sample.voided_why, sample.voided_by) == ("Wrong colony", cast.alice)


def test_undo_of_what_never_came_counts_for_nothing(alice: Client, cast: Cast) -> None:
    undo = {"v": VERSION, "key": str(uuid.uuid4()), "undo": str(uuid.uuid4()), "why": "Slip"}

    assert states(send(alice, cast, undo)) == [(undo["key"], "here")]


def test_undo_needs_a_reason_and_the_right_to_it(alice: Client, cast: Cast, client_for: Any) -> None:
    one = count(cast)
    send(alice, cast, one)
    undo = {"v": VERSION, "key": str(uuid.uuid4()), "undo": one["key"]}

    assert answers(send(alice, cast, undo))[0]["state"] == "refused"
    assert states(send(client_for(cast.bob), cast, undo | {"why": "Mine now"}))[0][1] == "here"
    assert kept() == [("1", 9)]


def test_count_and_its_undoing_in_one_batch_leave_it_struck_through(alice: Client, cast: Cast) -> None:
    one = count(cast)
    undo = {"v": VERSION, "key": str(uuid.uuid4()), "undo": one["key"], "why": "Slip"}

    assert [state for _, state in states(send(alice, cast, one, undo))] == ["saved", "saved"]
    assert kept() == [] and MiteSample.objects.count() == 1


def test_correction_takes_the_place_of_the_count_once(alice: Client, cast: Cast) -> None:
    one = count(cast)
    right = count(cast, mites="6", corrects=one["key"], why="Read the slip wrongly")

    told = send(alice, cast, one, right)

    assert [state for _, state in states(told)] == ["saved", "saved"]
    assert states(send(alice, cast, right)) == [(right["key"], "here")]
    assert kept() == [("1", 6)]
    assert str(MiteSample.objects.standing().get().corrects.entry_key) == one["key"]


def test_undo_that_comes_again_voids_nothing_that_was_restored_since(alice: Client, cast: Cast) -> None:
    one = count(cast)
    (last,) = send(alice, cast, one).json()["last"]
    undo = {"v": VERSION, "key": str(uuid.uuid4()), "undo": one["key"], "seen": last["seen"], "why": "Slip"}
    send(alice, cast, undo)
    restore_sample(sample=MiteSample.objects.get(), why="no slip", at=timezone.now(), by=cast.alice)

    (answer,) = answers(send(alice, cast, undo))

    assert answer["state"] == "refused" and "restored since" in answer["reason"]
    assert kept() == [("1", 9)]
    (last,) = send(alice, cast).json()["last"]
    assert last["seen"] == MiteSample.objects.get().version
    assert states(send(alice, cast, undo | {"seen": last["seen"]}))[0][1] == "saved"


def test_correction_of_what_was_voided_meanwhile_is_refused(alice: Client, cast: Cast) -> None:
    one = count(cast)
    send(alice, cast, one)
    void_sample(sample=MiteSample.objects.get(), why="spilt", at=timezone.now(), by=cast.bob)

    (answer,) = answers(send(alice, cast, count(cast, corrects=one["key"], why="slip")))

    assert answer["state"] == "refused" and "corrected, voided or restored since" in answer["reason"]
    assert MiteSample.objects.count() == 1


def test_correction_without_its_count_or_its_reason_is_refused(alice: Client, cast: Cast) -> None:
    one = count(cast)
    send(alice, cast, one)
    lost = count(cast, corrects=str(uuid.uuid4()), why="slip")
    mute = count(cast, mites="6", corrects=one["key"])

    first, second = answers(send(alice, cast, lost, mute))

    assert "not here, or not yours" in first["reason"]
    assert list(second["fields"]) == ["why"]
    assert kept() == [("1", 9)]


# What was sent.


@pytest.mark.parametrize("told", VERSIONS, ids=lambda told: told["words"])
def test_entries_of_other_versions_are_kept_or_told(alice: Client, cast: Cast, told: dict[str, Any]) -> None:
    facts = {"colony": cast.colony.pk, "sampled_on": today(cast).isoformat()}

    (answer,) = answers(send(alice, cast, told["entry"] | facts))

    assert answer["key"] == told["entry"]["key"]
    if told["kept"]:
        assert answer["state"] == "saved"
    else:
        assert (answer["state"], answer["reason"]) == ("refused", OTHER_VERSION)


def test_version_of_today_is_among_those_replayed() -> None:
    assert VERSION in [told["entry"].get("v") for told in VERSIONS if told["kept"]]


@pytest.mark.parametrize(
    "odd",
    [
        None,
        7,
        [],
        {},
        {"key": 5},
        {"key": "no key"},
        {"key": "\ud800"},
        {"colony": "1"},
        {"colony": True},
        {"colony": -1},
        {"colony": 10**30},
        {"mites": ["9"]},
        {"mites": {"a": 1}},
        {"mites": True},
        {"mites": 1e300},
        {"mites": ""},
        {"note": "\0"},
        {"note": "\ud800"},
        {"note": "x" * 501},
        {"method": "guess"},
        {"bees_how": 3},
        {"brood": None},
        {"sampled_on": "31 Feb 2026"},
        {"sampled_on": "0001-01-01"},
        {"corrects": "no key"},
        {"corrects": 3},
        {"undo": 3},
        {"undo": "no key"},
    ],
    ids=repr,
)
def test_odd_entries_are_refused_in_words(alice: Client, cast: Cast, odd: Any) -> None:
    entry = count(cast) | odd if isinstance(odd, dict) and odd else odd

    (answer,) = answers(send(alice, cast, entry))

    assert answer["state"] == "refused" and answer["reason"]
    assert MiteSample.objects.count() == 0


@pytest.mark.parametrize(
    ("body", "kind", "status"),
    [
        (b"", "application/json", 400),
        (b"{", "application/json", 400),
        (b"[" * 100_000, "application/json", 400),
        (b"[]", "application/json", 400),
        (b'{"entries": 3}', "application/json", 400),
        (b'{"entries": []}', "text/plain", 400),
        (b" " * (BYTES_MAX + 1), "application/json", 413),
    ],
)
def test_what_is_no_batch_is_told_apart(
    alice: Client, cast: Cast, body: bytes, kind: str, status: int
) -> None:
    url = reverse("counts:yard-entries", args=[cast.alice_yard.pk])

    assert alice.generic("POST", url, body, content_type=kind).status_code == status


def test_more_than_fifty_at_once_and_another_persons_are_refused_whole(alice: Client, cast: Cast) -> None:
    assert send(alice, cast, *[count(cast)] * (ENTRIES_MAX + 1)).status_code == 413
    assert send(alice, cast, count(cast), person=cast.bob.pk).status_code == 409
    assert kept() == []


def test_sending_too_often_is_told(alice: Client, cast: Cast, settings: Any) -> None:
    settings.ACCOUNT_RATE_LIMITS = settings.ACCOUNT_RATE_LIMITS | {"count_entries": "2/m/user"}
    cache.clear()

    assert [send(alice, cast).status_code for _ in range(3)] == [200, 200, 429]
    cache.clear()


def test_sending_needs_the_token_of_the_page(cast: Cast) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(cast.alice, backend="allauth.account.auth_backends.AuthenticationBackend")

    assert send(client, cast, count(cast)).status_code == 403
    client.get(reverse("counts:yard-count", args=[cast.alice_yard.pk]))
    url = reverse("counts:yard-entries", args=[cast.alice_yard.pk])
    token = client.cookies["csrftoken"].value
    body = {"entries": [count(cast)]}
    sent = client.post(url, body, content_type="application/json", headers={"x-csrftoken": token})
    assert states(sent)[0][1] == "saved"


def test_answer_lists_what_the_person_counted_here_last(alice: Client, cast: Cast, client_for: Any) -> None:
    send(client_for(cast.bob), cast, count(cast, 1))
    one = count(cast)

    told = send(alice, cast, one).json()

    on = today(cast).isoformat()
    assert sorted(told["counted"]) == [[cast.colonies[0].pk, on], [cast.colonies[1].pk, on]]  # by whomever
    assert [entry["key"] for entry in told["last"]] == [one["key"]]
    assert told["last"][0]["words"] == "9 in about 300 bees, alcohol wash"
    assert abs(dt.datetime.fromisoformat(told["read_at"]) - timezone.now()) < dt.timedelta(seconds=30)


def test_colony_that_was_moved_within_reach_is_counted_where_it_stood(alice: Client, cast: Cast) -> None:
    out = add_yard(keeper=cast.alice, region=cast.north, name="Out yard", by=cast.alice)
    on = today(cast)
    move_colony(colony=cast.colony, to_yard=out, moved_on=on, by=cast.alice)
    old, new = count(cast, sampled_on=(on - dt.timedelta(days=3)).isoformat()), count(cast)

    assert [state for _, state in states(send(alice, cast, old, new))] == ["saved", "saved"]
    places = MiteSample.objects.order_by("sampled_on").values_list("yard__name", flat=True)
    assert list(places) == ["Home yard", "Out yard"]


# The file that a phone wrote.


def bring(client: Client, told: Any) -> str:
    body = told if isinstance(told, bytes) else json.dumps(told).encode()
    file = SimpleUploadedFile("counts.json", body, content_type="application/json")
    return client.post(reverse("counts:phone-file"), {"file": file}).content.decode()


def written(cast: Cast, *entries: dict[str, Any], **more: Any) -> dict[str, Any]:
    noted = [{"label": f"Colony {n}", "body": entry} for n, entry in enumerate(entries, start=1)]
    return {"kind": "counts waiting on a phone", "person": cast.alice.pk, "entries": noted} | more


def test_file_brings_the_same_keys_once_and_tells_of_each(alice: Client, cast: Cast) -> None:
    one, two, bad = count(cast), count(cast, 1), count(cast, 2, mites="")
    send(alice, cast, one)

    page = bring(alice, written(cast, one, two, bad))

    keys = {str(key) for key in MiteSample.objects.values_list("entry_key", flat=True)}
    assert keys == {one["key"], two["key"]}
    assert [page.count(f'data-state="{state}"') for state in ("here", "saved", "refused")] == [1, 1, 1]
    assert "Enter the number of mites, even if it is 0." in page


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (lambda told, cast: b"", "This file is empty"),
        (lambda told, cast: b"\xff\x00", "cannot be read"),
        (lambda told, cast: [], "no file that a phone wrote"),
        (lambda told, cast: told | {"kind": "other"}, "no file that a phone wrote"),
        (lambda told, cast: told | {"entries": [3]}, "no file that a phone wrote"),
        (lambda told, cast: told | {"entries": [{"label": "a\0", "body": {}}]}, "no file that a phone wrote"),
        (lambda told, cast: told | {"person": cast.bob.pk}, "Somebody else noted these counts"),
        (lambda told, cast: told | {"entries": told["entries"] * 501}, "More than 500"),
        (lambda told, cast: b" " * (1024 * 1024 + 1), "too big"),
    ],
)
def test_file_that_is_none_is_told_at_its_box_and_keeps_nothing(
    alice: Client, cast: Cast, spoil: Any, words: str
) -> None:
    page = bring(alice, spoil(written(cast, count(cast)), cast))

    assert words in page and "There is a problem" in page
    assert kept() == []


# At the same instant.


@pytest.mark.slow
@pytest.mark.django_db(transaction=True)
def test_eight_sends_of_the_same_batch_at_once_keep_each_count_once(cast: Cast, client_for: Any) -> None:
    cache.clear()
    sent = [count(cast, n, mites=str(n)) for n in range(6)]
    sent.append(count(cast, 0, mites="1", corrects=sent[0]["key"], why="slip"))
    clients = [client_for(cast.alice) for _ in range(8)]
    barrier, found = threading.Barrier(8), []

    def post(client: Client) -> None:
        barrier.wait()
        try:
            found.append([state for _, state in states(send(client, cast, *sent))])
        finally:
            connections.close_all()

    threads = [threading.Thread(target=post, args=[client]) for client in clients]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert len(found) == 8 and {state for states_ in found for state in states_} == {"saved", "here"}
    assert [sum(states_[n] == "saved" for states_ in found) for n in range(7)] == [1] * 7
    assert MiteSample.objects.count() == 7
    assert sorted(kept()) == [("1", 1), *[(str(n + 1), n) for n in range(1, 6)]]


def test_fifty_counts_of_a_day_ask_no_more_of_the_database_than_five(alice: Client, cast: Cast) -> None:
    several = [count(cast, number) for number in range(len(cast.colonies))]
    assert len(several) >= 3
    with CaptureQueriesContext(connection) as asked:
        assert {state for _, state in states(send(alice, cast, *several))} == {"saved"}
    together = len(asked)
    more = add_numbered_colonies(yard=cast.alice_yard, first=60, last=99, started_on=STARTED, by=cast.alice)
    many = [count(cast) | {"colony": colony.pk} for colony in more]
    with CaptureQueriesContext(connection) as asked:
        assert {state for _, state in states(send(alice, cast, *many))} == {"saved"}
    assert len(asked) <= together


def test_one_that_is_here_with_other_numbers_leaves_its_neighbours_of_the_day_alone(
    alice: Client, cast: Cast
) -> None:
    first, second, third = (count(cast, number, mites=str(number)) for number in range(3))
    send(alice, cast, second)

    told = answers(send(alice, cast, first, second | {"mites": "7"}, third))

    assert [one["state"] for one in told] == ["saved", "refused", "saved"]
    assert told[1]["conflict"] and [mites for _, mites in kept()].count(1) == 1


def test_same_batch_again_is_here_as_a_whole(alice: Client, cast: Cast) -> None:
    batch = [count(cast, number) for number in range(3)]
    send(alice, cast, *batch)

    assert {state for _, state in states(send(alice, cast, *batch))} == {"here"}
    assert len(kept()) == 3


def test_same_colony_twice_on_a_day_is_asked_about_within_a_batch(alice: Client, cast: Cast) -> None:
    told = answers(send(alice, cast, count(cast, 0), count(cast, 1), count(cast, 0), count(cast, 2)))

    assert [one["state"] for one in told] == ["saved", "saved", "refused", "saved"]
    assert "already has this method" in " ".join(told[2]["asks"])
