"""Visits that a phone sends: kept once whatever was heard, each answered by its key, a bad one in nobody's way."""

import datetime as dt
import json
import re
import uuid

import pytest
import time_machine
from django.core.cache import cache
from django.urls import reverse

from apiaries.actions import add_yard, move_colony
from apiaries.actions.visits import cancel_visit, plan_visits
from apiaries.entries import KEEP_FOR
from apiaries.models import Colony, Visit, VisitState
from counts.models import MiteSample
from reports.visit_entries import BYTES_MAX, VERSION
from reports.visit_there import MOST_ROWS
from tests.visiting import AT, ON

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def on_the_day(db):
    cache.clear()
    with time_machine.travel(AT, tick=False):
        yield


@pytest.fixture
def ines(cast, client_for):
    return client_for(cast.ines)


@pytest.fixture
def plan(cast):
    (visit,) = plan_visits(yards=[cast.alice_yard], on=ON, inspector=cast.ines, at=AT, by=cast.ines)
    return visit


def boxes(cast, **more):
    one, two = cast.colonies[:2]
    typed = {
        "rows": f"{one.pk},{two.pk}",
        "draw": "0",
        "drawn_on": ON.isoformat(),
        "visited_on": "12 Aug 2026",
        "present": "keeper",
        "told": "before",
        "colonies_present": "6",
        f"f{one.pk}-opened": "on",
        f"f{two.pk}-brood_look": "cappings",
        f"f{two.pk}-disease": "american_foulbrood",
        f"c{one.pk}-mites": "9",
        "count-method": "alcohol_wash",
        "count-bees_how": "half_cup",
        "o1-what": "Melt the old combs",
        "o1-due_on": "12 Sep 2026",
    }
    return typed | more


def entry(cast, plan=None, number=7, typed=None, **more):
    body = {
        "key": str(uuid.UUID(int=number)),
        "v": VERSION,
        "planned": plan and plan.pk,
        "boxes": boxes(cast) if typed is None else typed,
    }
    return body | more


def url_of(cast):
    return reverse("reports:visit-entries", args=[cast.alice_yard.pk])


def send(client, cast, *entries, person=None, expect=200):
    body = {"entries": list(entries)} | ({"person": person} if person else {})
    answer = client.post(url_of(cast), json.dumps(body), content_type="application/json")
    assert answer.status_code == expect, answer.content
    return answer.json()["answers"] if expect == 200 else answer.json()


def test_planned_visit_is_kept_with_its_count_and_answered_with_its_report(cast, ines, plan):
    (answer,) = send(ines, cast, entry(cast, plan), person=cast.ines.pk)

    visit = Visit.objects.get()
    assert (answer["state"], answer["report"]) == ("saved", "2026-001")
    assert answer["url"] == reverse("reports:visit-detail", args=[visit.pk])
    assert visit.pk == plan.pk and visit.state is VisitState.MADE
    assert visit.samples.get().mites == 9 and visit.orders.get().what == "Melt the old combs"
    assert str(visit.entry_key) == answer["key"]


def test_same_entry_again_is_here_and_kept_once(cast, ines, plan):
    first, second = (send(ines, cast, entry(cast, plan))[0] for _ in range(2))

    assert (first["state"], second["state"]) == ("saved", "here")
    assert second["url"] == first["url"]
    assert Visit.objects.count() == 1 and MiteSample.objects.count() == 1


def test_same_key_with_other_facts_is_refused_and_overwrites_nothing(cast, ines, plan):
    send(ines, cast, entry(cast, plan))

    (answer,) = send(ines, cast, entry(cast, plan, typed=boxes(cast, weather="wet")))

    assert answer["state"] == "refused" and "This form was saved before" in answer["reason"]
    assert Visit.objects.get().weather == ""


@pytest.mark.parametrize("days", [0, 1])
def test_late_entry_keeps_findings_and_counts_of_colonies_that_moved_since(cast, ines, plan, days):
    meadow = add_yard(keeper=cast.alice, region=cast.north, name="Meadow", by=cast.alice)
    one, two = cast.colonies[:2]
    moved_on = ON + dt.timedelta(days=days)
    move_colony(colony=two, to_yard=meadow, moved_on=moved_on, by=cast.alice)
    if days:
        move_colony(colony=one, to_yard=meadow, moved_on=moved_on, by=cast.alice)

    with time_machine.travel(AT + dt.timedelta(days=days), tick=False):
        (answer,) = send(ines, cast, entry(cast, plan))

    visit = Visit.objects.made().get()
    assert answer["state"] == "saved" and visit.findings.count() == 2
    assert visit.suspicions.get().colony == two
    assert visit.samples.get().yard == cast.alice_yard


def test_colony_that_stood_elsewhere_on_that_day_is_refused_by_name(cast, ines):
    meadow = add_yard(keeper=cast.alice, region=cast.north, name="Meadow", by=cast.alice)
    moved_on = ON - dt.timedelta(days=1)
    move_colony(colony=cast.colonies[1], to_yard=meadow, moved_on=moved_on, by=cast.alice)

    (answer,) = send(ines, cast, entry(cast))

    words = "Colony 2: On that day it stood in another yard."
    assert answer["state"] == "refused" and words in answer["reason"]
    assert not Visit.objects.exists() and not MiteSample.objects.exists()


def test_same_entry_is_here_whatever_changed_in_the_yard_meanwhile(cast, ines, plan):
    send(ines, cast, entry(cast, plan))
    Colony.objects.create(yard=cast.alice_yard, name="New", started_on=ON)
    cast.club.visit_rule = "half_from_11"
    cast.club.jurisdiction = "GB"
    cast.club.save()

    (answer,) = send(ines, cast, entry(cast, plan))

    assert answer["state"] == "here" and Visit.objects.get().rule == "all"


def test_bad_entry_stands_in_nobodys_way_and_says_what_to_mend(cast, ines):
    bad = entry(cast, number=8, typed=boxes(cast, present="", visited_on="some day"))

    refused, saved = send(ines, cast, bad, entry(cast))

    assert (refused["state"], saved["state"]) == ("refused", "saved")
    assert "Say who was there." in refused["reason"]
    assert ["id_present_0", "Say who was there."] in refused["problems"]
    assert Visit.objects.count() == 1


def test_odd_count_is_asked_about_and_kept_once_answered(cast, ines):
    typed = boxes(cast) | {f"c{cast.colony.pk}-mites": "120"}

    (asked,) = send(ines, cast, entry(cast, typed=typed))
    assert asked["state"] == "refused" and asked["asks"] and not Visit.objects.exists()
    (saved,) = send(ines, cast, entry(cast, typed=typed | asked["sure"]))

    assert saved["state"] == "saved" and MiteSample.objects.get().mites == 120


def test_plan_that_is_over_can_be_kept_as_a_visit_of_its_own(cast, ines, plan):
    cancel_visit(visit=plan, why="rain", at=AT, by=cast.ines)

    (refused,) = send(ines, cast, entry(cast, plan))
    assert refused["over"] and "made or cancelled meanwhile" in refused["reason"]
    assert not Visit.objects.made().exists()
    (saved,) = send(ines, cast, entry(cast))

    assert saved["state"] == "saved" and Visit.objects.made().get().planned_on is None


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"v": 0}, "another version of the page"),
        ({"v": None}, "another version of the page"),
        ({"key": "x"}, "no UUID"),
        ({"boxes": None}, "no entry"),
        ({"boxes": {"weather": 3}}, "holds no text"),
        ({"boxes": {"weather": "\ud800"}}, "holds no text"),
        ({"boxes": {f"x{n}": "" for n in range(2001)}}, "no entry"),
        ({"boxes": {}}, "Say who was there."),
        ({"planned": "1"}, "no entry"),
        ({"planned": True}, "no entry"),
        ({"planned": 2**70}, "no entry"),
        ({"planned": 999_999}, "meanwhile"),
    ],
)
def test_what_is_no_visit_is_refused_with_its_reason(cast, ines, change, words):
    (answer,) = send(ines, cast, entry(cast) | change)

    assert answer["state"] == "refused" and words in answer["reason"]
    assert not Visit.objects.exists() and not MiteSample.objects.exists()


@pytest.mark.parametrize("told", [None, 3, "x", [], {}])
def test_entry_of_any_shape_is_answered(cast, ines, told):
    (answer,) = send(ines, cast, told)

    assert answer["state"] == "refused" and answer["reason"]


def test_batch_that_cannot_be_read_is_told(cast, ines, client_for):
    assert send(ines, cast, person=cast.alice.pk, expect=409)["error"] == "Somebody else is signed in."
    assert send(ines, cast, *[{}] * 51, expect=413)
    long = entry(cast, typed=boxes(cast, remarks="x" * BYTES_MAX))
    assert send(ines, cast, long, expect=413)


def test_planned_visit_of_another_yard_is_no_way_in(cast, client_for, ines):
    (far,) = plan_visits(yards=[cast.charlie_yard], on=ON, inspector=cast.ivan, at=AT, by=cast.ivan)

    (answer,) = send(ines, cast, entry(cast, far))

    assert answer["state"] == "refused"
    far.refresh_from_db()
    assert far.state is VisitState.PLANNED


def test_only_the_gates_page_of_its_inspector_may_be_kept(cast, ines, client_for, plan):
    make = reverse("reports:visit-make", args=[plan.pk])

    assert ines.get(make)[KEEP_FOR] == str(cast.ines.pk)
    assert KEEP_FOR not in ines.post(make, {"step": "check"})
    page = ines.get(make).content.decode()
    told = json.loads(page.split('id="visits-data" type="application/json">')[1].split("</script>")[0])
    assert told["url"] == url_of(cast) and told["planned"] == plan.pk
    assert told["most_rows"] == MOST_ROWS
    assert [name for _, name in told["colonies"]] == ["1", "2", "3", "4", "5", "6"]
    assert "Charlie" not in page and "Orchard" not in page


def test_page_of_a_plan_that_is_over_leads_to_the_report(cast, ines, client_for, plan):
    send(ines, cast, entry(cast, plan))
    make = reverse("reports:visit-make", args=[plan.pk])

    assert ines.get(make)["Location"] == reverse("reports:visit-detail", args=[plan.pk])
    assert client_for(cast.alice).get(make).status_code == 403


def test_lots_on_the_phone_are_those_of_the_page(cast, ines):
    cast.club.visit_rule = "half_from_11"
    cast.club.save()
    url = reverse("reports:visit-add", args=[cast.alice_yard.pk])
    for draw in (0, 3):
        page = ines.get(f"{url}?present=6&draw={draw}").content.decode()
        told = json.loads(page.split('id="visits-data" type="application/json">')[1].split("</script>")[0])
        names = [told["colonies"][place][1] for place in told["lots"][draw]]
        drawn = re.search(r"in this order:\s*<strong>([^<]*)</strong>", page)
        assert drawn and drawn[1] == ", ".join(names[: told["to_open"][6]])
    assert [told["to_open"][n] for n in (0, 10, 11, 24)] == [0, 10, 6, 12]
