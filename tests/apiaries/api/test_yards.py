"""Yards and colonies, as the pages show them."""

from decimal import Decimal

import pytest
from django.conf import settings
from django.test import Client

from apiaries.actions import edit_yard, end_membership, set_sharing
from apiaries.models.places import coarse_cell
from tests.access.answers import told
from tests.access.world import AT
from tests.api_asking import Program
from tests.cast import Cast


def _with_place(cast: Cast) -> None:
    edit_yard(
        yard=cast.alice_yard, name="Home yard", region=cast.north,
        latitude=Decimal("52.51234"), longitude=Decimal("13.41234"), by=cast.alice,
    )  # fmt: skip


def _names(answer) -> list[str]:
    return [item["name"] for item in answer.json()["items"]]


def test_keeper_reads_her_yard_with_its_place(cast: Cast) -> None:
    _with_place(cast)

    answer = Program(cast.alice).ask(f"yards/{cast.alice_yard.pk}/")

    assert answer.status_code == 200
    assert answer.json() == {
        "id": cast.alice_yard.pk,
        "name": "Home yard",
        "region": {"id": cast.north.pk, "name": "North"},
        "keeper": "Alice",
        "yours": True,
        "may_record": True,
        "time_zone": "Europe/Berlin",
        "place": {"latitude": 52.51234, "longitude": 13.41234},
        "cell": coarse_cell(52.51234, 13.41234),
        "closed_on": None,
    }


def test_list_holds_what_the_person_sees_and_nothing_else(cast: Cast) -> None:
    assert _names(Program(cast.alice).ask("yards/")) == ["Home yard"]
    assert _names(Program(cast.bob).ask("yards/")) == ["Home yard"]
    assert _names(Program(cast.charlie).ask("yards/")) == ["Orchard"]
    assert _names(Program(cast.ines).ask("yards/")) == ["Home yard"]
    assert _names(Program(cast.dana).ask("yards/")) == _names(Program(cast.zoe).ask("yards/")) == []


def test_helper_may_record_and_inspector_only_reads(cast: Cast) -> None:
    _with_place(cast)
    rights = {
        name: [
            Program(getattr(cast, name)).ask(f"yards/{cast.alice_yard.pk}/").json()[key]
            for key in ("yours", "may_record")
        ]
        for name in ("alice", "bob", "ines")
    }

    assert rights == {"alice": [True, True], "bob": [False, True], "ines": [False, False]}


def test_coordinator_of_who_shares_sees_only_the_area(cast: Cast) -> None:
    _with_place(cast)
    set_sharing(membership=cast.alice.memberships.get(), shares_counts=True, by=cast.alice)

    yard = Program(cast.dana).ask(f"yards/{cast.alice_yard.pk}/")

    assert yard.json()["place"] is None
    assert yard.json()["cell"] == coarse_cell(52.51234, 13.41234)
    assert "52.5" not in yard.content.decode()


def test_hidden_and_missing_are_the_same_bytes(cast: Cast) -> None:
    program = Program(cast.charlie)

    hidden = program.ask(f"yards/{cast.alice_yard.pk}/")
    missing = [program.ask(f"yards/{pk}/") for pk in (10**9, 2**63, 10**30)]

    assert hidden.status_code == 404
    assert [told(answer) for answer in missing] == [told(hidden)] * len(missing)


def test_filters_of_hidden_things_find_nothing_alike(cast: Cast) -> None:
    program = Program(cast.charlie)

    answers = {program.ask(f"colonies/?yard={pk}").content for pk in (cast.alice_yard.pk, 10**9)}

    assert answers == {b'{"items":[],"next":null}'}


def test_colonies_of_one_yard(cast: Cast) -> None:
    answer = Program(cast.bob).ask(f"colonies/?yard={cast.alice_yard.pk}&living=true")

    assert _names(answer) == ["6", "5", "4", "3", "2", "1"]
    assert _names(Program(cast.bob).ask("colonies/?living=false")) == []
    one = Program(cast.bob).ask(f"colonies/{cast.colony.pk}/").json()
    assert one == {
        "id": cast.colony.pk,
        "yard": cast.alice_yard.pk,
        "name": "1",
        "label_code": cast.colony.label_code,
        "brood_boxes": 1,
        "supers_on": False,
        "brood": "unknown",
        "brood_seen_on": None,
        "started_on": "2026-04-01",
        "ended_on": None,
        "ended_why": "",
    }


def test_number_of_queries_does_not_grow_with_rows(cast: Cast, django_assert_max_num_queries) -> None:
    few, many = Program(cast.alice), Program(cast.alice)
    few.ask("colonies/?limit=1"), many.ask("colonies/")  # the hour of use is kept by now
    with django_assert_max_num_queries(20) as one:
        few.ask("colonies/?limit=1")
    with django_assert_max_num_queries(len(one)):
        many.ask("colonies/")


def test_helper_who_left_the_club_reads_nothing(cast: Cast) -> None:
    program = Program(cast.bob)
    assert program.ask(f"yards/{cast.alice_yard.pk}/").status_code == 200

    end_membership(membership=cast.bob.memberships.get(), at=AT, by=cast.adam)

    assert program.ask(f"yards/{cast.alice_yard.pk}/").status_code == 404
    assert _names(program.ask("yards/")) == _names(program.ask("colonies/")) == []


@pytest.mark.parametrize("verb", ["POST", "PUT", "PATCH", "DELETE", "OPTIONS"])
def test_nothing_is_written_here(cast: Cast, verb: str) -> None:
    answer = Program(cast.alice).ask(f"yards/{cast.alice_yard.pk}/", verb, {"name": "Other"})

    assert answer.status_code == 405
    cast.alice_yard.refresh_from_db()
    assert cast.alice_yard.name == "Home yard"


def test_a_browser_reads_with_its_own_sign_in(cast: Cast) -> None:
    client = Client()
    client.force_login(cast.alice, backend=settings.AUTHENTICATION_BACKENDS[0])

    assert _names(client.get("/api/v1/yards/")) == ["Home yard"]
