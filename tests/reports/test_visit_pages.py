"""The pages of a visit: planned from the list, filled at the gate, checked, kept, read by the keeper, corrected."""

import datetime as dt
import re
import uuid
from html import unescape

import pytest
import time_machine
from django.urls import reverse

from apiaries.actions import add_yard, move_colony
from apiaries.models import Colony, Visit, VisitState
from counts.models import MiteSample
from counts.visit_actions import keep_visit
from reports.visit_typed import flat
from tests.visiting import AT, ON, a_count, a_visit


@pytest.fixture(autouse=True)
def on_the_day():
    with time_machine.travel(AT, tick=False):
        yield


@pytest.fixture
def ines(cast, client_for):
    return client_for(cast.ines)


def boxes(html):
    """Hidden and chosen boxes of a page's last form, as a browser would send them."""
    form = html.rpartition("<form")[2]
    found = {}
    for tag in re.findall(r"<input[^>]*>", form):
        part = dict(re.findall(r'(\w+)="([^"]*)"', tag))
        if part.get("type") in ("radio", "checkbox") and "checked" not in tag:
            continue
        if "name" in part:
            usual = "on" if part.get("type") == "checkbox" else ""
            found[part["name"]] = unescape(part.get("value", usual))
    return found


def filled(cast, **more):
    one, two = cast.colonies[:2]
    typed = {
        "entry_key": str(uuid.UUID(int=7)),
        "rows": ",".join(str(colony.pk) for colony in cast.colonies),
        "draw": "0",
        "drawn_on": ON.isoformat(),
        "visited_on": "12 Aug 2026",
        "present": "keeper",
        "told": "before",
        "colonies_present": "6",
        "weather": "dry, 21 °C",
        f"f{one.pk}-opened": "on",
        f"f{one.pk}-strength": "strong",
        f"f{two.pk}-brood_look": "cappings",
        f"f{two.pk}-disease": "american_foulbrood",
        f"f{two.pk}-disease_seen": "ropy larvae",
        "o1-what": "Melt the old combs",
        "o1-due_on": "12 Sep 2026",
        "l1-number": "L-1",
        "l1-what": "brood comb",
        "follow_up_on": "1 Sep 2026",
    }
    return typed | more


def counted(cast, mites="9"):
    return {"count-method": "alcohol_wash", "count-bees_how": "half_cup", f"c{cast.colony.pk}-mites": mites}


def add_url(cast):
    return reverse("reports:visit-add", args=[cast.alice_yard.pk])


def send(client, url, typed, step):
    return client.post(url, typed | {"step": step})


def test_planned_from_the_list_for_a_day(cast, ines):
    page = ines.get(reverse("reports:visit-list")).content.decode()
    assert "Home yard" in page and "never visited" in page and "Orchard" not in page

    answer = ines.post(
        reverse("reports:visit-list"),
        {"yards": [cast.alice_yard.pk], "on": "20 Aug 2026", "why": "yearly round", "announced": "on"},
        follow=True,
    )

    visit = Visit.objects.get()
    assert visit.state is VisitState.PLANNED and visit.planned_on == dt.date(2026, 8, 20)
    assert "1 visit is planned." in answer.content.decode()


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"on": "20 Aug 2026"}, "Tick at least one yard."),
        ({"yards": ["{yard}"], "on": "1 Aug 2026"}, "This day is past."),
        ({"yards": ["{yard}"], "on": "soon"}, "date"),
        ({"yards": ["{charlies}"], "on": "20 Aug 2026"}, "not in your regions"),
        ({"yards": ["0x1", "999999999999999999999"], "on": "20 Aug 2026"}, "not in your regions"),
    ],
)
def test_plan_that_cannot_be_is_said_and_keeps_what_was_typed(cast, ines, typed, words):
    keys = {"{yard}": cast.alice_yard.pk, "{charlies}": cast.charlie_yard.pk}
    sent = typed | {"yards": [keys.get(one, one) for one in typed.get("yards", [])]}

    page = ines.post(reverse("reports:visit-list"), sent).content.decode()

    assert words in page and "There is a problem" in page and not Visit.objects.exists()
    if "{yard}" in typed.get("yards", []):
        assert f'value="{cast.alice_yard.pk}" checked' in page


def test_known_before_going_tells_what_the_inspector_may_see(cast, ines):
    keep_visit(new=a_visit(cast), counts=[a_count(cast.colony)], planned=None, at=AT, by=cast.ines)

    page = ines.get(reverse("reports:visit-before", args=[cast.alice_yard.pk])).content.decode()

    for words in (
        "6 of 6 colonies to open",
        "Every colony",
        "Melt the old combs",
        "Report 2026-001"[7:],
        "about 300 bees",
    ):
        assert words in page


def test_gate_draws_for_the_number_present_and_again_the_same(cast, ines):
    cast.club.visit_rule = "half_from_11"
    cast.club.save()

    pages = [ines.get(add_url(cast) + "?present=14").content.decode() for _ in range(2)]

    orders = [re.search(r"in this order:\s*<strong>([^<]*)</strong>", page).group(1) for page in pages]
    assert (
        "7 of 14 colonies to open" in pages[0]
        and "8 colonies are present that are not on the list" in pages[0]
    )
    assert orders[0] == orders[1] and sorted(orders[0].split(", ")) == [str(n) for n in range(1, 7)]


def test_checked_first_then_kept(cast, ines):
    typed = filled(cast) | counted(cast)

    check = send(ines, add_url(cast), typed, "check").content.decode()

    assert "Check your answers" in check and not Visit.objects.exists()
    for words in (
        "The keeper (Alice)",
        "6 present, 2 opened",
        "sunken or holed cappings",
        "Suspected in colony 2",
        "Ask the authority of your country whether it must be told",
        "A suspicion is no diagnosis",
        "Colony 1: 9 mites in 300 bees",
        "Melt the old combs",
    ):
        assert words in check, words
    answer = send(ines, add_url(cast), boxes(check), "keep")

    visit = Visit.objects.get()
    assert answer["Location"] == reverse("reports:visit-detail", args=[visit.pk])
    assert (visit.colonies_opened, visit.inspector, visit.number) == (2, cast.ines, 1)
    assert visit.samples.get().mites == 9
    assert visit.suspicions.get().disease == "american_foulbrood"
    assert len(visit.drawn) == 6


def test_payload_is_a_flat_table_that_json_can_carry(cast):
    import json

    typed = filled(cast) | counted(cast)

    assert json.loads(json.dumps(flat(typed | {"step": "keep", "csrfmiddlewaretoken": "x"}))) == typed


def test_kept_twice_is_one_visit(cast, ines):
    typed = filled(cast) | counted(cast)

    first, second = (send(ines, add_url(cast), typed, "keep") for _ in range(2))

    assert first["Location"] == second["Location"] and Visit.objects.count() == 1
    other = send(ines, add_url(cast), typed | {"weather": "wet"}, "keep").content.decode()
    assert "This form was saved before" in other and Visit.objects.get().weather == "dry, 21 °C"


def test_change_shows_all_again_and_judges_nothing(cast, ines):
    typed = filled(cast, colonies_present="") | counted(cast)

    page = send(ines, add_url(cast), typed, "change").content.decode()

    assert "There is a problem" not in page
    back = boxes(page)
    for name in ("weather", "o1-what", "l1-number", f"c{cast.colony.pk}-mites", "entry_key"):
        assert back[name] == typed[name], name
    assert back[f"f{cast.colonies[1].pk}-brood_look"] == "cappings"


def test_more_rows_keep_what_was_typed(cast, ines):
    typed = filled(cast, rows=str(cast.colony.pk))

    page = send(ines, add_url(cast), typed, "more").content.decode()

    assert boxes(page)["rows"].split(",") == [str(one.pk) for one in cast.colonies]
    assert boxes(page)["weather"] == typed["weather"]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"present": ""}, "Say who was there."),
        ({"present": "other"}, "Enter the name of who was there."),
        ({"told": "perhaps"}, "Say when notice was given."),
        ({"colonies_present": ""}, "Enter how many colonies stand in the yard"),
        ({"colonies_present": "1"}, "Fewer colonies are present than were opened."),
        ({"colonies_opened": "1"}, "Below 2 colonies are ticked or have findings."),
        ({"colonies_opened": "-3"}, "Enter how many colonies you opened"),
        ({"visited_on": "13 Aug 2026"}, "This date is still to come"),
        ({"follow_up_on": "1 Aug 2026"}, "This is before the day of the visit."),
        ({"follow_up_on": "1 Aug 2126"}, "from 1900 to 2099"),
        ({"disease_seen": "spots"}, "Choose what is suspected, or empty the box below."),
        ({"disease": "dragon"}, "Choose from the list what is suspected."),
        ({"o2-due_on": "1 Sep 2026"}, "Say what the keeper has to do, or empty the date too."),
        ({"l2-what": "bees"}, "Enter the number that stands on the sample"),
        ({"f{one}-debris": "other"}, "Say in the remark what else you saw."),
        ({"f{one}-comb": "purple"}, "Choose one of these."),
        ({"c{one}-mites": "many", "count-method": "alcohol_wash"}, "Enter a whole number of mites"),
        ({"c{one}-mites": "5"}, "Choose how you counted."),
        ({"entry_key": "nonsense"}, "There is a problem"),
        ({"draw": "x"}, "There is a problem"),
        ({"drawn_on": "x"}, "There is a problem"),
        ({"remarks": "x" * 4001}, "4000"),
    ],
)
def test_what_cannot_be_is_said_at_its_place_and_nothing_is_kept(cast, ines, change, words):
    typed = filled(cast) | {name.format(one=cast.colony.pk): text for name, text in change.items()}

    answer = send(ines, add_url(cast), typed, "keep")

    page = unescape(answer.content.decode())
    assert answer.status_code == 200 and words in page and "There is a problem" in page
    assert "dry, 21 °C" in page, "what was typed stays"
    assert not Visit.objects.exists() and not MiteSample.objects.exists()


@pytest.mark.parametrize("rows", ["", "x", "1,2,,", "99999999999999999999", "0"])
def test_odd_rows_break_nothing(cast, ines, rows):
    typed = {name: text for name, text in filled(cast, rows=rows).items() if not name.startswith("f")}

    assert send(ines, add_url(cast), typed, "check").status_code == 200


def test_rows_of_other_yards_are_refused_without_their_names(cast, ines):
    stranger = cast.charlie_yard.colonies.first()
    Colony.objects.filter(pk=stranger.pk).update(name="Hidden")
    typed = filled(cast, rows=f"{stranger.pk},{cast.colony.pk}")
    for box in (f"f{stranger.pk}-opened", f"c{stranger.pk}-mites", "f99999999-remark"):
        page = send(ines, add_url(cast), typed | {box: "3"}, "keep").content.decode()

        assert f"Colony {box[1:].split('-')[0]} never stood in this yard" in page, box
        assert "Hidden" not in page and not Visit.objects.exists()
    send(ines, add_url(cast), typed, "keep")
    assert Visit.objects.get().findings.count() == 2, "a row in which nothing is typed is in nobody's way"


def test_every_filled_row_is_kept_however_many_there_are(cast, ines):
    more = [Colony(yard=cast.alice_yard, name=f"M{n}", started_on=ON) for n in range(70)]
    keys = [one.pk for one in Colony.objects.bulk_create(more)]
    typed = filled(cast, rows=",".join(map(str, keys)), colonies_present="76")
    typed |= {f"f{key}-opened": "on" for key in keys}

    page = send(ines, add_url(cast), typed, "more").content.decode()
    assert set(map(str, keys)) <= set(boxes(page)["rows"].split(","))
    send(ines, add_url(cast), typed, "keep")

    assert Visit.objects.get().findings.count() == 72, "seventy, and the two whose rows were not told"


def test_correction_keeps_what_is_told_of_colonies_that_moved_or_ended_since(cast, ines):
    visit = keep_visit(new=a_visit(cast), counts=[a_count(cast.colony)], planned=None, at=AT, by=cast.ines)
    meadow = add_yard(keeper=cast.alice, region=cast.north, name="Meadow", by=cast.alice)
    one, two = cast.colonies[:2]
    move_colony(colony=two, to_yard=meadow, moved_on=ON - dt.timedelta(days=3), by=cast.alice)
    Colony.objects.filter(pk=one.pk).update(ended_on=ON)
    url = reverse("reports:visit-correct", args=[visit.pk])

    typed = boxes(ines.get(url).content.decode()) | {"why": "left out", "remarks": "two combs broken"}
    typed |= {f"f{two.pk}-disease": "american_foulbrood"}
    send(ines, url, typed, "keep")

    new = Visit.objects.made().get()
    assert (new.version, new.findings.count()) == (2, 2)
    assert new.suspicions.get().colony == two


def test_odd_count_is_asked_about_before_it_is_kept(cast, ines):
    typed = filled(cast) | counted(cast, "120")

    asked = send(ines, add_url(cast), typed, "keep").content.decode()

    assert "Please look again. Nothing is saved yet." in asked and not Visit.objects.exists()
    sure = dict(re.findall(r'name="(c\d+-sure)"[^>]*value="(\w+)"', asked))
    send(ines, add_url(cast), boxes(asked) | sure, "keep")
    assert Visit.objects.get().samples.get().mites == 120


def test_keeper_reads_the_report_and_changes_nothing(cast, client_for):
    visit = keep_visit(new=a_visit(cast), counts=[a_count(cast.colony)], planned=None, at=AT, by=cast.ines)
    for person in (cast.alice, cast.bob):
        page = client_for(person).get(reverse("reports:visit-detail", args=[visit.pk])).content.decode()
        assert "Requeen colony 2." in page and "Melt the old combs" in page
        assert "per 100 bees" in page and "about 300 bees" in page, "a rate with its bees"
        assert "/correct/" not in page and "Note as done" not in page
    yard = (
        client_for(cast.alice)
        .get(reverse("apiaries:yard-detail", args=[cast.alice_yard.pk]))
        .content.decode()
    )
    assert "report 2026-001" in yard and "Record a visit" not in yard


def test_notifiable_disease_names_authority_and_list(cast, ines):
    cast.club.jurisdiction = "GB"
    cast.club.save()

    check = send(ines, add_url(cast), filled(cast), "check").content.decode()

    assert "Tell the National Bee Unit" in check and "gov.uk/bee-health" in check
    assert "Whom to tell is from memory" in check
    assert "confirmed" not in check.lower()
    send(ines, add_url(cast), filled(cast), "keep")
    assert Visit.objects.get().suspicions.get().duty == "notifiable"


def test_times_are_told_on_the_readers_clock_and_who_reads_it(cast, client_for):
    visit = keep_visit(new=a_visit(cast), counts=[a_count(cast.colony)], planned=None, at=AT, by=cast.ines)
    cast.alice.memberships.update(shares_counts=True)

    page = client_for(cast.alice).get(reverse("reports:visit-detail", args=[visit.pk])).content.decode()

    assert "12 Aug 2026, 18:00" in page, "16:00 UTC in Berlin"
    assert "Seen by you, 1 helper and 1 inspector of North. Nobody else." in page, "no coordinator"


def test_count_of_a_visit_says_so_and_its_inspector_corrects_it(cast, ines, client_for):
    visit = keep_visit(new=a_visit(cast), counts=[a_count(cast.colony)], planned=None, at=AT, by=cast.ines)
    (sample,) = visit.samples.all()
    page = client_for(cast.alice).get(reverse("counts:sample-detail", args=[sample.pk])).content.decode()
    assert f"/visits/{visit.pk}/" in page and f"/counts/{sample.pk}/correct/" not in page

    url = reverse("counts:sample-correct", args=[sample.pk])
    typed = boxes(ines.get(url).content.decode()) | {"mites": "4", "why": "misread"}
    assert ines.post(url, typed).status_code == 302
    assert visit.samples.standing().get().mites == 4


def test_first_page_of_an_inspector_tells_what_is_planned_and_due(cast, ines):
    keep_visit(new=a_visit(cast), counts=[], planned=None, at=AT, by=cast.ines)
    ines.post(
        reverse("reports:visit-list"), {"yards": [cast.alice_yard.pk], "on": "14 Aug 2026", "announced": "on"}
    )

    page = ines.get(reverse("reports:today")).content.decode()

    assert "Fri 14 Aug 2026: Home yard" in page
    assert "1 follow-up is due or late" in page, "the answer of the laboratory; the rest is further off"


def test_corrected_with_a_reason_after_a_check(cast, ines):
    visit = keep_visit(new=a_visit(cast), counts=[a_count(cast.colony)], planned=None, at=AT, by=cast.ines)
    url = reverse("reports:visit-correct", args=[visit.pk])
    typed = boxes(ines.get(url).content.decode()) | {"remarks": "two combs broken"}
    typed |= {f"f{cast.colonies[1].pk}-disease": "american_foulbrood"}

    refused = send(ines, url, typed, "check").content.decode()
    assert "Say what was wrong" in refused
    check = send(ines, url, typed | {"why": "left out"}, "check").content.decode()
    assert "Corrected because: left out" in check
    answer = send(ines, url, boxes(check), "keep")

    new = Visit.objects.made().get()
    assert answer["Location"] == reverse("reports:visit-detail", args=[new.pk])
    assert (new.version, new.remarks, new.colonies_to_open) == (2, "two combs broken", 6)
    assert new.findings.count() == 2 and new.samples.count() == 1
    old = ines.get(reverse("reports:visit-detail", args=[visit.pk])).content.decode()
    assert "left out" in old and "version 2" in old


def test_voided_and_cancelled_with_a_reason(cast, ines):
    visit = keep_visit(new=a_visit(cast), counts=[a_count(cast.colony)], planned=None, at=AT, by=cast.ines)
    url = reverse("reports:visit-void", args=[visit.pk])

    assert "Say why it does not count" in ines.post(url, {"why": " "}).content.decode()
    ines.post(url, {"why": "wrong yard"})

    visit.refresh_from_db()
    assert visit.state is VisitState.VOIDED and not MiteSample.objects.standing().exists()
    again = ines.post(url, {"why": "twice"}).content.decode()
    assert "voided or corrected since" in again


def test_planned_visit_is_made_at_the_gate(cast, ines):
    ines.post(
        reverse("reports:visit-list"), {"yards": [cast.alice_yard.pk], "on": "12 Aug 2026", "announced": "on"}
    )
    plan = Visit.objects.get()
    url = reverse("reports:visit-make", args=[plan.pk])
    assert ines.get(url).status_code == 200

    answer = send(ines, url, filled(cast), "keep")

    plan.refresh_from_db()
    assert plan.state is VisitState.MADE and answer.status_code == 302
    assert send(ines, url, filled(cast), "keep").status_code == 403, "made: nothing to make any more"


def test_yard_without_colonies_can_be_visited(cast, ines):
    Colony.objects.filter(yard=cast.alice_yard).update(ended_on=ON)
    typed = {
        name: text
        for name, text in filled(cast, colonies_present="0", rows="").items()
        if not name.startswith("f") or name == "follow_up_on"
    }

    send(ines, add_url(cast), typed, "keep")

    assert Visit.objects.get().colonies_to_open == 0


def test_follow_ups_are_due_late_and_done(cast, ines, client_for):
    visit = keep_visit(new=a_visit(cast), counts=[], planned=None, at=AT, by=cast.ines)
    url = reverse("reports:follow-up-list")
    page = ines.get(url).content.decode()
    assert all(words in page for words in ("Melt the old combs", "Visit the yard again", "Sample L-1"))

    with time_machine.travel(AT + dt.timedelta(days=40), tick=False):
        ines = client_for(cast.ines)  # the session of then is over
        late = ines.get(url).content.decode()
        assert late.count("state--late") == 2
        (order,) = visit.orders.all()
        ines.post(reverse("reports:order-done", args=[order.pk]), {"on": "15 Sep 2026", "note": "seen"})
        (sample,) = visit.lab_samples.all()
        ines.post(reverse("reports:lab-result", args=[sample.pk]), {"on": "15 Sep 2026", "result": "none"})
        later = a_visit(cast, visited_on=dt.date(2026, 9, 20), orders=(), lab_samples=(), follow_up_on=None)
        keep_visit(new=later, counts=[], planned=None, at=AT + dt.timedelta(days=40), by=cast.ines)
        assert "Nothing is open" in ines.get(url).content.decode()
        done = ines.get(url + "?show=done").content.decode()
        assert done.count("state--done") == 3


def test_order_done_twice_is_told_and_may_be_undone(cast, ines):
    visit = keep_visit(new=a_visit(cast), counts=[], planned=None, at=AT, by=cast.ines)
    (order,) = visit.orders.all()
    url = reverse("reports:order-done", args=[order.pk])

    assert "before the day of the visit" in ines.post(url, {"on": "1 Aug 2026"}).content.decode()
    ines.post(url, {"on": "12 Aug 2026"})
    order.refresh_from_db()
    assert order.done_on == ON
    ines.post(url, {"why": "wrong one"})
    order.refresh_from_db()
    assert order.done_on is None


def test_lost_region_hides_the_visit_from_its_inspector(cast, ines):
    visit = keep_visit(new=a_visit(cast), counts=[], planned=None, at=AT, by=cast.ines)

    cast.ines.memberships.get().regions.clear()

    assert ines.get(reverse("reports:visit-detail", args=[visit.pk])).status_code == 404
    assert ines.get(reverse("reports:visit-correct", args=[visit.pk])).status_code == 404


def test_administrator_chooses_the_rule(cast, client_for):
    client, url = client_for(cast.adam), reverse("apiaries:visit-rule")
    assert "Florida" in client.get(url).content.decode()

    refused = client.post(url, {"rule": "own", "share_percent": "0", "at_least": "x"}).content.decode()
    assert "from 1 to 100" in refused and "from 0 to 1000" in refused
    client.post(url, {"rule": "own", "share_percent": "25", "at_least": "5"})

    cast.club.refresh_from_db()
    assert (cast.club.visit_rule, cast.club.visit_share_percent, cast.club.visit_at_least) == ("own", 25, 5)
