"""A yard's page is kept until something on it changes: what counts as a change, and what does not."""

import datetime as dt
import gzip
import re
from collections.abc import Callable
from typing import Any

import pytest
from django.core.cache.backends.locmem import LocMemCache
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from apiaries import kept_pages
from apiaries.actions import (
    add_helper,
    describe_colony,
    edit_yard,
    end_helper,
    end_membership,
    move_colony,
    rename_region,
    set_sharing,
)
from apiaries.drawn_from import standing_of_yard, yard_drawn_from
from apiaries.models import Brood, Club, Membership, Person, Yard
from apiaries.permissions import Role
from counts.actions import void_sample
from counts.models import ActionLevel, CountWeek
from counts.week_actions import leave_out_count
from reports.models import PutOff, Suspension
from tests.cast import Cast, join, make_person
from tests.reports.counting import AT, count
from tests.reports.treating import SAVED, treated
from treatments.actions import skip_recount

Opens = Callable[[Person], Client]
ON = dt.date(2026, 8, 1)
LEFT = {"counts_estimatebasis", "config_cache"}
"""Rows of the first are written once; a count that gets another basis is itself changed. The second keeps how unlike a
club's colonies are, which moves slowly by itself: a page may be behind it for as long as it is kept."""
FORM = re.compile(r'name="csrfmiddlewaretoken" value="([^"]*)"')


@pytest.fixture
def kept_for_good(monkeypatch: pytest.MonkeyPatch, kept_pages_are_true: Any) -> None:
    """As served: what is kept is not drawn again, and kept packed in the process too."""
    monkeypatch.setattr(kept_pages, "kept", kept_pages_are_true)
    process = LocMemCache("this test", {})
    process.clear()
    monkeypatch.setattr(kept_pages, "here", lambda: process)


@pytest.fixture
def seen(cast: Cast, reference: None) -> Cast:
    """Alice's yard with counts, one treatment, and a colony that has moved away since."""
    for colony, mites in zip(cast.colonies, (3, 9, 0, 12, 4, 1), strict=True):
        count(colony, ON, mites)
    treated(cast.colonies, on=ON + dt.timedelta(days=5))
    away = Yard.objects.create(
        club=cast.club, keeper=cast.alice, region=cast.north, name="Heath", made_at=SAVED
    )
    move_colony(colony=cast.colonies[5], to_yard=away, moved_on=dt.date(2026, 8, 20), by=cast.alice)
    return cast


def standing(cast: Cast, reader: Person | None = None) -> str:
    found = standing_of_yard(cast.alice_yard.pk, reader or cast.alice)
    assert found is not None
    return found.word


CHANGES: dict[str, Callable[[Cast], Any]] = {
    "a count": lambda cast: count(cast.colony, ON + dt.timedelta(days=20), 2),
    "a count, where a treated colony stands now": lambda cast: count(
        type(cast.colony).objects.get(pk=cast.colonies[5].pk), ON + dt.timedelta(days=25), 2
    ),
    "a count that no longer counts": lambda cast: void_sample(
        sample=cast.colony.samples.get(), why="Jar fell", at=AT, by=cast.alice
    ),
    "a treatment": lambda cast: treated(cast.colonies[:2], on=ON + dt.timedelta(days=6)),
    "a recount that will not be": lambda cast: skip_recount(
        recount=cast.alice_yard.treatments.get().recount, why="Rain", at=AT, by=cast.alice
    ),
    "a colony's name": lambda cast: describe_colony(
        colony=cast.colony, name="Old queen", brood_boxes=2, supers_on=False, brood=Brood.UNKNOWN,
        brood_seen_on=None, by=cast.alice,
    ),
    "the yard's name": lambda cast: edit_yard(
        yard=cast.alice_yard, name="Hill", region=cast.north, latitude=None, longitude=None,
        area_only=False, by=cast.alice,
    ),  # fmt: skip
    "the region's name": lambda cast: rename_region(region=cast.north, name="Upper", by=cast.adam),
    "the keeper's name": lambda cast: Person.objects.filter(pk=cast.alice.pk).update(name="Alix"),
    "a helper": lambda cast: add_helper(yard=cast.alice_yard, person=cast.charlie, by=cast.alice),
    "a helper who left the club": lambda cast: end_membership(
        membership=cast.bob.membership, at=AT, by=cast.adam
    ),
    "an inspector": lambda cast: join(cast.club, make_person("Iris"), Role.INSPECTOR, cast.north),
    "sharing": lambda cast: set_sharing(
        membership=cast.alice.membership, shares_counts=True, by=cast.alice
    ),
    "an action level": lambda cast: ActionLevel.objects.filter(pk=ActionLevel.objects.first().pk).update(
        issuer_name="Another"
    ),
    "a count week": lambda cast: CountWeek.objects.create(
        club=cast.club, first_on=ON, last_on=ON + dt.timedelta(days=6), set_at=AT, set_by=cast.dana
    ),
    "no count this time": lambda cast: leave_out_count(
        yard=cast.alice_yard, subject="week:1", why="Away", at=AT, by=cast.alice
    ),
    "put off": lambda cast: PutOff.objects.create(
        person=cast.alice, subject="recount:1", until=dt.date(2026, 9, 1), at=AT
    ),
}  # fmt: skip


@pytest.mark.parametrize("what", CHANGES)
def test_change_is_seen(seen: Cast, what: str) -> None:
    before = standing(seen)

    assert standing(seen) == before
    CHANGES[what](seen)

    assert standing(seen) != before


def test_no_such_yard_stands_nowhere(seen: Cast) -> None:
    assert standing_of_yard(0, seen.alice) is None


def test_what_is_none_of_the_page_changes_nothing(seen: Cast) -> None:
    before = standing(seen)

    count(seen.charlie_yard.colonies.first(), ON, 7)
    rename_region(region=seen.south, name="Lower", by=seen.adam)
    PutOff.objects.create(person=seen.bob, subject="recount:1", until=dt.date(2026, 9, 1), at=AT)

    assert standing(seen) == before


@pytest.mark.usefixtures("kept_for_good")
def test_second_look_asks_for_little_and_shows_the_same(seen: Cast, client_for: Opens) -> None:
    client, address = client_for(seen.alice), reverse("apiaries:yard-detail", args=[seen.alice_yard.pk])
    with CaptureQueriesContext(connection) as first:
        drawn = client.get(address).content.decode()
    with CaptureQueriesContext(connection) as second:
        kept = client.get(address).content.decode()

    assert len(second) == 2 < 10 < len(first) <= 26  # who asks, and whether anything changed
    assert FORM.sub("", kept) == FORM.sub("", drawn)

    count(seen.colony, ON + dt.timedelta(days=20), 37)
    assert "37 in 300 bees" in client.get(address).content.decode()


@pytest.mark.usefixtures("kept_for_good")
def test_everybody_has_a_page_of_their_own_and_nobody_keeps_it_after_they_may_not(
    seen: Cast, client_for: Opens
) -> None:
    address = reverse("apiaries:yard-detail", args=[seen.alice_yard.pk])
    alice, bob = client_for(seen.alice), client_for(seen.bob)
    edit = reverse("apiaries:yard-edit", args=[seen.alice_yard.pk])

    for _ in range(2):
        assert edit in alice.get(address).content.decode()
        assert edit not in bob.get(address).content.decode()
    end_helper(helper=seen.alice_yard.helpers.get(), at=AT, by=seen.alice)

    assert bob.get(address).status_code == 404


LOSSES: dict[str, tuple[str, Callable[[Cast], Any]]] = {
    "helper no longer": (
        "bob", lambda cast: end_helper(helper=cast.alice_yard.helpers.get(), at=AT, by=cast.alice)
    ),
    "helper who left the club": (
        "bob", lambda cast: end_membership(membership=cast.bob.membership, at=AT, by=cast.adam)
    ),
    "inspector without the region": ("ines", lambda cast: cast.ines.membership.regions.remove(cast.north)),
    "inspector no longer": (
        "ines", lambda cast: Membership.objects.filter(person=cast.ines).update(role=Role.MEMBER)
    ),
    "yard in another inspector's region": (
        "ines", lambda cast: edit_yard(
            yard=cast.alice_yard, name="Home yard", region=cast.south, latitude=None, longitude=None,
            area_only=False, by=cast.alice,
        ),
    ),
    "coordinator no longer": (
        "dana", lambda cast: Membership.objects.filter(person=cast.dana).update(role=Role.MEMBER)
    ),
    "keeper who shares no longer": (
        "dana", lambda cast: set_sharing(membership=cast.alice.membership, shares_counts=False, by=cast.alice)
    ),
    "keeper who left the club": (
        "dana", lambda cast: end_membership(membership=cast.alice.membership, at=AT, by=cast.adam)
    ),
}  # fmt: skip
"""Ways of seeing a yard no more: by whom, and how."""


@pytest.mark.usefixtures("kept_for_good")
@pytest.mark.parametrize("how", LOSSES)
@pytest.mark.parametrize("part", ["apiaries:yard-detail", "reports:yard-chart"])
def test_kept_page_is_nobodys_who_may_see_the_yard_no_more(
    seen: Cast, client_for: Opens, how: str, part: str
) -> None:
    set_sharing(membership=seen.alice.membership, shares_counts=True, by=seen.alice)
    who, lose = LOSSES[how]
    client, address = client_for(getattr(seen, who)), reverse(part, args=[seen.alice_yard.pk])
    assert [client.get(address).status_code for _ in range(2)] == [200, 200]

    lose(seen)

    assert client.get(address).status_code == 404


@pytest.mark.usefixtures("kept_for_good")
def test_form_on_a_kept_page_carries_the_token_of_its_own_answer(seen: Cast) -> None:
    treated(seen.colonies[:2], on=timezone.localdate() - dt.timedelta(days=16), saved=timezone.now())
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(seen.alice)
    address = reverse("apiaries:yard-detail", args=[seen.alice_yard.pk])
    pages = [strict.get(address).content.decode().split("<main")[1] for _ in range(2)]
    token = FORM.search(pages[1])

    assert token
    assert kept_pages.token_place() not in pages[1]
    asked = {"csrfmiddlewaretoken": token[1], "subject": "nothing", "next": address}
    assert strict.post(reverse("reports:today-later"), asked).status_code != 403
    assert (
        strict.post(reverse("reports:today-later"), {**asked, "csrfmiddlewaretoken": "x" * 64}).status_code
        == 403
    )


@pytest.mark.usefixtures("kept_for_good")
def test_kept_page_is_the_same_packed_and_not(seen: Cast, client_for: Opens) -> None:
    client, address = client_for(seen.alice), reverse("apiaries:yard-detail", args=[seen.alice_yard.pk])
    plain = client.get(address)
    packed = [client.get(address, headers={"accept-encoding": "gzip"}) for _ in range(8)]

    assert "Content-Encoding" not in plain.headers
    for answer in packed:
        assert answer.headers["Content-Encoding"] == "gzip"
        assert answer.headers["Vary"] == plain.headers["Vary"]
        assert FORM.sub("", gzip.decompress(answer.content).decode()) == FORM.sub("", plain.content.decode())
    assert len({len(answer.content) for answer in packed}) > 1  # its length tells nothing


@pytest.mark.usefixtures("kept_for_good")
def test_head_of_a_kept_page_is_of_this_answer(seen: Cast, client_for: Opens) -> None:
    client, address = client_for(seen.alice), reverse("apiaries:yard-detail", args=[seen.alice_yard.pk])

    def told() -> str:
        return client.get(address).content.decode()

    refused, demo = "No mail reaches you", "everything here is invented"
    assert refused not in told() and demo not in told()
    suspension = Suspension.objects.create(person=seen.alice, email=seen.alice.email, why="550", since=AT)
    assert refused in told()
    suspension.delete()
    assert refused not in told()
    Club.objects.filter(pk=seen.club.pk).update(is_invented=True)
    assert demo in told()
    Person.objects.filter(pk=seen.alice.pk).update(is_operator=True)
    assert reverse("reports:operator-server") in told()


@pytest.mark.usefixtures("kept_for_good")
def test_message_is_told_once(seen: Cast, client_for: Opens) -> None:
    client = client_for(seen.alice)
    address = reverse("apiaries:yard-detail", args=[seen.alice_yard.pk])
    client.get(address)
    typed = {"colonies": "Nucleus", "brood_boxes": "1", "started_on": "today"}
    added = client.post(reverse("apiaries:colony-add", args=[seen.alice_yard.pk]), typed)
    assert added.status_code == 302

    pages = [client.get(address).content.decode() for _ in range(3)]

    assert ['<ul class="messages">' in page for page in pages] == [True, False, False]
    assert all("Nucleus" in page.split("<main")[1] for page in pages)


@pytest.mark.parametrize("who", ["alice", "bob", "dana", "ines"])
def test_page_asks_for_nothing_that_is_not_listed(seen: Cast, client_for: Opens, who: str) -> None:
    set_sharing(membership=seen.alice.membership, shares_counts=True, by=seen.alice)
    client = client_for(getattr(seen, who))
    client.get("/help/")
    with CaptureQueriesContext(connection) as shell:
        client.get("/help/")
    with CaptureQueriesContext(connection) as page:
        assert client.get(reverse("apiaries:yard-detail", args=[seen.alice_yard.pk])).status_code == 200

    asked = _tables(page) - _tables(shell)
    assert {"counts_mitesample", "treatments_treatment", "apiaries_colony"} <= asked
    assert asked - {one.table for one in yard_drawn_from.rows} <= LEFT


def _tables(queries: CaptureQueriesContext) -> set[str]:
    told = " ".join(query["sql"] for query in queries.captured_queries)
    return set(re.findall(r'(?:FROM|JOIN) "([a-z_]+)"', told))
