"""Every id that a form takes, filled with one that the sender must not use: nothing is written.

The row numbers are real ones of other people, and one that nobody has; both must be answered alike.
"""

from collections.abc import Callable
from typing import Any

import pytest
from django.db.models import Model
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from apiaries.actions import add_numbered_colonies, add_region, add_yard, end_helper
from apiaries.models import Colony, Person, Yard
from tests.access.facts import number_of_rows
from tests.access.world import World, make_world
from tests.cast import STARTED, Cast
from tests.flows.forms import fields_of

Opens = Callable[[Person | None], Client]
NOBODYS = 10**8


@pytest.fixture
def world(cast: Cast, reference: None) -> World:
    return make_world(cast)


@pytest.fixture
def foreign(world: World) -> dict[str, Model]:
    """Things of another club."""
    zoe = world.cast.zoe
    region = add_region(club=zoe.membership.club, name="Far", by=zoe)
    yard = add_yard(keeper=zoe, region=region, name="Far yard", by=zoe)
    colonies = add_numbered_colonies(yard=yard, first=1, last=1, started_on=STARTED, by=zoe)
    return {"region": region, "yard": yard, "colony": colonies[0]}


def _refused(client: Client, url: str, box: str, pks: list[int], **typed: Any) -> None:
    """Post each id in that field of the page's form: no row changes, and all are answered alike."""
    _, fields = fields_of(client.get(url).content.decode())
    before, answers = number_of_rows(), []
    for pk in pks:
        answer = client.post(url, fields | typed | {box: str(pk)})
        assert answer.status_code == 200, (url, box, pk)
        answers.append(answer.context["form"].errors.as_json().replace(str(pk), "…"))
    assert number_of_rows() == before
    assert len(set(answers)) == 1 and answers[0] != "{}", answers


def test_region_of_a_new_yard(world: World, client_for: Opens, foreign: dict[str, Model]) -> None:
    url = reverse("apiaries:yard-add")
    _refused(client_for(world.cast.alice), url, "region", [foreign["region"].pk, NOBODYS], name="Heath")


def test_yard_of_a_split(world: World, client_for: Opens, foreign: dict[str, Model]) -> None:
    url = reverse("apiaries:colony-split", kwargs=world.arguments("colony"))
    yards = [world.cast.charlie_yard.pk, foreign["yard"].pk, NOBODYS]
    _refused(client_for(world.cast.alice), url, "to_yard", yards, name="20")


def test_colony_that_takes_in_the_bees_of_another(
    world: World, client_for: Opens, foreign: dict[str, Model]
) -> None:
    url = reverse("apiaries:colony-unite", kwargs=world.arguments("colony"))
    others = [world.cast.charlie_yard.colonies.all()[0].pk, foreign["colony"].pk, NOBODYS]
    _refused(client_for(world.cast.alice), url, "into", others)


def test_region_of_a_yard(world: World, client_for: Opens, foreign: dict[str, Model]) -> None:
    url = reverse("apiaries:yard-edit", kwargs=world.arguments("yard"))
    _refused(client_for(world.cast.alice), url, "region", [foreign["region"].pk, NOBODYS])
    assert Yard.objects.get(pk=world.cast.alice_yard.pk).region == world.cast.north


def test_yard_that_a_colony_moves_to(world: World, client_for: Opens, foreign: dict[str, Model]) -> None:
    add_yard(keeper=world.cast.alice, region=world.cast.south, name="Heath", by=world.cast.alice)
    url = reverse("apiaries:colony-move", kwargs=world.arguments("colony"))
    pks = [world.cast.charlie_yard.pk, foreign["yard"].pk, NOBODYS]
    _refused(client_for(world.cast.alice), url, "to_yard", pks)
    assert Colony.objects.get(pk=world.cast.colony.pk).yard == world.cast.alice_yard


def test_colonies_of_a_treatment(world: World, client_for: Opens, foreign: dict[str, Model]) -> None:
    url = reverse("treatments:treatment-add", kwargs=world.arguments("yard")) + "?way=oxalic_trickle_eu"
    pks = [world.cast.charlie_yard.colonies.first().pk, foreign["colony"].pk, NOBODYS]
    for person in (world.cast.alice, world.cast.bob):
        _refused(client_for(person), url, "colonies", pks, dose_1="30")


def test_colonies_of_a_round(world: World, client_for: Opens, foreign: dict[str, Model]) -> None:
    url = reverse("treatments:round-give", kwargs=world.arguments("round to give"))
    pks = [world.cast.charlie_yard.colonies.first().pk, foreign["colony"].pk, NOBODYS]
    _refused(client_for(world.cast.bob), url, "colonies", pks)


def test_colonies_of_a_whole_yards_count(world: World, client_for: Opens) -> None:
    client, charlies = client_for(world.cast.alice), world.cast.charlie_yard.colonies.first()
    url = reverse("counts:yard-count", kwargs=world.arguments("yard"))
    _, fields = fields_of(client.get(url).content.decode())
    before = number_of_rows()

    for pk in (charlies.pk, NOBODYS):
        typed = {"method": "alcohol_wash", f"c{pk}-mites": "3"}
        assert b"Nothing is typed yet" in client.post(url, fields | typed).content

    assert number_of_rows() == before


def test_entry_key_of_somebody_elses_count(world: World, client_for: Opens) -> None:
    client = client_for(world.cast.charlie)
    url = reverse("counts:sample-add", kwargs={"pk": world.cast.charlie_yard.colonies.first().pk})
    _, fields = fields_of(client.get(url).content.decode())
    typed = {"method": "alcohol_wash", "mites": "9", "entry_key": str(world.sample.entry_key)}
    before = number_of_rows()

    page = client.post(url, fields | typed).content.decode()

    assert "This form was saved before" in page
    assert "Home yard" not in page
    assert number_of_rows() == before


def test_entry_key_of_somebody_elses_treatment(world: World, client_for: Opens) -> None:
    client = client_for(world.cast.charlie)
    url = reverse("treatments:treatment-add", kwargs={"pk": world.cast.charlie_yard.pk})
    url += "?way=oxalic_trickle_eu"
    _, fields = fields_of(client.get(url).content.decode())
    before = number_of_rows()

    answer = client.post(url, fields | {"dose_1": "30", "entry_key": str(world.treatment.entry_key)})

    assert b"This form was saved before" in answer.content
    assert number_of_rows() == before


def test_entry_key_of_another_count_in_a_correction(world: World, client_for: Opens) -> None:
    client = client_for(world.cast.alice)
    url = reverse("counts:sample-correct", kwargs=world.arguments("sample"))
    _, fields = fields_of(client.get(url).content.decode())
    typed = {"why": "misread", "mites": "8", "entry_key": str(world.bobs_sample.entry_key)}

    assert b"This form was saved before" in client.post(url, fields | typed).content
    world.sample.refresh_from_db()
    assert world.sample.voided_at is None


@pytest.mark.parametrize("role", ["administrator", "coordinator", "inspector"])
def test_coordinator_hands_out_no_higher_role(world: World, client_for: Opens, role: str) -> None:
    client = client_for(world.cast.dana)
    before = number_of_rows()

    answer = client.post(
        reverse("apiaries:invitation-add"),
        {"email": "x@example.org", "role": role, "regions": [world.cast.north.pk]},
    )

    assert answer.status_code == 200
    assert number_of_rows() == before


def test_regions_of_an_invitation(world: World, client_for: Opens, foreign: dict[str, Model]) -> None:
    _refused(
        client_for(world.cast.adam), reverse("apiaries:invitation-add"), "regions",
        [foreign["region"].pk, NOBODYS], email="x@example.org", role="inspector",
    )  # fmt: skip


def test_regions_of_an_inspector(world: World, client_for: Opens, foreign: dict[str, Model]) -> None:
    ines = world.cast.ines.memberships.get()
    url = reverse("apiaries:member-change", kwargs={"pk": ines.pk})
    _refused(client_for(world.cast.adam), url, "regions", [foreign["region"].pk, NOBODYS])
    assert list(ines.regions.all()) == [world.cast.north]


def test_helper_of_another_club_is_answered_like_nobody(world: World, client_for: Opens) -> None:
    url = reverse("apiaries:helper-list", kwargs=world.arguments("yard"))
    client, before = client_for(world.cast.alice), number_of_rows()

    said = [
        client.post(url, {"email": email}).context["form"].errors.as_json()
        for email in ("zoe@example.org", "nobody@example.org")
    ]

    assert said[0] == said[1] != "{}"
    assert number_of_rows() == before


@pytest.mark.parametrize("filter_of", ["yard", "colony"])
def test_filters_of_hidden_and_missing_answer_alike(world: World, client_for: Opens, filter_of: str) -> None:
    client = client_for(world.cast.alice)
    hidden: Model = world.cast.charlie_yard
    hidden = hidden if filter_of == "yard" else Colony.objects.filter(yard=hidden).first()

    said = [
        client.get(reverse("counts:sample-list"), {filter_of: pk}).context["form"].errors.as_json()
        for pk in (hidden.pk, NOBODYS)
    ]

    assert said[0] == said[1] != "{}"


def test_region_of_another_club_does_not_exist(
    world: World, client_for: Opens, foreign: dict[str, Model]
) -> None:
    for pk in (foreign["region"].pk, NOBODYS, "x"):
        assert (
            client_for(world.cast.dana).get(reverse("reports:region-month"), {"region": pk}).status_code
            == 404
        )


def test_form_left_open_by_a_helper_who_left(world: World, client_for: Opens) -> None:
    client = client_for(world.cast.bob)
    url = reverse("counts:sample-add", kwargs=world.arguments("colony"))
    _, fields = fields_of(client.get(url).content.decode())
    end_helper(helper=world.helper, at=timezone.now(), by=world.cast.alice)
    before = number_of_rows()

    answer = client.post(url, fields | {"method": "alcohol_wash", "mites": "1"})

    assert answer.status_code == 404
    assert number_of_rows() == before


def test_inspector_loses_a_yard_that_moves_to_another_region(world: World, client_for: Opens) -> None:
    url = reverse("apiaries:yard-detail", kwargs=world.arguments("yard"))
    ines, ivan = client_for(world.cast.ines), client_for(world.cast.ivan)
    Yard.objects.filter(pk=world.cast.alice_yard.pk).update(region=world.cast.south)

    assert (ines.get(url).status_code, ivan.get(url).status_code) == (404, 200)
