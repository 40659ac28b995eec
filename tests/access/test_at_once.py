"""One form sent twice at the same instant, in two real transactions: one row, and no crash."""

import threading
import uuid
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.core.management import call_command
from django.db import connection
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from apiaries.actions import add_yard, invite
from apiaries.models import ChangeKind, ColonyChange, ColonyMove, Membership, Person, Visit
from apiaries.permissions import Role
from counts.models import MiteSample
from tests.access.world import World, make_world
from tests.cast import make_cast, make_person
from tests.flows.forms import fields_of
from treatments.models import Treatment

pytestmark = pytest.mark.django_db(transaction=True)
Opens = Callable[[Person | None], Client]


@pytest.fixture
def world(transactional_db: Any) -> Iterator[World]:
    call_command("load_reference", verbosity=0)
    return make_world(make_cast())


def _both(posts: list[Callable[[], Any]]) -> list[Any]:
    """Run them at the same instant; what each answered."""
    start, answers = threading.Barrier(len(posts)), [None] * len(posts)

    def run(at: int) -> None:
        try:
            start.wait()
            answers[at] = posts[at]()
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=(at,)) for at in range(len(posts))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return answers


def _twice(client_for: Opens, person: Person, url: str, typed: dict[str, Any]) -> list[int]:
    """Open the form once, type, and send it from two browsers at once; both statuses."""
    clients = [client_for(person), client_for(person)]
    _, fields = fields_of(clients[0].get(url).content.decode())
    posts = [lambda one=one: one.post(url, fields | typed).status_code for one in clients]
    return _both(posts)


def test_one_count_sent_twice(world: World, client_for: Opens) -> None:
    colony, before = world.cast.colonies[3], MiteSample.objects.count()
    url = reverse("counts:sample-add", kwargs={"pk": colony.pk})

    answers = _twice(client_for, world.cast.alice, url, {"method": "alcohol_wash", "mites": "4"})

    assert answers == [302, 302]
    assert MiteSample.objects.count() == before + 1


def test_counts_of_a_yard_sent_twice(world: World, client_for: Opens) -> None:
    yard, before = world.cast.alice_yard, MiteSample.objects.count()
    typed = {"method": "alcohol_wash"} | {f"c{colony.pk}-mites": "2" for colony in world.cast.colonies[2:]}
    url = reverse("counts:yard-count", kwargs={"pk": yard.pk})

    answers = _twice(client_for, world.cast.bob, url, typed)

    assert answers == [302, 302]
    assert MiteSample.objects.count() == before + 4


def test_treatment_sent_twice(world: World, client_for: Opens) -> None:
    url = reverse("treatments:treatment-add", kwargs={"pk": world.cast.alice_yard.pk})
    url += "?way=oxalic_trickle_eu"
    before = Treatment.objects.count()

    answers = _twice(client_for, world.cast.alice, url, {"dose_1": "30"})

    assert answers == [302, 302]
    assert Treatment.objects.count() == before + 1


def test_count_voided_twice(world: World, client_for: Opens) -> None:
    url = reverse("counts:sample-void", kwargs={"pk": world.sample.pk})

    answers = _twice(client_for, world.cast.alice, url, {"why": "spilt"})

    assert set(answers) <= {200, 302}
    assert MiteSample.objects.get(pk=world.sample.pk).voided_why == "spilt"


def test_count_corrected_twice(world: World, client_for: Opens) -> None:
    url = reverse("counts:sample-correct", kwargs={"pk": world.sample.pk})

    answers = _twice(client_for, world.cast.alice, url, {"mites": "8", "why": "read wrongly"})

    assert sorted(answers) in ([200, 302], [302, 302])
    assert MiteSample.objects.filter(corrects=world.sample).count() == 1


def test_colony_moved_twice(world: World, client_for: Opens) -> None:
    other = add_yard(keeper=world.cast.alice, region=world.cast.south, name="Heath", by=world.cast.alice)
    url = reverse("apiaries:colony-move", kwargs={"pk": world.cast.colony.pk})

    answers = _twice(client_for, world.cast.alice, url, {"to_yard": other.pk})

    assert set(answers) <= {200, 302, 403}
    assert ColonyMove.objects.count() == 1


def test_invitations_of_two_clubs_accepted_at_once(world: World, client_for: Opens) -> None:
    nia, zoes = make_person("New"), world.cast.zoe.membership.club
    other = invite(club=zoes, email=nia.email, role=Role.MEMBER, at=timezone.now(), by=world.cast.zoe)
    browsers = [client_for(nia), client_for(nia)]
    urls = [reverse("apiaries:invitation-accept", args=[one.token]) for one in (world.invitation, other)]
    posts = [lambda at=at: browsers[at].post(urls[at]).status_code for at in (0, 1)]

    assert sorted(_both(posts)) == [200, 302]
    assert Membership.objects.filter(person=nia, ended_at=None).count() == 1


def test_pair_united_both_ways_at_once(world: World, client_for: Opens) -> None:
    one, other = world.cast.colonies[3], world.cast.colonies[4]
    posts = []
    for colony, into in ((one, other), (other, one)):
        client = client_for(world.cast.alice)
        url = reverse("apiaries:colony-unite", kwargs={"pk": colony.pk})
        _, fields = fields_of(client.get(url).content.decode())
        typed = fields | {"into": str(into.pk)}
        posts.append(lambda client=client, url=url, typed=typed: client.post(url, typed).status_code)

    assert sorted(_both(posts)) == [200, 302]
    assert ColonyChange.objects.filter(kind=ChangeKind.UNITED, colony__in=[one, other]).count() == 1
    assert one.yard.colonies.living().filter(pk__in=[one.pk, other.pk]).count() == 1


def test_backlog_of_two_tabs_in_two_orders_at_once(world: World, client_for: Opens) -> None:
    cast, before = world.cast, MiteSample.objects.count()
    on = cast.alice_yard.local_date(timezone.now()).isoformat()
    facts = {"v": 1, "method": "alcohol_wash", "bees_how": "half_cup", "mites": "2", "brood": "unknown"}
    batch = [
        facts | {"key": str(uuid.uuid4()), "colony": colony.pk, "sampled_on": on}
        for colony in cast.colonies[2:6]
    ]
    url = reverse("counts:yard-entries", args=[cast.alice_yard.pk])

    def sends(client: Client, entries: list[dict[str, Any]]) -> Callable[[], Any]:
        body = {"entries": entries}
        return lambda: client.post(url, body, content_type="application/json").json()["answers"]

    posts = [sends(client_for(cast.alice), entries) for entries in (batch, batch[::-1])]

    states = sorted(answer["state"] for answers in _both(posts) for answer in answers)

    assert states == ["here"] * 4 + ["saved"] * 4
    assert MiteSample.objects.count() == before + 4


def test_one_visit_sent_twice_and_two_at_once(world: World, client_for: Opens) -> None:
    yard, one, before = world.cast.alice_yard, world.cast.colonies[4], Visit.objects.count()
    url = reverse("reports:visit-add", kwargs={"pk": yard.pk})
    typed = {
        "present": "nobody",
        "told": "not",
        "colonies_present": "6",
        f"f{one.pk}-opened": "on",
        "step": "keep",
    }
    typed |= {"count-method": "alcohol_wash", f"c{one.pk}-mites": "3"}

    assert _twice(client_for, world.cast.ines, url, typed) == [302, 302]
    assert Visit.objects.count() == before + 1 and MiteSample.objects.filter(colony=one).count() == 1

    forms = [fields_of(client_for(world.cast.ines).get(url).content.decode())[1] for _ in range(2)]
    clients = [client_for(world.cast.ines) for _ in forms]
    quiet = {name: text for name, text in typed.items() if not name.startswith("c")} | {
        "colonies_present": "6"
    }
    sends = zip(clients, forms, strict=True)
    posts = [lambda at=at, form=form: at.post(url, form | quiet).status_code for at, form in sends]
    assert _both(posts) == [302, 302]
    numbers = list(Visit.objects.filter(year=timezone.now().year).values_list("number", flat=True))
    assert len(set(numbers)) == len(numbers) == before + 1, "each report has a number of its own"
