"""The pages of yards and colonies through the test client: what shows, what is saved, what is refused."""

import datetime as dt
import re
from collections.abc import Callable
from typing import Any

import pytest
import time_machine
from django.contrib.messages import get_messages
from django.test import Client
from django.urls import reverse

from apiaries.actions import add_yard, set_sharing
from apiaries.models import Colony, Person, Yard, YardHelper

Opens = Callable[[Person | None], Client]

NOON = dt.datetime(2026, 8, 12, 12, tzinfo=dt.UTC)


@pytest.fixture(autouse=True)
def _clock() -> Any:
    with time_machine.travel(NOON, tick=False):
        yield


def url(name: str, *args: object) -> str:
    return reverse(f"apiaries:{name}", args=args)


def said(response: Any) -> str:
    return " ".join(str(message) for message in get_messages(response.wsgi_request))


# ---------- yards


def test_yard_list_groups_by_part(cast: Any, client_for: Opens) -> None:
    add_yard(keeper=cast.bob, region=cast.south, name="Bobs yard", by=cast.bob)

    page = client_for(cast.bob).get(url("yard-list")).content.decode()

    assert page.index("Your yards") < page.index("Bobs yard") < page.index("Yards you help in")
    assert "Home yard" in page
    assert "Orchard" not in page


@pytest.mark.parametrize(
    ("name", "words"), [("dana", "Set up your first yard"), ("ivan", "No yards in your regions yet")]
)
def test_yard_list_empty_says_what_to_do(cast: Any, client_for: Opens, name: str, words: str) -> None:
    cast.ivan.membership.regions.clear()

    assert words in client_for(getattr(cast, name)).get(url("yard-list")).content.decode()


def test_yard_list_takes_as_many_queries_for_twenty_yards(
    cast: Any, client_for: Opens, django_assert_num_queries: Any
) -> None:
    client, queries = client_for(cast.alice), 2
    add_yard(keeper=cast.alice, region=cast.north, name="Second", by=cast.alice)
    with django_assert_num_queries(queries):
        client.get(url("yard-list"))

    for number in range(18):
        add_yard(keeper=cast.alice, region=cast.north, name=f"Yard {number}", by=cast.alice)
    with django_assert_num_queries(queries):
        assert client.get(url("yard-list")).content.count(b"<tr>") == 21


def test_yard_is_set_up_with_its_colonies(cast: Any, client_for: Opens) -> None:
    typed = {
        "name": "New",
        "region": cast.north.pk,
        "colonies": "1–24",
        "started_on": "1 Apr 2026",
        "place": "",
    }

    response = client_for(cast.dana).post(url("yard-add"), typed)

    yard = Yard.objects.get(name="New")
    assert response["Location"] == url("yard-detail", yard.pk)
    assert (yard.keeper, yard.time_zone, yard.colonies.count()) == (cast.dana, "Europe/Berlin", 24)
    assert said(response) == "New is set up with 24 colonies, 1 to 24."


@pytest.mark.parametrize(
    ("colonies", "names", "words"),
    [
        ("4", ["1", "2", "3", "4"], "New is set up with 4 colonies, 1 to 4."),
        ("200", [str(number) for number in range(1, 201)], "New is set up with 200 colonies, 1 to 200."),
        ("3, 7", ["3", "7"], "New is set up with 2 colonies, 3, 7."),
        ("7-8", ["7", "8"], "New is set up with 2 colonies, 7 to 8."),
        ("1", ["1"], "New is set up with 1 colony, 1."),
        ("201", ["201"], "New is set up with 1 colony, 201."),
        ("4, Blue", ["4", "Blue"], "New is set up with 2 colonies, 4, Blue."),
        ("", [], "New is set up."),
    ],
)
def test_number_alone_is_how_many_colonies(
    cast: Any, client_for: Opens, colonies: str, names: list[str], words: str
) -> None:
    typed = {"name": "New", "region": cast.north.pk, "colonies": colonies}

    response = client_for(cast.dana).post(url("yard-add"), typed)

    made = Colony.objects.filter(yard__name="New").in_reading_order()
    assert [one.name for one in made] == names
    assert said(response) == words


def test_long_list_of_names_is_told_in_short(cast: Any, client_for: Opens) -> None:
    typed = {"name": "New", "region": cast.north.pk, "colonies": ", ".join(f"Hive {n}" for n in range(1, 15))}

    assert said(client_for(cast.dana).post(url("yard-add"), typed)).endswith("Hive 12 and 2 more.")


def test_day_of_a_yard_set_up_is_not_filled_in_and_may_stay_unknown(cast: Any, client_for: Opens) -> None:
    client = client_for(cast.dana)
    page = client.get(url("yard-add")).content.decode()
    assert re.search(r'<input[^>]*name="started_on"[^>]*>', page)
    assert not re.search(r'<input[^>]*name="started_on"[^>]*value=', page)
    typed = {"name": "New", "region": cast.north.pk, "colonies": "4", "started_on": ""}
    client.post(url("yard-add"), typed)
    colony = Colony.objects.filter(yard__name="New").first()

    assert not colony.started_known
    page = client.get(url("colony-detail", colony.pk)).content.decode()
    assert "not known (first noted 12 Aug 2026)" in page
    assert "In New, first noted" in page


def test_yard_set_up_twice_makes_one(cast: Any, client_for: Opens) -> None:
    typed = {"name": "New", "region": cast.north.pk, "colonies": "1–3", "started_on": "1 Apr 2026"}
    client = client_for(cast.dana)

    first, second = (client.post(url("yard-add"), typed) for _ in range(2))

    assert (first.status_code, second.status_code) == (302, 200)
    assert "You already have a yard with this name" in second.content.decode()
    assert Colony.objects.filter(yard__name="New").count() == 3


def test_yard_refused_keeps_what_was_typed(cast: Any, client_for: Opens) -> None:
    typed = {"name": "My long named yard", "region": "", "colonies": "9-1", "started_on": "12/8/2026"}

    page = client_for(cast.dana).post(url("yard-add"), typed).content.decode()

    assert "<title>Error: Set up a yard" in page
    assert "There is a problem" in page
    for value in ("My long named yard", "9-1", "12/8/2026"):
        assert f'value="{value}"' in page
    assert not Yard.objects.filter(keeper=cast.dana).exists()


def test_yard_needs_a_region_first(cast: Any, client_for: Opens) -> None:
    page = client_for(cast.zoe).get(url("yard-add")).content.decode()

    assert url("region-add") in page
    assert "<form method" not in page.split("<main")[1]


@pytest.mark.parametrize(
    ("name", "place", "buttons"),
    [("alice", True, True), ("bob", True, False), ("ines", True, False), ("dana", False, False)],
)
def test_yard_page_shows_what_each_may(
    cast: Any, client_for: Opens, name: str, place: bool, buttons: bool
) -> None:
    set_sharing(membership=cast.alice.membership, shares_counts=True, by=cast.alice)
    Yard.objects.filter(pk=cast.alice_yard.pk).update(latitude="52.52", longitude="13.405")

    page = client_for(getattr(cast, name)).get(url("yard-detail", cast.alice_yard.pk)).content.decode()

    assert ("52.52000, 13.40500" in page) is place
    for verb in ("yard-edit", "helper-list", "colony-add"):
        assert (url(verb, cast.alice_yard.pk) in page) is buttons
    assert "1 helper, 1 inspector of North and the club" in page


def test_yard_is_edited_by_its_keeper_only(cast: Any, client_for: Opens) -> None:
    typed = {"name": "Renamed", "region": cast.south.pk, "place": "52.52 13.405"}
    edit = url("yard-edit", cast.alice_yard.pk)

    assert client_for(cast.bob).post(edit, typed).status_code == 403
    assert client_for(cast.charlie).post(edit, typed).status_code == 404
    assert client_for(cast.alice).post(edit, typed).status_code == 302

    cast.alice_yard.refresh_from_db()
    assert (cast.alice_yard.name, cast.alice_yard.region) == ("Renamed", cast.south)
    assert cast.alice_yard.cell


def test_area_is_kept_when_the_rest_is_edited_and_goes_when_unticked(cast: Any, client_for: Opens) -> None:
    alice, edit = client_for(cast.alice), url("yard-edit", cast.alice_yard.pk)
    typed = {"name": "Home", "region": cast.north.pk, "place": "52.52 13.405", "area_only": "on"}
    assert alice.post(edit, typed).status_code == 302
    assert "not kept, only its area" in alice.get(url("yard-detail", cast.alice_yard.pk)).content.decode()

    form = alice.get(edit).context["form"]
    assert form["area_only"].value() is True and form["place"].value() is None
    assert alice.post(edit, typed | {"name": "House", "place": ""}).status_code == 302
    cast.alice_yard.refresh_from_db()
    assert (cast.alice_yard.name, bool(cast.alice_yard.cell)) == ("House", True)

    assert alice.post(edit, {"name": "House", "region": cast.north.pk, "place": ""}).status_code == 302
    cast.alice_yard.refresh_from_db()
    assert (cast.alice_yard.cell, cast.alice_yard.latitude) == ("", None)


# ---------- helpers


def test_helper_is_added_and_ended(cast: Any, client_for: Opens) -> None:
    client, helpers = client_for(cast.alice), url("helper-list", cast.alice_yard.pk)

    response = client.post(helpers, {"email": "CHARLIE@example.org"})
    helper = YardHelper.objects.get(person=cast.charlie)
    assert said(response) == "Charlie can log counts and treatments in Home yard now."

    client.post(url("helper-end", cast.alice_yard.pk, helper.pk))
    helper.refresh_from_db()
    assert (helper.ended_at, helper.ended_by) == (NOON, cast.alice)
    assert client.post(url("helper-end", cast.alice_yard.pk, helper.pk)).status_code == 404


def test_helper_of_no_member_and_of_nobody_read_alike(cast: Any, client_for: Opens) -> None:
    client, helpers = client_for(cast.alice), url("helper-list", cast.alice_yard.pk)

    pages = [
        client.post(helpers, {"email": f"{name}@example.org"}).content.decode() for name in ("zoe", "nobody")
    ]

    assert all("No member of your club signs in with this address" in page for page in pages)
    assert not YardHelper.objects.filter(person=cast.zoe).exists()


# ---------- colonies


def test_colonies_are_added_at_once(cast: Any, client_for: Opens) -> None:
    typed = {"colonies": "7-9, Blue", "brood_boxes": "2", "started_on": "today"}

    response = client_for(cast.alice).post(url("colony-add", cast.alice_yard.pk), typed)

    assert said(response) == "4 colonies added to Home yard."
    blue = Colony.objects.get(name="Blue")
    assert (blue.brood_boxes, blue.started_on) == (2, dt.date(2026, 8, 12))


def test_colony_is_described(cast: Any, client_for: Opens) -> None:
    typed = {
        "name": "1",
        "brood_boxes": "2",
        "supers_on": "on",
        "brood": "none",
        "brood_seen_on": "yesterday",
    }

    client_for(cast.alice).post(url("colony-edit", cast.colony.pk), typed)

    cast.colony.refresh_from_db()
    assert (cast.colony.brood, cast.colony.brood_seen_on) == ("none", dt.date(2026, 8, 11))
    assert cast.colony.supers_on


def test_colony_moves_to_an_own_yard_only(cast: Any, client_for: Opens) -> None:
    other = add_yard(keeper=cast.alice, region=cast.south, name="Other", by=cast.alice)
    client, move = client_for(cast.alice), url("colony-move", cast.colony.pk)

    refused = client.post(move, {"to_yard": cast.charlie_yard.pk, "moved_on": "12 Aug 2026"})
    assert "Choose one of your own yards" in refused.content.decode()

    client.post(move, {"to_yard": other.pk, "moved_on": "12 Aug 2026"})
    page = client.get(url("colony-detail", cast.colony.pk)).content.decode()
    assert "Home yard to Other" in page


def test_colony_that_is_gone_offers_no_buttons(cast: Any, client_for: Opens) -> None:
    client = client_for(cast.alice)

    client.post(url("colony-end", cast.colony.pk), {"ended_on": "12 Aug 2026", "why": "sold"})

    page = client.get(url("colony-detail", cast.colony.pk)).content.decode()
    assert "Gone since 12 Aug 2026: sold" in page
    assert url("colony-move", cast.colony.pk) not in page
    assert "sold, 12 Aug 2026" in client.get(url("yard-detail", cast.alice_yard.pk)).content.decode()


def test_colony_ended_twice_says_so(cast: Any, client_for: Opens) -> None:
    client, end = client_for(cast.alice), url("colony-end", cast.colony.pk)
    client.post(end, {"ended_on": "12 Aug 2026", "why": "sold"})

    again = client.post(end, {"ended_on": "12 Aug 2026", "why": "stolen"})

    assert "written down before" in again.content.decode()
    cast.colony.refresh_from_db()
    assert cast.colony.ended_why == "sold"
