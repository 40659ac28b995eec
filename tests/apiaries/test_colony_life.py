"""Splitting, uniting, requeening, ending, undoing: the bees keep their history, and the label still answers."""

import datetime as dt
import re
from collections.abc import Callable
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from apiaries.actions import (
    AlreadyEnded,
    AlreadyUndone,
    NameTaken,
    NotThereYet,
    SameColony,
    add_yard,
    end_colony,
    move_colony,
    requeen_colony,
    split_colony,
    undo_change,
    unite_colonies,
)
from apiaries.lineage import ancestors_of, became_of, bees_changed
from apiaries.models import ChangeKind, Colony, ColonyChange, Person
from counts.actions import NewCount, record_sample
from counts.samples import BeesBy, Method

Opens = Callable[[Person | None], Client]
AT = dt.datetime(2026, 8, 12, 12, tzinfo=dt.UTC)
ON = dt.date(2026, 8, 12)
JUNE = dt.date(2026, 6, 1)
TOKEN = re.compile(r'name="csrfmiddlewaretoken" value="\w+"')
"""Another one for every answer."""


@pytest.fixture(autouse=True)
def _clock() -> Any:
    with time_machine.travel(AT, tick=False):
        yield


def url(name: str, *args: object) -> str:
    return reverse(f"apiaries:{name}", args=args)


def page(client: Client, colony: Colony) -> str:
    return client.get(url("colony-detail", colony.pk)).content.decode()


def split(cast: Any, name: str = "7", colony: Colony | None = None, on: dt.date = JUNE) -> Colony:
    mother = colony or cast.colony
    return split_colony(colony=mother, to_yard=cast.alice_yard, name=name, split_on=on, by=cast.alice)


def unite(cast: Any, colony: Colony, into: Colony, on: dt.date = JUNE) -> ColonyChange:
    return unite_colonies(colony=colony, into=into, united_on=on, by=cast.alice)


def count(cast: Any, colony: Colony, on: dt.date, mites: int) -> None:
    new = NewCount(colony, Method.ALCOHOL_WASH, on, mites, bees=300, bees_by=BeesBy.COUNTED)
    record_sample(count=new, at=AT, by=cast.alice)


# ---------- what must not happen


def test_colony_that_is_gone_neither_splits_nor_unites_nor_gets_a_queen(cast: Any) -> None:
    end_colony(colony=cast.colony, ended_on=JUNE, why="died out", by=cast.alice)

    for refused in (
        lambda: split(cast),
        lambda: unite(cast, cast.colony, cast.colonies[1]),
        lambda: unite(cast, cast.colonies[1], cast.colony),
        lambda: requeen_colony(colony=cast.colony, requeened_on=JUNE, by=cast.alice),
    ):
        with pytest.raises(AlreadyEnded):
            refused()
    assert ColonyChange.objects.count() == 1
    assert cast.alice_yard.colonies.count() == 6


def test_nothing_happens_to_a_colony_before_it_began(cast: Any) -> None:
    early = dt.date(2026, 3, 31)

    for refused in (
        lambda: split(cast, on=early),
        lambda: unite(cast, cast.colony, cast.colonies[1], on=early),
        lambda: requeen_colony(colony=cast.colony, requeened_on=early, by=cast.alice),
    ):
        with pytest.raises(NotThereYet):
            refused()
    assert not ColonyChange.objects.exists()


def test_split_with_a_name_that_is_taken_makes_nothing(cast: Any) -> None:
    with pytest.raises(NameTaken):
        split(cast, name="2")

    assert not ColonyChange.objects.exists()


def test_colony_is_not_united_with_itself(cast: Any) -> None:
    with pytest.raises(SameColony):
        unite(cast, cast.colony, cast.colony)


def test_end_is_not_undone_while_another_colony_has_the_name(cast: Any) -> None:
    end_colony(colony=cast.colony, ended_on=JUNE, why="sold", by=cast.alice)
    split(cast, name="1", colony=cast.colonies[1])
    ended = ColonyChange.objects.get(kind=ChangeKind.ENDED)

    with pytest.raises(NameTaken):
        undo_change(change=ended, why="still here", at=AT, by=cast.alice)

    ended.refresh_from_db()
    assert ended.voided_at is None


# ---------- facts and what follows from them


def test_split_makes_a_colony_with_its_own_label_and_ancestors(cast: Any) -> None:
    daughter = split(cast)
    granddaughter = split(cast, name="8", colony=daughter, on=ON)

    assert daughter.label_code != cast.colony.label_code
    assert daughter.started_on == JUNE
    lines = [(one.colony.name, one.until) for one in ancestors_of(granddaughter)]
    # What the grandmother did after the first split is no history of the granddaughter's bees.
    assert lines == [("7", ON), ("1", JUNE)]
    assert ancestors_of(cast.colony) == []


def test_undone_split_leaves_no_ancestor(cast: Any) -> None:
    daughter = split(cast)
    change = ColonyChange.objects.get()
    undo_change(change=change, why="came as a swarm", at=AT, by=cast.alice)

    daughter.refresh_from_db()
    assert ancestors_of(daughter) == [] and daughter.ended_on is None
    with pytest.raises(AlreadyUndone):
        undo_change(change=change, why="again", at=AT, by=cast.alice)


def test_undone_split_of_a_colony_that_never_was_ends_it_on_its_first_day(cast: Any) -> None:
    daughter = split(cast)
    undo_change(change=ColonyChange.objects.get(), why="dreamt", never_there=True, at=AT, by=cast.alice)

    daughter.refresh_from_db()
    assert (daughter.ended_on, daughter.ended_why) == (JUNE, "noted by mistake: dreamt")


def test_union_ends_one_colony_and_undoing_it_brings_it_back(cast: Any) -> None:
    one, two, three = cast.colonies[:3]
    union = unite(cast, one, two)
    unite(cast, two, three, on=ON)

    assert (one.ended_on, one.ended_why) == (JUNE, "united with colony 2")
    assert [colony.name for colony in became_of(one)] == ["2", "3"]

    undo_change(change=union, why="it was 4", at=AT, by=cast.alice)
    one.refresh_from_db()
    assert (one.ended_on, one.ended_why, became_of(one)) == (None, "", [])


def test_mixed_days_are_those_of_the_colony_that_gave_took_or_got_a_queen(cast: Any) -> None:
    one, two, three = cast.colonies[:3]
    split(cast, colony=one)
    unite(cast, three, two, on=ON)
    wrong = requeen_colony(colony=two, requeened_on=JUNE, by=cast.alice)
    undo_change(change=wrong, why="no", at=AT, by=cast.alice)
    requeen_colony(colony=two, requeened_on=dt.date(2026, 7, 1), by=cast.alice)

    found = bees_changed([one.pk, two.pk, three.pk])

    assert {key: [(day.on, day.kind) for day in days] for key, days in found.mixed.items()} == {
        one.pk: [(JUNE, "split")],
        two.pk: [(dt.date(2026, 7, 1), "requeened"), (ON, "united")],
    }
    assert found.between(two.pk, dt.date(2026, 7, 2), ON) == {ChangeKind.UNITED}
    assert bees_changed([Colony.objects.get(name="7").pk]).mothers == {
        Colony.objects.get(name="7").pk: (one.pk, JUNE)
    }


# ---------- pages


def test_split_page_leads_to_the_new_colony_which_shows_its_mothers_counts_as_such(
    cast: Any, client_for: Opens, reference: None
) -> None:
    count(cast, cast.colony, JUNE, 6)
    count(cast, cast.colony, JUNE + dt.timedelta(days=1), 17)
    alice = client_for(cast.alice)
    typed = {
        "name": "7",
        "to_yard": cast.alice_yard.pk,
        "on": "1 Jun 2026",
        "brood_boxes": "1",
        "note": "three frames",
    }

    answer = alice.post(url("colony-split", cast.colony.pk), typed)

    daughter = Colony.objects.get(name="7")
    assert answer.url == url("colony-detail", daughter.pk)
    words = page(alice, daughter)
    assert "Before it was split from colony 1" in words and "not counts of this colony" in words
    assert "6 in 300 bees" in words and "17 in 300 bees" not in words
    assert "Split from colony 1" in words and "three frames" in words
    assert "Split off: colony 7" in page(alice, cast.colony)


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"name": "2"}, "already has this name"),
        ({"name": ""}, "Enter a name or number"),
        ({"on": "1 Mar 2026"}, "did not stand here yet"),
        ({"on": "20 Aug 2026"}, "still to come"),
        ({"to_yard": "charlie"}, "one of your own yards"),
        ({"brood_boxes": "9"}, "9 is not one of the available choices"),
    ],
)
def test_split_refused_says_why_and_keeps_what_was_typed(
    cast: Any, client_for: Opens, typed: dict[str, str], words: str
) -> None:
    sent: dict[str, Any] = {
        "name": "7",
        "to_yard": cast.alice_yard.pk,
        "on": "1 Jun 2026",
        "brood_boxes": "1",
    }
    sent |= {"note": "kept as typed"} | typed
    if sent["to_yard"] == "charlie":
        sent["to_yard"] = cast.charlie_yard.pk

    told = client_for(cast.alice).post(url("colony-split", cast.colony.pk), sent).content.decode()

    assert words in told and "kept as typed" in told
    assert not ColonyChange.objects.exists()


def test_label_of_a_united_colony_leads_on_to_the_living_one(cast: Any, client_for: Opens) -> None:
    alice = client_for(cast.alice)
    into = url("colony-unite", cast.colony.pk)
    alice.post(into, {"into": cast.colonies[1].pk, "on": "12 Aug 2026"})
    unite(cast, cast.colonies[1], cast.colonies[2], on=ON)

    told = alice.get(url("label", cast.colony.label_code.lower()), follow=True).content.decode()

    assert "Gone since 12 Aug 2026: united with colony 2." in told
    assert "Its bees are in" in told and url("colony-detail", cast.colonies[2].pk) in told
    assert "Add a count</a>" not in told.split("Gone since")[1].split("Brood boxes")[0]


def test_label_leads_to_a_page_whose_first_button_adds_a_count(cast: Any, client_for: Opens) -> None:
    told = client_for(cast.bob).get(url("label", cast.colony.label_code), follow=True).content.decode()

    main = told.split("<main")[1]
    assert main.index(reverse("counts:sample-add", args=[cast.colony.pk])) < main.index("Brood boxes")


def test_label_answers_others_alike_whether_there_is_one_or_not(cast: Any, client_for: Opens) -> None:
    charlie = client_for(cast.charlie)

    answers = [charlie.get(url("label", code)) for code in (cast.colony.label_code, "22222222", "x", "ÄÖ%")]

    assert {answer.status_code for answer in answers} == {404}
    assert len({TOKEN.sub("", answer.content.decode()) for answer in answers}) == 1


def test_label_sends_the_signed_out_to_sign_in_and_back(cast: Any, client_for: Opens) -> None:
    known, unknown = (
        client_for(None).get(url("label", code)) for code in (cast.colony.label_code, "22222222")
    )

    assert known.status_code == unknown.status_code == 302
    assert known.url.endswith(f"next={url('label', cast.colony.label_code)}")
    assert known.url.replace(cast.colony.label_code, "22222222") == unknown.url


def test_moved_colony_answers_to_its_label_where_it_stands_now(cast: Any, client_for: Opens) -> None:
    heath = add_yard(keeper=cast.alice, region=cast.south, name="Heath", by=cast.alice)
    move_colony(colony=cast.colony, to_yard=heath, moved_on=ON, by=cast.alice)

    told = client_for(cast.alice).get(url("label", cast.colony.label_code), follow=True).content.decode()
    assert "Moved from Home yard to Heath" in told and "noted by Alice, 12 Aug 2026" in told
    # Bob helps in the old yard alone: the colony is none of his any more.
    assert client_for(cast.bob).get(url("label", cast.colony.label_code)).status_code == 404


def test_past_names_no_colony_of_a_yard_that_the_reader_may_not_see(cast: Any, client_for: Opens) -> None:
    heath = add_yard(keeper=cast.alice, region=cast.south, name="Heath", by=cast.alice)
    split_colony(colony=cast.colony, to_yard=heath, name="Secret", split_on=JUNE, by=cast.alice)

    assert "Secret" in page(client_for(cast.alice), cast.colony)
    told = page(client_for(cast.bob), cast.colony)
    assert "Split off: a colony of another yard" in told and "Secret" not in told


def test_undone_change_stays_struck_through_with_who_and_why(cast: Any, client_for: Opens) -> None:
    alice = client_for(cast.alice)
    alice.post(url("colony-requeen", cast.colony.pk), {"on": "1 Aug 2026", "note": "white dot"})
    change = ColonyChange.objects.get()

    alice.post(url("change-undo", change.pk), {"why": "it was colony 4"})

    told = page(alice, cast.colony)
    assert "Undone by Alice, 12 Aug 2026: it was colony 4" in told
    assert "white dot" in told.split("<s>")[1].split("</s>")[0]
    again = alice.get(url("change-undo", change.pk), follow=True).content.decode()
    assert "undone before. Nothing was changed" in again


def test_undoing_a_split_asks_whether_the_new_colony_exists(cast: Any, client_for: Opens) -> None:
    split(cast)
    change, alice = ColonyChange.objects.get(), client_for(cast.alice)

    refused = alice.post(url("change-undo", change.pk), {"why": "no"}).content.decode()
    assert "Say whether the new colony exists" in refused

    alice.post(url("change-undo", change.pk), {"why": "no", "there": "no"})
    assert Colony.objects.get(name="7").ended_on == JUNE


def test_end_noted_by_mistake_is_undone_from_the_page(cast: Any, client_for: Opens) -> None:
    alice = client_for(cast.alice)
    alice.post(url("colony-end", cast.colony.pk), {"ended_on": "12 Aug 2026", "why": "died out"})
    change = ColonyChange.objects.get()
    assert url("change-undo", change.pk) in page(alice, cast.colony)

    alice.post(url("change-undo", change.pk), {"why": "a cluster was left"})

    told = page(alice, cast.colony)
    assert "Gone since" not in told and "a cluster was left" in told
