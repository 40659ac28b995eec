"""Counts as other programs read them: what was entered, what became of it, and never a rate without its range."""

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest

from apiaries.actions import add_yard, end_membership, move_colony, set_sharing
from apiaries.models import Club
from counts.actions import correct_sample, void_sample
from counts.change_actions import restore_sample
from counts.estimate import rate_interval
from counts.presenters import row_of
from counts.samples import BeesBy, Method
from counts.standing import Published
from tests.api_asking import Program
from tests.cast import Cast
from tests.counts.counting import AT, DAY, kept, wash

pytestmark = pytest.mark.usefixtures("reference")


def _ids(answer: Any) -> list[int]:
    return [item["id"] for item in answer.json()["items"]]


def test_one_count_with_all_that_is_known_of_it(cast: Cast) -> None:
    sample = kept(cast.colony, cast.bob, note="queen seen")

    told = Program(cast.alice).ask(f"counts/{sample.pk}/").json()

    entered = {
        "id": sample.pk, "version": 0, "colony": cast.colony.pk, "colony_name": "1", "yard": cast.alice_yard.pk,
        "method": "alcohol_wash", "kind": "wash", "sampled_on": "2026-08-12", "mites": 9, "bees": 300,
        "bees_by": "volume", "measure": "half_cup", "board_days": None, "cells_counted": None,
        "cells_total": None, "treatment_in_hive": None, "brood": "unknown", "note": "queen seen",
        "recorded_by": "Bob", "state": "standing", "voided": None, "restored": [], "corrects": None,
        "corrected_by": None,
    }  # fmt: skip
    assert {name: told[name] for name in entered} == entered
    assert set(told) == set(entered) | {"recorded_at", "estimate", "standing"}
    assert dt.datetime.fromisoformat(told["recorded_at"]) == AT


def test_estimate_is_whole_and_the_one_of_the_page(cast: Cast) -> None:
    sample = kept(cast.colony, cast.alice)
    row = row_of(sample, Published())

    told = Program(cast.alice).ask(f"counts/{sample.pk}/").json()["estimate"]

    assert (told["rate"], told["low"], told["high"]) == (row.rate, row.low, row.high)
    # 9 mites, 300 bees, 95 of 100 mites found; squared CVs of bees 0.1, scoop 0.2 and recovery 0.03 / 0.95 together
    c2 = (1 + 0.1**2) * (1 + 0.2**2) * (1 + (0.03 / 0.95) ** 2) - 1
    low, high = rate_interval(9, 285, c2)
    assert told["rate"] == pytest.approx(100 * 9 / 285)
    assert (told["low"], told["high"]) == pytest.approx((100 * float(low), 100 * float(high)), rel=1e-3)
    assert (told["unit"], told["level"], told["mites"], told["bees"]) == ("per_100_bees", 0.95, 9, 300)
    assert told["made_by"]["version"] == "nb-jeffreys-1"
    used = told["made_by"]["constants"]
    assert used["recovery_wash"] == {"value": 0.95, "sd": 0.03}
    assert used["scoop_cv"] == {"value": 0.2, "sd": 0.0}
    assert "bees_cv_estimated" in used and "bees_cv_counted" not in used and "board_day_cv" not in used


@pytest.mark.parametrize(("mites", "word"), [(0, "below"), (9, "either_side"), (60, "above")])
def test_standing_names_the_level_its_source_region_and_season(cast: Cast, mites: int, word: str) -> None:
    sample = kept(cast.colony, cast.alice, mites)

    told = Program(cast.alice).ask(f"counts/{sample.pk}/").json()["standing"]

    (level,) = told["levels"]
    assert told["word"] == level["standing"] == word
    assert (level["key"], level["issuer"], level["region"]) == (
        "us_usda_ars_tucson_jar",
        "USDA-ARS Tucson",
        "US",
    )
    assert (level["at"], level["unit"], level["rate"], level["at_inclusive"]) == (3, "per_100_bees", 3, True)
    assert (level["from_month"], level["to_month"]) == (None, None)
    assert "Sampling for Varroa" in level["source"] and level["mark"] == "published"
    assert told["sentence"]


def test_what_gives_no_rate_says_why(cast: Cast) -> None:
    few = kept(cast.colony, cast.alice, 1, 30)
    drones = kept(
        cast.colonies[1], cast.alice, 7, None, method=Method.DRONE_BROOD, bees_by=None, cells_counted=60
    )  # fmt: skip
    program = Program(cast.alice)

    told = program.ask(f"counts/{few.pk}/").json()
    assert [told["estimate"][name] for name in ("rate", "low", "high", "refusal")] == [None] * 3 + [
        "few_bees"
    ]
    assert told["standing"]["word"] == "not_enough" and told["standing"]["why"] == "too few bees"
    told = program.ask(f"counts/{drones.pk}/").json()
    assert told["estimate"] is None and told["cells_counted"] == 60
    assert told["standing"]["word"] == "not_enough"


def test_board_is_told_per_day(cast: Cast) -> None:
    Club.objects.update(action_level_issuer="us_univ_florida")  # who prints none for boards
    sample = kept(
        cast.colony, cast.alice, 12, None, method=Method.BOARD, bees_by=None, board_days=Decimal(3)
    )  # fmt: skip

    told = Program(cast.alice).ask(f"counts/{sample.pk}/").json()

    estimate = told["estimate"]
    assert (estimate["rate"], estimate["unit"], estimate["board_days"], estimate["bees"]) == (
        4,
        "per_day",
        3,
        None,
    )
    assert estimate["low"] < 4 < estimate["high"]
    assert told["treatment_in_hive"] is False and told["bees_by"] is None and told["measure"] is None
    assert told["standing"]["word"] == "trend"


def test_voided_restored_and_corrected_stay_to_be_seen(cast: Cast) -> None:
    sample, program = kept(cast.colony, cast.alice), Program(cast.alice)
    void_sample(sample=sample, why="typed twice", at=AT, by=cast.alice)
    told = program.ask(f"counts/{sample.pk}/").json()
    assert (told["state"], told["version"]) == ("voided", 1)
    assert told["voided"]["by"] == "Alice" and told["voided"]["why"] == "typed twice"

    restore_sample(sample=sample, why="it was another", at=AT, by=cast.alice)
    told = program.ask(f"counts/{sample.pk}/").json()
    assert (told["state"], told["version"], told["voided"]) == ("standing", 2, None)
    (restored,) = told["restored"]
    assert (restored["voided"]["why"], restored["restored"]["why"]) == ("typed twice", "it was another")

    new = correct_sample(sample=sample, count=wash(cast.colony, 8), why="misread", at=AT, by=cast.alice)
    old, told = (program.ask(f"counts/{pk}/").json() for pk in (sample.pk, new.pk))
    assert (old["state"], old["corrected_by"], told["corrects"]) == ("corrected", new.pk, sample.pk)
    assert old["voided"]["why"] == "misread"


def test_list_leaves_out_what_no_longer_counts_unless_asked(cast: Cast) -> None:
    standing, voided = kept(cast.colony, cast.alice), kept(cast.colonies[1], cast.alice)
    void_sample(sample=voided, why="spilt", at=AT, by=cast.alice)
    program = Program(cast.alice)

    assert _ids(program.ask("counts/")) == _ids(program.ask("counts/?standing=standing")) == [standing.pk]
    assert _ids(program.ask("counts/?standing=all")) == [voided.pk, standing.pk]


def test_filters(cast: Cast) -> None:
    first = kept(cast.colony, cast.alice, sampled_on=dt.date(2026, 7, 1))
    second = kept(cast.colonies[1], cast.alice, method=Method.SUGAR_ROLL)
    program = Program(cast.alice)

    found = {
        question: _ids(program.ask(f"counts/?{question}"))
        for question in (
            f"colony={cast.colony.pk}", f"yard={cast.alice_yard.pk}", "method=sugar_roll", "from=2026-07-02",
            "to=2026-07-01", "from=2026-07-01&to=2026-08-12", "from=2026-08-13",
        )
    }  # fmt: skip

    assert list(found.values()) == [
        [first.pk], [second.pk, first.pk], [second.pk], [second.pk], [first.pk], [second.pk, first.pk], [],
    ]  # fmt: skip


@pytest.mark.parametrize(
    "question",
    ["method=guess", "from=12.8.2026", "from=2026-02-30", "standing=yes", "yard=x", "colony=0", "ordering=rate",
     "yard=1&yard=2", "mites=9"],
)  # fmt: skip
def test_odd_questions_are_refused_by_name(cast: Cast, question: str) -> None:
    answer = Program(cast.alice).ask(f"counts/?{question}")

    assert answer.status_code == 400
    assert answer["Content-Type"] == "application/problem+json"
    assert [fault["name"] for fault in answer.json()["fields"]] == [question.split("=")[0]]


def test_everybody_sees_what_the_pages_show_them(cast: Cast) -> None:
    sample = kept(cast.colony, cast.alice)
    names = ("alice", "bob", "ines", "charlie", "dana", "ivan", "adam", "zoe")

    seen = {name: Program(getattr(cast, name)).ask(f"counts/{sample.pk}/").status_code for name in names}
    listed = {name: len(_ids(Program(getattr(cast, name)).ask("counts/"))) for name in names}

    allowed = ("alice", "bob", "ines")
    assert seen == {name: 200 if name in allowed else 404 for name in names}
    assert listed == {name: int(name in allowed) for name in names}
    set_sharing(membership=cast.alice.memberships.get(), shares_counts=True, by=cast.alice)
    assert Program(cast.dana).ask(f"counts/{sample.pk}/").status_code == 200


def test_hidden_and_missing_are_the_same_bytes(cast: Cast) -> None:
    sample, program = kept(cast.colony, cast.alice), Program(cast.charlie)

    answers = [program.ask(f"counts/{pk}/") for pk in (sample.pk, 10**9, 2**63, 10**30)]
    answers += [program.ask(f"yards/{pk}/estimate/") for pk in (cast.alice_yard.pk, 10**9, 10**30)]

    assert {answer.status_code for answer in answers} == {404}
    assert len({answer.content for answer in answers}) == 1


def test_filters_by_hidden_things_find_nothing_alike(cast: Cast) -> None:
    kept(cast.colony, cast.alice)
    program = Program(cast.charlie)

    keys = [("yard", cast.alice_yard.pk), ("colony", cast.colony.pk), ("yard", 10**9), ("colony", 10**9)]
    answers = {program.ask(f"counts/?{name}={pk}").content for name, pk in keys}

    assert answers == {b'{"items":[],"next":null}'}


def test_pages_hold_every_count_once(cast: Cast) -> None:
    wanted = [kept(colony, cast.alice).pk for colony in cast.colonies]
    program = Program(cast.alice)
    found, url = [], "counts/?limit=4"
    while url:
        page = program.ask(url).json()
        found += [item["id"] for item in page["items"]]
        url = page["next"]

    assert found == wanted[::-1]


def test_number_of_queries_does_not_grow_with_counts(cast: Cast, django_assert_max_num_queries) -> None:
    for colony in cast.colonies:
        sample = kept(colony, cast.alice)
        void_sample(sample=sample, why="typed twice", at=AT, by=cast.alice)
        restore_sample(sample=sample, why="no", at=AT, by=cast.alice)
        correct_sample(sample=sample, count=wash(colony, 8), why="misread", at=AT, by=cast.alice)
    program = Program(cast.alice)
    program.ask("counts/?standing=all")  # the hour of use is kept by now
    with django_assert_max_num_queries(30) as few:
        assert len(_ids(program.ask("counts/?standing=all&limit=2"))) == 2
    with django_assert_max_num_queries(len(few)):
        assert len(_ids(program.ask("counts/?standing=all"))) == 12


def test_correction_in_a_yard_that_is_hidden_is_not_named(cast: Cast) -> None:
    """Alice's colony stood in a yard of hers where Bob does not help, on the day that was meant."""
    heath = add_yard(keeper=cast.alice, region=cast.north, name="Heath", by=cast.alice)
    move_colony(colony=cast.colony, to_yard=heath, moved_on=DAY, by=cast.alice)
    cast.colony.refresh_from_db()
    wrong = kept(cast.colony, cast.alice, sampled_on=DAY - dt.timedelta(days=1))
    right = correct_sample(sample=wrong, count=wash(cast.colony), why="a day later", at=AT, by=cast.alice)
    assert (wrong.yard, right.yard) == (cast.alice_yard, heath)

    told = Program(cast.bob).ask(f"counts/{wrong.pk}/").json()

    assert (told["state"], told["corrected_by"]) == ("corrected", None)
    assert Program(cast.alice).ask(f"counts/{wrong.pk}/").json()["corrected_by"] == right.pk


def test_unchanged_is_not_sent_again(cast: Cast) -> None:
    sample, program = kept(cast.colony, cast.alice), Program(cast.alice)
    tag = program.ask(f"counts/{sample.pk}/")["ETag"]

    assert program.ask(f"counts/{sample.pk}/", **{"If-None-Match": tag}).status_code == 304
    void_sample(sample=sample, why="spilt", at=AT, by=cast.alice)
    assert program.ask(f"counts/{sample.pk}/", **{"If-None-Match": tag}).status_code == 200


def test_yard_estimate_is_the_one_of_the_page(cast: Cast, client_for: Any) -> None:
    for colony, mites in zip(cast.colonies, (9, 4, 12), strict=False):
        kept(colony, cast.alice, mites, bees_by=BeesBy.COUNTED)

    told = Program(cast.ines).ask(f"yards/{cast.alice_yard.pk}/estimate/").json()

    page = client_for(cast.ines).get(f"/yards/{cast.alice_yard.pk}/")
    says = page.context["says"]
    estimate = told["estimate"]
    assert (estimate["rate"], estimate["low"], estimate["high"]) == (says.rate, says.low, says.high)
    assert (estimate["mites"], estimate["bees"]) == (25, 900)
    assert (estimate["colonies_counted"], estimate["colonies"], estimate["kind"]) == (3, 6, "wash")
    assert estimate["made_by"]["constants"]["between_c2"]["value"] == 0.8
    assert told["standing"]["word"] == says.key and told["standing"]["sentence"] == says.sentence


def test_yard_without_counts_has_no_estimate(cast: Cast) -> None:
    told = Program(cast.alice).ask(f"yards/{cast.alice_yard.pk}/estimate/").json()

    assert told["estimate"] is None and told["standing"]["word"] == "not_enough"


def test_who_left_the_club_reads_nothing(cast: Cast) -> None:
    sample, program = kept(cast.colony, cast.alice), Program(cast.bob)
    assert program.ask(f"counts/{sample.pk}/").status_code == 200

    end_membership(membership=cast.bob.memberships.get(), at=AT, by=cast.adam)

    assert program.ask(f"counts/{sample.pk}/").status_code == 404
    assert _ids(program.ask("counts/?standing=all")) == []
