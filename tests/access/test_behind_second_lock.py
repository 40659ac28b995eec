"""What the second lock hides is not taken for what is not there: it is refused by that, or is the same for all."""

import datetime as dt
from collections.abc import Callable
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse

from apiaries.actions import add_helper, add_yard, move_colony
from apiaries.models import Colony, Person
from apiaries.past import past_of
from apiaries.second_lock import as_person
from apiaries.standing import yards_on
from counts.actions import NewCount, correct_sample
from counts.api.telling import counts_told
from counts.change_actions import Replaced, restore_sample
from counts.forms.sample import SampleForm
from counts.models import MiteSample
from counts.samples import BeesBy, Method
from tests.access.conftest import AT
from tests.cast import Cast
from tests.plain_role import held
from tests.treatments.making import jar
from treatments.around import read_around
from treatments.models import Treatment


@pytest.mark.owner
def test_a_late_count_does_not_go_where_the_colony_did_not_stand(full: Cast, lock: str) -> None:
    """A helper of the yard where it stands now tells of a day before that: refused, and not put into this yard."""
    meadow = add_yard(keeper=full.alice, region=full.north, name="Meadow", by=full.alice)
    add_helper(yard=meadow, person=full.charlie, by=full.alice)
    move_colony(colony=full.colony, to_yard=meadow, moved_on=AT.date(), by=full.alice)
    told = {"entry_key": uuid4(), "method": "alcohol_wash", "bees_how": "half_cup", "brood": "unknown"}
    told |= {"mites": 3, "sampled_on": AT.date() - dt.timedelta(days=2)}
    with held(lock), as_person(full.charlie.pk):
        colony = Colony.objects.select_related("yard").get(pk=full.colony.pk)
        form = SampleForm(told, colony=colony, person=full.charlie, today=AT.date(), initial={})

        assert [yard.name for yard in yards_on([(colony, told["sampled_on"])])] == ["Home yard"]
        assert not form.is_valid()
    assert "stood in Home yard, where you do not log counts" in form.errors["sampled_on"][0]


Opens = Callable[[Person | None], Client]


@pytest.fixture
def corrected_elsewhere(full: Cast) -> tuple[MiteSample, MiteSample]:
    """A count of Alice's where Bob helps, and what she put in its place: of a day in a yard where he does not."""
    heath = add_yard(keeper=full.alice, region=full.north, name="Heath", by=full.alice)
    wrong = jar(full.colony, AT.date() - dt.timedelta(days=9), 17)
    move_colony(colony=full.colony, to_yard=heath, moved_on=AT.date() - dt.timedelta(days=5), by=full.alice)
    full.colony.refresh_from_db()
    meant = NewCount(
        colony=full.colony,
        method=Method.ALCOHOL_WASH,
        sampled_on=AT.date() - dt.timedelta(days=2),
        mites=4,
        bees=300,
        bees_by=BeesBy.COUNTED,
    )
    return wrong, correct_sample(sample=wrong, count=meant, why="a week later", at=AT, by=full.alice)


@pytest.mark.owner
def test_a_count_is_not_restored_beside_a_correction_that_the_lock_hides(
    full: Cast, lock: str, corrected_elsewhere: tuple[MiteSample, MiteSample]
) -> None:
    wrong, right = corrected_elsewhere
    with held(lock), as_person(full.bob.pk):
        assert not MiteSample.objects.filter(pk=right.pk).exists()
        sample = MiteSample.objects.get(pk=wrong.pk)
        told = counts_told([sample], full.bob)[0]
        with pytest.raises(Replaced):
            restore_sample(sample=sample, why="it was right", at=AT, by=full.bob)
    assert (told["state"], told["corrected_by"]) == ("corrected", None)
    wrong.refresh_from_db()
    assert wrong.voided_at is not None


@pytest.mark.owner
def test_page_of_a_correction_says_nothing_of_what_it_came_from_where_that_is_hidden(
    full: Cast, lock: str, corrected_elsewhere: tuple[MiteSample, MiteSample], client_for: Opens
) -> None:
    """A helper of the yard where the correction stands, and not of the other."""
    wrong, right = corrected_elsewhere
    add_helper(yard=right.yard, person=full.charlie, by=full.alice)
    page = reverse("counts:sample-detail", args=[right.pk])
    alices, charlies = client_for(full.alice), client_for(full.charlie)

    with held(lock):
        answers = [alices.get(page), charlies.get(page)]
    answers.append(charlies.get(page))  # by the first lock alone

    assert [answer.status_code for answer in answers] == [200, 200, 200]
    assert ["a week later" in answer.content.decode() for answer in answers] == [True, False, False]


@pytest.mark.owner
def test_a_colonys_past_tells_of_its_moves_from_where_somebody_may_not_look(
    full: Cast, lock: str, corrected_elsewhere: tuple[MiteSample, MiteSample]
) -> None:
    heath = corrected_elsewhere[1].yard
    add_helper(yard=heath, person=full.charlie, by=full.alice)
    with held(lock), as_person(full.charlie.pk):
        lines = past_of(Colony.objects.select_related("yard").get(pk=full.colony.pk), full.charlie)
    assert [line.words for line in lines] == ["Moved from Home yard to Heath", "Stands in Home yard"]


@pytest.mark.owner
def test_an_outcome_is_the_same_for_who_may_not_see_all_counts_of_it(full: Cast, lock: str) -> None:
    treatment = Treatment.objects.get(yard=full.alice_yard)
    heath = add_yard(keeper=full.alice, region=full.north, name="Heath", by=full.alice)
    after = AT.date()
    move_colony(colony=full.colony, to_yard=heath, moved_on=after, by=full.alice)
    full.colony.refresh_from_db()
    hidden = jar(full.colony, after, 1)
    assert hidden.yard == heath
    outcomes = []
    for person in (full.alice, full.bob):
        with held(lock), as_person(person.pk):
            outcomes.append(read_around([treatment], after)[treatment.pk])
            assert MiteSample.objects.filter(pk=hidden.pk).exists() is (person == full.alice)
    alices, bobs = outcomes
    assert hidden in alices.samples[full.colony.pk]
    assert bobs.samples == alices.samples and bobs.colonies == alices.colonies
