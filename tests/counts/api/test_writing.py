"""Counts as other programs bring them in: once, in the words of the pages, and only where their person logs counts."""

import threading
import uuid
from typing import Any

import pytest
from django.db import connection
from rest_framework import serializers

from apiaries.actions import add_numbered_colonies, add_region, add_yard
from apiaries.api.fields import ShortList
from counts.actions import record_sample, void_sample
from counts.api.entering import NewCountIn, Strictly
from counts.api.idempotency import alone_with
from counts.change_actions import restore_sample
from counts.models import MiteSample
from tests.access.facts import number_of_rows
from tests.api_asking import Program
from tests.cast import STARTED, Cast
from tests.counts.counting import AT, kept, wash

pytestmark = pytest.mark.usefixtures("reference")
FACTS = {
    "method": "alcohol_wash",
    "sampled_on": "2026-08-12",
    "mites": 9,
    "bees_by": "volume",
    "measure": "half_cup",
}


def new_key(number: int = 0) -> str:
    """A UUID of version 7; the same number gives the same one."""
    return str(uuid.UUID(int=(0x019F_0000_0000 << 80) | (7 << 76) | (2 << 62) | number))


def _log(program: Program, key: str | None, /, **facts: Any) -> Any:
    headers = {} if key is None else {"Idempotency-Key": key}
    return program.ask("counts/", "POST", FACTS | facts, **headers)


def _faults(answer: Any) -> dict[str, str]:
    assert answer["Content-Type"] == "application/problem+json"
    return {fault["name"]: fault["detail"] for fault in answer.json()["fields"]}


def test_wash_is_kept_as_a_page_would_keep_it(cast: Cast) -> None:
    answer = _log(Program(cast.bob), new_key(), colony=cast.colony.pk, brood="some", note="by a program")

    assert answer.status_code == 201, answer.content
    sample = MiteSample.objects.get()
    assert answer["Location"].endswith(f"/api/v1/counts/{sample.pk}/")
    assert answer.json() == Program(cast.bob).ask(answer["Location"]).json()
    assert answer["ETag"] == Program(cast.bob).ask(answer["Location"])["ETag"]
    assert (sample.mites, sample.bees, sample.bees_by, sample.brood) == (9, 300, "volume", "some")
    assert (sample.recorded_by, sample.yard, sample.note) == (cast.bob, cast.alice_yard, "by a program")
    assert str(sample.entry_key) == new_key() and sample.rate is not None


@pytest.mark.parametrize(
    ("facts", "columns"),
    [
        ({"bees_by": "counted", "measure": None, "bees": 287}, {"bees": 287, "bees_by": "counted"}),
        ({"bees_by": "nominal", "measure": None, "bees": 250}, {"bees": 250, "bees_by": "nominal"}),
        ({"method": "sugar_roll", "bees": 300}, {"method": "sugar_roll", "bees": 300}),
        (
            {"method": "board", "bees_by": None, "measure": None, "board_days": 2.5, "treatment_in_hive": True,
             "cells_counted": 50, "cells_total": 100, "mites": 31},
            {"treatment_in_hive": True, "cells_counted": 50, "cells_total": 100, "bees": None},
        ),
        (
            {"method": "drone_brood", "bees_by": None, "measure": None, "cells_counted": 60},
            {"cells_counted": 60, "cells_total": None, "bees": None},
        ),
    ],
)  # fmt: skip
def test_every_kind_of_count(cast: Cast, facts: dict[str, Any], columns: dict[str, Any]) -> None:
    answer = _log(Program(cast.alice), new_key(), colony=cast.colony.pk, **facts)

    assert answer.status_code == 201, answer.content
    sample = MiteSample.objects.get()
    assert {name: getattr(sample, name) for name in columns} == columns


def test_no_key_or_an_odd_one_keeps_nothing(cast: Cast) -> None:
    program = Program(cast.alice)

    answers = [
        _log(program, key, colony=cast.colony.pk) for key in (None, "", "7", str(uuid.uuid4()), "0" * 32)
    ]

    assert {answer.status_code for answer in answers} == {400}
    assert {answer.json()["type"] for answer in answers} == {"/api/docs/#problem-no-key"}
    assert not MiteSample.objects.exists()


def test_sent_again_is_the_same_count(cast: Cast) -> None:
    program = Program(cast.alice)
    first = _log(program, new_key(), colony=cast.colony.pk)

    again = [_log(program, key, colony=cast.colony.pk) for key in (new_key(), f'"{new_key()}"')]

    assert [answer.status_code for answer in (first, *again)] == [201, 200, 200]
    assert {answer.content for answer in again} == {first.content}
    assert MiteSample.objects.count() == 1


def test_key_with_other_facts_or_of_somebody_else_is_refused_alike(cast: Cast) -> None:
    _log(Program(cast.alice), new_key(), colony=cast.colony.pk)

    other = _log(Program(cast.alice), new_key(), colony=cast.colony.pk, mites=8)
    bobs = _log(Program(cast.bob), new_key(), colony=cast.colony.pk)

    assert other.status_code == bobs.status_code == 422
    assert other.content == bobs.content
    assert other.json()["type"] == "/api/docs/#problem-key-used-before"
    assert MiteSample.objects.get().mites == 9


@pytest.mark.parametrize(
    ("facts", "name"),
    [
        ({"mites": -1}, "mites"),
        ({"mites": "9"}, "mites"),
        ({"mites": True}, "mites"),
        ({"mites": 9.5}, "mites"),
        ({"mites": None}, "mites"),
        ({"mites": 10**30}, "mites"),
        ({"mites": 901}, "mites"),
        ({"method": "guess"}, "method"),
        ({"sampled_on": "2100-01-01"}, "sampled_on"),
        ({"sampled_on": "12 Aug 2026"}, "sampled_on"),
        ({"bees": 299}, "bees"),
        ({"bees_by": "counted", "measure": None}, "bees"),
        ({"bees_by": "counted"}, "measure"),
        ({"bees_by": None, "measure": None}, "bees_by"),
        ({"measure": None}, "measure"),
        ({"board_days": 3}, "board_days"),
        ({"cells_counted": 3}, "cells_counted"),
        ({"method": "board"}, "bees_by"),
        ({"method": "board", "bees_by": None, "measure": None, "board_days": 2.55, "treatment_in_hive": False},
         "board_days"),
        ({"method": "board", "bees_by": None, "measure": None, "board_days": 3}, "treatment_in_hive"),
        ({"method": "drone_brood", "bees_by": None, "measure": None}, "cells_counted"),
        ({"note": "x" * 501}, "note"),
        ({"note": "a\0b"}, "note"),
        ({"note": "\ud800"}, "note"),
        ({"rate": 0.01}, "rate"),
        ({"recorded_by": 1}, "recorded_by"),
        ({"confirmed": "yes"}, "confirmed"),
    ],
)  # fmt: skip
def test_what_cannot_be_kept_is_said_at_its_name(cast: Cast, facts: dict[str, Any], name: str) -> None:
    answer = _log(Program(cast.alice), new_key(), colony=cast.colony.pk, **facts)

    assert answer.status_code == 422, answer.content
    assert name in _faults(answer)
    assert all(_faults(answer).values())
    assert not MiteSample.objects.exists()


def test_unusual_count_is_asked_about_and_kept_when_confirmed(cast: Cast) -> None:
    program = Program(cast.alice)

    asked = _log(program, new_key(), colony=cast.colony.pk, mites=60)

    assert asked.status_code == 422 and not MiteSample.objects.exists()
    assert asked.json()["type"] == "/api/docs/#problem-needs-a-look"
    (question,) = asked.json()["questions"]
    assert question["question"]
    wrong = _log(program, new_key(), colony=cast.colony.pk, mites=60, confirmed=["0" * 16])
    assert wrong.content == asked.content
    other = _log(program, new_key(), colony=cast.colony.pk, mites=61, confirmed=[question["key"]])
    assert other.status_code == 422, "A yes to one question answered another."
    sure = _log(program, new_key(), colony=cast.colony.pk, mites=60, confirmed=[question["key"]])
    assert sure.status_code == 201 and sure.json()["mites"] == 60
    again = _log(program, new_key(), colony=cast.colony.pk, mites=60)
    assert again.status_code == 200, "Sent twice: what there was to ask has been answered."


def test_every_question_wants_its_answer(cast: Cast) -> None:
    kept(cast.colony, cast.alice, 60)
    program = Program(cast.alice)
    keys = [
        one["key"] for one in _log(program, new_key(), colony=cast.colony.pk, mites=60).json()["questions"]
    ]
    assert len(keys) >= 2

    some = _log(program, new_key(), colony=cast.colony.pk, mites=60, confirmed=keys[:1])
    every = _log(program, new_key(), colony=cast.colony.pk, mites=60, confirmed=keys)

    assert (some.status_code, every.status_code) == (422, 201)


def test_list_that_is_too_long_is_one_fault(cast: Cast) -> None:
    answer = _log(Program(cast.alice), new_key(), colony=cast.colony.pk, confirmed=[7] * 300_000)

    assert answer.status_code == 422
    assert _faults(answer) == {"confirmed": "Ensure this field has no more than 20 elements."}
    assert len(answer.json()["fields"]) == 1


def test_every_list_that_comes_in_may_be_only_so_long() -> None:
    """Output alone may be of any length: nobody sends it."""
    loose = [
        f"{kind.__module__}.{kind.__name__}.{name}"
        for kind in _bodies(Strictly)
        for name, field in kind().fields.items()
        if isinstance(field, serializers.ListField | serializers.ListSerializer)
        and not isinstance(field, ShortList)
    ]

    assert loose == []
    assert isinstance(NewCountIn().fields["confirmed"], ShortList)


def _bodies(kind: type[serializers.Serializer]) -> list[type[serializers.Serializer]]:
    below = kind.__subclasses__()
    return below + [deeper for one in below for deeper in _bodies(one)]


def test_colony_where_the_person_logs_nothing_is_refused_like_one_that_is_not_there(cast: Cast) -> None:
    region = add_region(club=cast.zoe.membership.club, name="Far", by=cast.zoe)
    yard = add_yard(keeper=cast.zoe, region=region, name="Far yard", by=cast.zoe)
    (far,) = add_numbered_colonies(yard=yard, first=1, last=1, started_on=STARTED, by=cast.zoe)
    foreign = [far.pk, cast.charlie_yard.colonies.first().pk, 10**9, 2**63, 10**30]
    alice, ines = Program(cast.alice), Program(cast.ines)
    assert [program.ask("me/").status_code for program in (alice, ines)] == [200, 200]  # in use, this hour
    before = number_of_rows()

    answers = [_log(alice, new_key(), colony=pk) for pk in foreign]
    inspected = _log(ines, new_key(), colony=cast.colony.pk)

    assert {answer.status_code for answer in (*answers, inspected)} == {422}
    assert {answer.content for answer in answers[:3]} == {inspected.content}
    assert list(_faults(inspected)) == ["colony"]
    assert number_of_rows() == before


def test_scope_and_stranger(cast: Cast) -> None:
    answers = [
        _log(Program(cast.alice, "counts:read", "yards:read"), new_key(), colony=cast.colony.pk),
        _log(Program(None), new_key(), colony=cast.colony.pk),
    ]

    assert [answer.status_code for answer in answers] == [403, 401]
    assert not MiteSample.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_at_work_under_the_same_key_answers_409_and_then_the_first_count(cast: Cast) -> None:
    """Another process holds the key while it works."""
    held, done, program = threading.Event(), threading.Event(), Program(cast.alice)

    def works() -> None:
        with alone_with(uuid.UUID(new_key())):
            held.set()
            done.wait(20)
        connection.close()

    thread = threading.Thread(target=works)
    thread.start()
    assert held.wait(20)
    meanwhile = _log(program, new_key(), colony=cast.colony.pk)
    other = _log(program, new_key(1), colony=cast.colonies[1].pk)
    done.set()
    thread.join()
    after = _log(program, new_key(), colony=cast.colony.pk)

    assert (meanwhile.status_code, meanwhile["Retry-After"]) == (409, "1")
    assert meanwhile.json()["type"] == "/api/docs/#problem-still-at-work"
    assert (other.status_code, after.status_code) == (201, 201)


def _read(program: Program, sample: MiteSample) -> str:
    return program.ask(f"counts/{sample.pk}/")["ETag"]


def test_correction_stands_in_the_place_of_the_old_count(cast: Cast) -> None:
    sample, program = kept(cast.colony, cast.alice), Program(cast.alice)
    headers = {"If-Match": _read(program, sample), "Idempotency-Key": new_key()}
    body = FACTS | {"mites": 8, "why": "read the slip wrongly"}

    first = program.ask(f"counts/{sample.pk}/correction/", "POST", body, **headers)
    again = program.ask(f"counts/{sample.pk}/correction/", "POST", body, **headers)

    assert (first.status_code, again.status_code) == (201, 200), first.content
    assert first.content == again.content
    assert (first.json()["mites"], first.json()["corrects"]) == (8, sample.pk)
    old = program.ask(f"counts/{sample.pk}/").json()
    assert (old["state"], old["voided"]["why"]) == ("corrected", "read the slip wrongly")
    assert MiteSample.objects.count() == 2


def test_what_was_read_can_be_sent_back_as_a_correction(cast: Cast) -> None:
    sample, program = kept(cast.colony, cast.alice), Program(cast.alice)
    told = program.ask(f"counts/{sample.pk}/").json()
    names = ("method", "sampled_on", "mites", "bees", "bees_by", "measure", "board_days", "cells_counted",
             "cells_total", "treatment_in_hive", "brood", "note")  # fmt: skip
    body = {name: told[name] for name in names} | {"brood": "none", "why": "looked again"}

    answer = program.ask(
        f"counts/{sample.pk}/correction/", "POST", body,
        **{"If-Match": _read(program, sample), "Idempotency-Key": new_key()},
    )  # fmt: skip

    assert answer.status_code == 201, answer.content
    assert answer.json()["brood"] == "none"


def test_key_of_a_new_count_does_not_correct_another(cast: Cast) -> None:
    program = Program(cast.alice)
    _log(program, new_key(), colony=cast.colony.pk)
    other = kept(cast.colony, cast.alice, 5)
    headers = {"If-Match": _read(program, other), "Idempotency-Key": new_key()}

    answer = program.ask(f"counts/{other.pk}/correction/", "POST", FACTS | {"why": "misread"}, **headers)

    assert answer.status_code == 422
    assert answer.json()["type"] == "/api/docs/#problem-key-used-before"
    other.refresh_from_db()
    assert other.voided_at is None


def test_void_and_restore(cast: Cast) -> None:
    sample, program = kept(cast.colony, cast.alice), Program(cast.alice)

    voided = program.ask(
        f"counts/{sample.pk}/void/", "POST", {"why": "spilt"}, **{"If-Match": _read(program, sample)}
    )
    restored = program.ask(
        f"counts/{sample.pk}/restore/", "POST", {"why": "the other jar"}, **{"If-Match": voided["ETag"]}
    )

    assert (voided.status_code, voided.json()["state"]) == (200, "voided")
    assert (restored.status_code, restored.json()["state"]) == (200, "standing")
    assert restored.json()["restored"][0]["restored"]["why"] == "the other jar"


CHANGES = {
    "void": {"why": "spilt"},
    "restore": {"why": "no"},
    "correction": FACTS | {"mites": 8, "why": "misread"},
}


@pytest.mark.parametrize("what", CHANGES)
def test_change_wants_what_was_read(cast: Cast, what: str) -> None:
    sample, program, key = kept(cast.colony, cast.alice), Program(cast.alice), {"Idempotency-Key": new_key()}
    tag = _read(program, sample)

    unread = program.ask(f"counts/{sample.pk}/{what}/", "POST", CHANGES[what], **key)
    void_sample(sample=sample, why="spilt", at=AT, by=cast.alice)
    old = program.ask(f"counts/{sample.pk}/{what}/", "POST", CHANGES[what], **key, **{"If-Match": tag})

    assert (unread.status_code, old.status_code) == (428, 412)
    assert unread["ETag"] == tag and old["ETag"] == _read(program, sample) != tag
    assert MiteSample.objects.count() == 1


def test_who_is_slower_by_a_moment_restores_nothing(cast: Cast, monkeypatch: Any) -> None:
    """It is restored and voided anew after the tag was looked at, and before the count is locked."""
    sample, program = kept(cast.colony, cast.alice), Program(cast.alice)
    void_sample(sample=sample, why="spilt", at=AT, by=cast.alice)
    tag = _read(program, sample)

    def late(**said: Any) -> MiteSample:
        restore_sample(sample=sample, why="was right", at=AT, by=cast.alice)
        void_sample(sample=sample, why="spilt after all", at=AT, by=cast.alice)
        return restore_sample(**said)

    monkeypatch.setattr("counts.api.views.restore_sample", late)
    answer = program.ask(f"counts/{sample.pk}/restore/", "POST", {"why": "no"}, **{"If-Match": tag})

    assert answer.status_code == 412 and answer["ETag"] == _read(program, sample) != tag
    sample.refresh_from_db()
    assert sample.voided_why == "spilt after all"


@pytest.mark.parametrize("what", CHANGES)
def test_reason_is_wanted(cast: Cast, what: str) -> None:
    sample, program = kept(cast.colony, cast.alice), Program(cast.alice)
    headers = {"If-Match": _read(program, sample), "Idempotency-Key": new_key()}

    answers = [
        program.ask(f"counts/{sample.pk}/{what}/", "POST", CHANGES[what] | {"why": why}, **headers)
        for why in ("", "  ", None, 7, "x" * 201)
    ]

    assert {answer.status_code for answer in answers} == {422}
    assert all(list(_faults(answer)) == ["why"] for answer in answers)


@pytest.mark.parametrize("what", CHANGES)
def test_who_may_change_what(cast: Cast, what: str) -> None:
    sample = kept(cast.colony, cast.alice)
    body, key = CHANGES[what], {"Idempotency-Key": new_key(), "If-Match": "*"}

    answers = {
        name: Program(getattr(cast, name)).ask(f"counts/{sample.pk}/{what}/", "POST", body, **key).status_code
        for name in ("bob", "ines", "charlie", "zoe", "dana")
    }
    missing = Program(cast.charlie).ask(f"counts/{10**9}/{what}/", "POST", body, **key)
    hidden = Program(cast.charlie).ask(f"counts/{sample.pk}/{what}/", "POST", body, **key)

    assert answers == {"bob": 403, "ines": 403, "charlie": 404, "zoe": 404, "dana": 404}
    assert hidden.content == missing.content
    assert MiteSample.objects.standing().count() == MiteSample.objects.count() == 1


def test_what_stands_or_was_replaced_is_not_restored(cast: Cast) -> None:
    sample, program = kept(cast.colony, cast.alice), Program(cast.alice)
    standing = program.ask(
        f"counts/{sample.pk}/restore/", "POST", {"why": "no"}, **{"If-Match": _read(program, sample)}
    )
    headers = {"If-Match": _read(program, sample), "Idempotency-Key": new_key()}
    program.ask(f"counts/{sample.pk}/correction/", "POST", CHANGES["correction"], **headers)
    headers = {"If-Match": _read(program, sample), "Idempotency-Key": new_key(1)}

    replaced = program.ask(f"counts/{sample.pk}/restore/", "POST", {"why": "no"}, **headers)
    twice = program.ask(f"counts/{sample.pk}/correction/", "POST", CHANGES["correction"], **headers)
    void = program.ask(f"counts/{sample.pk}/void/", "POST", {"why": "no"}, **headers)

    assert [one.status_code for one in (standing, replaced, twice, void)] == [409] * 4
    assert MiteSample.objects.count() == 2


def test_phone_and_program_bring_in_one_count(cast: Cast) -> None:
    """The key is the entry's: what a phone had sent already is here."""
    sample = record_sample(count=wash(cast.colony, entry_key=uuid.UUID(new_key())), at=AT, by=cast.alice)

    answer = _log(Program(cast.alice), new_key(), colony=cast.colony.pk)

    assert (answer.status_code, answer.json()["id"]) == (200, sample.pk)
