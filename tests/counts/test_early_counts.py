"""Counts from before a colony is noted: asked about once, and what is noted of the beginning follows the answer."""

import datetime as dt
import uuid
from typing import Any

import pghistory.models
import pytest
from django.core.cache import cache
from django.urls import reverse
from django.utils import timezone

from apiaries.actions import (
    add_colonies,
    add_yard,
    end_colony,
    move_colony,
    requeen_colony,
    set_up_yard,
    split_colony,
)
from apiaries.models import Colony, Yard
from counts.actions import NewCount, correct_sample, record_sample
from counts.forms import SampleForm, YardCountForm
from counts.models import MiteSample
from counts.samples import BeesBy, Method
from tests.cast import STARTED, Cast
from tests.counts.counting import typed
from tests.counts.test_entries import answers, count, send

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("reference")]
EARLY, TODAY = dt.date(2026, 3, 1), dt.date(2026, 8, 14)
ISO = EARLY.isoformat()


def new(colony: Colony, on: dt.date = EARLY, **more: Any) -> NewCount:
    return NewCount(colony, Method.ALCOHOL_WASH, on, 3, bees=300, bees_by=BeesBy.VOLUME, **more)


def record(cast: Cast, *args: Any, **more: Any) -> MiteSample:
    return record_sample(count=new(*args, **more), at=timezone.now(), by=cast.alice)


def starts(yard: Yard) -> dict[str, dt.date]:
    return dict(yard.colonies.values_list("name", "started_on"))


@pytest.fixture
def unknown(cast: Cast) -> Yard:
    """A yard set up on 10 April without a day since when its colonies stand there."""
    return set_up_yard(
        keeper=cast.alice,
        region=cast.north,
        name="Orchard",
        latitude=None,
        longitude=None,
        colonies=["1", "2"],
        started_on=dt.date(2026, 4, 10),
        started_known=False,
        by=cast.alice,
    )


def form_of(cast: Cast, colony: Colony, **more: Any) -> SampleForm:
    sent = {name: value for name, value in typed(sampled_on=ISO, **more).items() if value != "None"}
    return SampleForm(sent, colony=colony, person=cast.alice, today=TODAY, initial={})


def test_colony_whose_start_is_not_known_is_not_asked_about(cast: Cast, unknown: Yard) -> None:
    assert form_of(cast, unknown.colonies.first()).is_valid()


def test_early_count_moves_back_a_start_that_is_not_known_and_no_other(cast: Cast, unknown: Yard) -> None:
    record(cast, unknown.colonies.get(name="1"))

    assert starts(unknown) == {"1": EARLY, "2": dt.date(2026, 4, 10)}
    assert not unknown.colonies.filter(started_known=True).exists()


def test_history_says_who_moved_the_start(cast: Cast, unknown: Yard) -> None:
    colony = unknown.colonies.get(name="1")
    record(cast, colony)

    events = pghistory.models.Events.objects.tracks(colony).filter(pgh_label="update")
    told = events.get()
    assert told.pgh_diff == {"started_on": ["2026-04-10", ISO]}
    assert told.pgh_context["by"] == cast.alice.pk
    assert told.pgh_context["verb"] in ("record_sample", "record_samples")


def test_known_start_stays_where_nobody_said_otherwise(cast: Cast) -> None:
    record(cast, cast.colony)

    assert set(starts(cast.alice_yard).values()) == {STARTED}


def test_yes_moves_the_start_of_all_that_were_set_up_together(cast: Cast) -> None:
    later = dt.date(2026, 5, 1)
    add_colonies(yard=cast.alice_yard, names=["Late"], started_on=later, by=cast.alice)
    asked = form_of(cast, cast.colony)
    assert not asked.is_valid()
    assert "the colonies noted together with it are here since then" in asked.questions[0]

    form = form_of(cast, cast.colony, sure=asked.sure_value)
    assert form.is_valid()
    record_sample(count=form.count, at=timezone.now(), by=cast.alice)

    assert starts(cast.alice_yard) == dict.fromkeys("123456", EARLY) | {"Late": later}
    other = form_of(cast, cast.colonies[1])  # read before the start moved, as in a batch
    assert other.is_valid()


def test_yes_about_a_whole_yard_moves_its_starts(cast: Cast) -> None:
    facts = {f"c{cast.colonies[place].pk}-mites": "3" for place in (0, 1)}
    args = {"yard": cast.alice_yard, "person": cast.alice, "today": TODAY, "initial": {}}
    asked = YardCountForm(typed(sampled_on=ISO, **facts), colonies=cast.colonies, **args)
    assert not asked.is_valid()

    sent = typed(sampled_on=ISO, sure=asked.sure_value, **facts)
    form = YardCountForm(sent, colonies=cast.colonies, **args)

    assert form.is_valid()
    assert all(one.there_then for one in form.counts)


def test_colony_split_from_another_keeps_its_day(cast: Cast) -> None:
    daughter = split_colony(
        colony=cast.colony, to_yard=cast.alice_yard, name="7", split_on=STARTED, by=cast.alice
    )
    record(cast, cast.colonies[1], there_then=True)
    record(cast, daughter, there_then=True)

    assert starts(cast.alice_yard) == dict.fromkeys("123456", EARLY) | {"7": STARTED}


def test_colony_that_came_from_another_yard_moves_alone(cast: Cast, unknown: Yard) -> None:
    meadow = add_yard(keeper=cast.alice, region=cast.north, name="Meadow", by=cast.alice)
    move_colony(colony=unknown.colonies.get(name="2"), to_yard=meadow, moved_on=TODAY, by=cast.alice)
    moved = meadow.colonies.get()
    record(cast, moved)

    moved.refresh_from_db()
    assert moved.started_on == EARLY
    assert starts(unknown) == {"1": dt.date(2026, 4, 10)}


def test_correction_moves_the_start_too(cast: Cast, unknown: Yard) -> None:
    colony = unknown.colonies.get(name="1")
    sample = record(cast, colony, dt.date(2026, 4, 20))
    correct_sample(sample=sample, count=new(colony), why="wrong day", at=timezone.now(), by=cast.alice)

    assert starts(unknown)["1"] == EARLY


def test_what_happened_early_moves_back_a_start_that_is_not_known(cast: Cast, unknown: Yard) -> None:
    first, second = unknown.colonies.order_by("name")
    requeen_colony(colony=first, requeened_on=EARLY, by=cast.alice)
    end_colony(colony=second, ended_on=EARLY, why="sold", by=cast.alice)

    assert starts(unknown) == {"1": EARLY, "2": EARLY}


def test_phone_hears_from_when_the_colony_is_noted(cast: Cast, client_for: Any) -> None:
    cache.clear()
    client = client_for(cast.alice)
    entries = [count(cast, place, sampled_on=ISO, key=str(uuid.uuid4())) for place in (0, 1)]
    told = answers(send(client, cast, *entries))
    assert [one["early"] for one in told] == [STARTED.isoformat()] * 2

    sure = [entry | {"sure": one["sure"]} for entry, one in zip(entries, told, strict=True)]
    assert [one["state"] for one in answers(send(client, cast, *sure))] == ["saved", "saved"]
    assert answers(send(client, cast, count(cast, 2, sampled_on=ISO)))[0]["state"] == "saved"
    page = client.get(reverse("apiaries:colony-detail", args=[cast.colonies[3].pk])).content.decode()
    assert "1 Mar 2026" in page
