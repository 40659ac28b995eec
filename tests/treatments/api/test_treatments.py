"""Treatments, recounts and outcomes as other programs read them: the answers of the pages, never a bare percentage."""

import datetime as dt
from typing import Any

import pytest
import time_machine

from apiaries.actions import add_yard, end_membership, move_colony
from counts.models import MiteSample
from tests.api_asking import Program
from tests.cast import Cast
from tests.treatments.making import AFTER, BEFORE, GIVEN, LATER, board, jar, treat
from treatments.actions import cancel_treatment, skip_recount
from treatments.outcome_page import outcome_page

pytestmark = [pytest.mark.usefixtures("reference", "in_august")]
NOW = dt.datetime(2026, 8, 20, 10, tzinfo=dt.UTC)


@pytest.fixture
def in_august():
    """The day before the recount's last ones; counts are entered later, which no rule minds."""
    with time_machine.travel(NOW, tick=False):
        yield


def _counted(cast: Cast, before: list[int], after: list[int], **more: Any) -> None:
    for colony, first, second in zip(cast.colonies, before, after, strict=False):
        jar(colony, BEFORE, first, **more)
        jar(colony, AFTER, second, **more)


def _told(person: Any, pk: int) -> dict[str, Any]:
    return Program(person).ask(f"treatments/{pk}/").json()


def test_treatment_with_rounds_doses_dates_and_record(cast: Cast) -> None:
    treatment = treat(
        cast.colonies[:2], planned=[GIVEN + dt.timedelta(days=40)], product="As on the pack", withdrawal_days=7
    )  # fmt: skip

    told = _told(cast.bob, treatment.pk)

    assert {name: told[name] for name in ("id", "yard", "product", "state", "withdrawal_days", "cancelled")} == {
        "id": treatment.pk, "yard": cast.alice_yard.pk, "product": "As on the pack", "state": "planned",
        "withdrawal_days": 7, "cancelled": None,
    }  # fmt: skip
    assert told["application"] == {
        "key": "oxalic_vapour_us", "name": treatment.application.name, "ingredient": "oxalic_acid",
        "way": treatment.application.way, "jurisdiction": "US",
    }  # fmt: skip


def test_given_rounds_show_every_dose(cast: Cast) -> None:
    treatment = treat(cast.colonies[:2], GIVEN)

    told = _told(cast.alice, treatment.pk)

    assert (told["state"], told["first_on"], told["last_on"]) == ("finished", "2026-08-03", "2026-08-03")
    (given,) = told["rounds"]
    assert (given["number"], given["given_on"], given["out_on"], given["out_due_on"]) == (
        1, "2026-08-03", None, None,
    )  # fmt: skip
    assert [
        (dose["colony"], dose["colony_name"], dose["amount"], dose["voided"]) for dose in given["doses"]
    ] == [(colony.pk, colony.name, 1.0, None) for colony in cast.colonies[:2]]
    recount = told["recount"]
    assert (recount["earliest_on"], recount["latest_on"]) == ("2026-08-17", "2026-08-31")
    assert recount["state"] == "due" and recount["reason"] and recount["skipped"] is None


def test_outcome_is_the_worked_example_with_its_range_and_both_sides(cast: Cast) -> None:
    treatment = treat(cast.colonies[:5])
    _counted(cast, [14, 22, 6, 9, 9], [1, 0, 2, 0, 0])

    told = _told(cast.alice, treatment.pk)

    outcome = told["outcome"]
    # fixtures/worked_examples/drop_in_mites.csv, five_colonies_these: calculated, scipy.special.betaincinv
    assert (outcome["drop"]["low"], outcome["drop"]["high"]) == pytest.approx(
        (0.876443502, 0.983356612), abs=1e-8
    )
    assert (outcome["drop"]["drop"], outcome["drop"]["level"]) == (pytest.approx(0.95), 0.9)
    assert (outcome["word"], outcome["reason"], outcome["kind"]) == ("worked", None, "wash")
    assert (outcome["colonies_treated"], outcome["colonies_compared"]) == (5, 5)
    assert (outcome["target"], bool(outcome["target_source"])) == (0.9, True)
    for name, mites, day in (("before", 60, "2026-08-01"), ("after", 3, "2026-08-18")):
        side = outcome[name]
        assert (side["mites"], side["bees"], side["board_days"], side["colonies"]) == (mites, 1500, None, 5)
        assert (side["first_on"], side["last_on"], len(side["counts"])) == (day, day, 5)
        mean = side["estimate"]
        assert mean["low"] < mean["rate"] < mean["high"]
        assert mean["rate"] == pytest.approx(100 * mites / (1500 * 0.95))
        assert (mean["unit"], mean["level"]) == ("per_100_bees", 0.95)
        assert "between_c2" in mean["made_by"]["constants"]
    assert outcome["made_by"]["version"] == "paired-ratio-1"
    assert outcome["made_by"]["constants"]["target_other"] == {"value": 0.9, "sd": 0.0}


def test_outcome_says_what_its_page_says(cast: Cast) -> None:
    treatment = treat(cast.colonies[:5])
    _counted(cast, [14, 22, 6, 9, 9], [9, 8, 6, 1, 0])

    outcome = _told(cast.ines, treatment.pk)["outcome"]

    page = outcome_page(treatment, NOW.date())
    assert outcome["sentence"] == page["sentence"]
    assert outcome["word"] == page["outcome"].verdict.value
    assert outcome["drop"]["low"] == page["outcome"].low


def test_growth_is_told_apart(cast: Cast) -> None:
    treatment = treat(cast.colonies[:5])
    _counted(cast, [14, 22, 6, 9, 9], [1, 0, 2, 0, 0], brood="some")

    outcome = _told(cast.alice, treatment.pk)["outcome"]

    assert outcome["growing_days"] == 17
    # 1 - 0.05 x exp(-0.02 x 17), by hand
    assert outcome["drop"]["drop"] == pytest.approx(1 - 0.05 * 0.711770, abs=1e-5)
    assert outcome["as_counted"]["drop"] == pytest.approx(0.95)
    assert "brood_present" in outcome["notes"]


def test_no_drop_where_nothing_can_be_told(cast: Cast) -> None:
    treatment = treat(cast.colonies[:5])

    outcome = _told(cast.alice, treatment.pk)["outcome"]

    assert (outcome["word"], outcome["reason"]) == ("no_before_count", "no_before_count")
    assert [outcome[name] for name in ("drop", "as_counted", "before", "after", "against_untreated")] == [
        None
    ] * 5


def test_boards_tell_days_and_no_mean(cast: Cast) -> None:
    treatment = treat(cast.colonies[:2])
    for colony in cast.colonies[:2]:
        board(colony, BEFORE, 60)
        board(colony, AFTER, 3)

    outcome = _told(cast.alice, treatment.pk)["outcome"]

    assert outcome["kind"] == "board"
    assert (outcome["before"]["board_days"], outcome["before"]["bees"]) == (6, None)
    assert outcome["before"]["estimate"] is None and outcome["drop"]["low"] < outcome["drop"]["high"]


def test_one_colony_on_boards_has_the_rate_of_its_count(cast: Cast) -> None:
    treatment = treat(cast.colonies[:1])
    board(cast.colony, BEFORE, 60)
    board(cast.colony, AFTER, 3)

    before = _told(cast.alice, treatment.pk)["outcome"]["before"]

    assert (before["estimate"]["rate"], before["estimate"]["unit"]) == (20, "per_day")


def test_cancelled_and_skipped_stay_to_be_seen(cast: Cast) -> None:
    cancelled, skipped = treat(cast.colonies[:2], planned=[AFTER]), treat(cast.colonies[2:4])
    cancel_treatment(treatment=cancelled, why="rain", at=LATER, by=cast.alice)
    skip_recount(recount=skipped.recount, why="sold", at=LATER, by=cast.alice)

    one, other = _told(cast.alice, cancelled.pk), _told(cast.alice, skipped.pk)

    assert (one["state"], one["cancelled"]["why"], one["cancelled"]["by"]) == ("cancelled", "rain", "Alice")
    assert one["outcome"] is None
    assert (other["recount"]["state"], other["recount"]["skipped"]["why"]) == ("skipped", "sold")


def test_list_filters_and_who_sees(cast: Cast) -> None:
    first, second = treat(cast.colonies[:2]), treat(cast.colonies[2:4])

    def ids(person: Any, question: str = "") -> list[int]:
        return [one["id"] for one in Program(person).ask(f"treatments/{question}").json()["items"]]

    assert ids(cast.alice) == ids(cast.bob) == ids(cast.ines) == [second.pk, first.pk]
    assert ids(cast.charlie) == ids(cast.dana) == ids(cast.ivan) == ids(cast.zoe) == []
    assert ids(cast.alice, f"?colony={cast.colonies[0].pk}") == [first.pk]
    assert ids(cast.alice, f"?yard={cast.alice_yard.pk}&limit=1") == [second.pk]
    nothing = {
        Program(cast.charlie).ask(f"treatments/?{name}={pk}").content
        for name, pk in (
            ("yard", cast.alice_yard.pk),
            ("colony", cast.colony.pk),
            ("yard", 10**9),
            ("colony", 10**9),
        )
    }
    assert nothing == {b'{"items":[],"next":null}'}


def test_hidden_and_missing_are_the_same_bytes(cast: Cast) -> None:
    treatment, program = treat(cast.colonies[:2]), Program(cast.charlie)

    answers = [program.ask(f"treatments/{pk}/") for pk in (treatment.pk, 10**9, 10**30)]

    assert {answer.status_code for answer in answers} == {404}
    assert len({answer.content for answer in answers}) == 1


def test_counts_made_in_a_hidden_yard_are_not_named(cast: Cast) -> None:
    """Bob helps where they were treated, and not where one of them was counted afterwards."""
    treatment = treat(cast.colonies[:2])
    heath = add_yard(keeper=cast.alice, region=cast.north, name="Heath", by=cast.alice)
    for colony in cast.colonies[:2]:
        jar(colony, BEFORE, 20)
    move_colony(colony=cast.colony, to_yard=heath, moved_on=AFTER, by=cast.alice)
    cast.colony.refresh_from_db()
    for colony in cast.colonies[:2]:
        jar(colony, AFTER, 1)
    hidden = MiteSample.objects.get(yard=heath).pk

    bobs, alices = (_told(who, treatment.pk)["outcome"]["after"] for who in (cast.bob, cast.alice))

    assert hidden in alices["counts"] and hidden not in bobs["counts"]
    assert len(bobs["counts"]) == 1 and bobs["colonies"] == alices["colonies"] == 2


def test_number_of_queries_does_not_grow_with_treatments(cast: Cast, django_assert_max_num_queries) -> None:
    for colony in cast.colonies:
        treat([colony])
    _counted(cast, [14, 22, 6, 9, 9, 8], [1, 0, 2, 0, 0, 1])
    program = Program(cast.alice)
    program.ask("treatments/")  # the hour of use, and the spread of the club, are kept by now
    with django_assert_max_num_queries(40) as few:
        assert len(program.ask("treatments/?limit=2").json()["items"]) == 2
    with django_assert_max_num_queries(len(few)):
        assert len(program.ask("treatments/").json()["items"]) == 6


def test_nothing_is_written_and_leaving_the_club_ends_reading(cast: Cast) -> None:
    treatment, program = treat(cast.colonies[:2]), Program(cast.bob)

    verbs = {
        program.ask(f"treatments/{treatment.pk}/", verb, {}).status_code
        for verb in ("PUT", "PATCH", "DELETE")
    }
    posted = program.ask("treatments/", "POST", {}).status_code
    end_membership(membership=cast.bob.memberships.get(), at=LATER, by=cast.adam)

    assert (verbs, posted) == ({405}, 405)
    assert program.ask(f"treatments/{treatment.pk}/").status_code == 404
