"""The pages of treatments, through the web client."""

import datetime as dt
import re
import uuid
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from apiaries.models import Brood, Person
from apiaries.permissions import Role
from tests.cast import Cast, join, make_person
from tests.treatments.making import AFTER, BEFORE, jar, treat
from treatments.actions import cancel_treatment
from treatments.models import Treatment

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("reference")]
Clients = Callable[[Person | None], Client]
NOW = dt.datetime(2026, 8, 20, 10, tzinfo=dt.UTC)


@pytest.fixture(autouse=True)
def _clock(time_machine: Any) -> None:
    time_machine.move_to(NOW, tick=False)


def add_url(cast: Cast, way: str = "oxalic_vapour_us") -> str:
    return reverse("treatments:treatment-add", args=[cast.alice_yard.pk]) + f"?way={way}"


def typed(cast: Cast, **more: Any) -> dict[str, Any]:
    """A form as it is sent: one round on 3 August, all colonies, 1 each."""
    filled = {"entry_key": str(uuid.uuid4()), "on_1": "3 Aug 2026", "dose_1": "1", "withdrawal_days": "0"}
    return filled | {"colonies": [colony.pk for colony in cast.colonies]} | more


def test_choosing_shows_ways_of_every_label_to_a_club_without_one(cast: Cast, client_for: Clients) -> None:
    page = client_for(cast.alice).get(reverse("treatments:treatment-add", args=[cast.alice_yard.pk]))
    assert b"?way=oxalic_vapour_us" in page.content and b"?way=amitraz_strip_gb" in page.content


def test_label_that_no_longer_holds_is_not_offered(cast: Cast, client_for: Clients) -> None:
    client = client_for(cast.alice)
    page = client.get(reverse("treatments:treatment-add", args=[cast.alice_yard.pk])).content.decode()
    offered, folded = page.split("Labels no longer in force")
    assert "until 22 Feb 2021" in folded and "until 22 Feb 2021" not in offered
    assert "oxalic_vapour_us_to_2021" not in page

    old = add_url(cast, "oxalic_vapour_us_to_2021")
    assert old.split("/")[-1].encode() in client.get(add_url(cast)).content  # "Given before 23 Feb 2021?"
    refused = client.post(old, typed(cast))
    assert b"This label held until 22 Feb 2021." in refused.content and not Treatment.objects.exists()


@pytest.mark.parametrize(("on", "main"), [("10 Aug 2026", "Did it work?"), ("3 Aug 2026", "Count now")])
def test_counting_is_the_main_thing_while_the_recount_is_due(
    on: str, main: str, cast: Cast, client_for: Clients
) -> None:
    page = client_for(cast.alice).post(add_url(cast), typed(cast, on_1=on), follow=True).content.decode()
    buttons = re.findall(r'<a class="(button[^"]*)"\s+href="[^"]*">([^<]*)</a>', page)
    assert buttons[0][1] == main
    assert ("button", "Count now") in buttons or main != "Count now"
    assert ("button--second" in buttons[0][0]) is (main != "Count now")


def test_choosing_keeps_to_the_clubs_labels(cast: Cast, client_for: Clients) -> None:
    cast.club.jurisdiction = "GB"
    cast.club.save()
    page = client_for(cast.alice).get(reverse("treatments:treatment-add", args=[cast.alice_yard.pk]))
    assert b"?way=oxalic_vapour_us" not in page.content
    assert b"?way=oxalic_vapour_gb" in page.content and b"?way=thymol_any" in page.content


def test_saving_names_the_day_and_reason_of_the_recount(cast: Cast, client_for: Clients) -> None:
    page = client_for(cast.alice).post(add_url(cast), typed(cast), follow=True)
    assert b"Recount on Mon 17 Aug 2026: Brood that was capped" in page.content
    treatment = Treatment.objects.get()
    assert (treatment.withdrawal_days, treatment.rounds.get().doses.count()) == (0, 6)
    assert {dose.unit for dose in treatment.rounds.get().doses.all()} == {"g"}


def test_cautions_and_limits_stand_beside_the_form(cast: Cast, client_for: Clients) -> None:
    page = client_for(cast.alice).get(add_url(cast)).content.decode()
    assert "filters for particles and acid gas" in page and "The label in your hand decides" in page
    assert 'data-with="1"' in page  # 1 g per brood box: Jack et al. 2021 (fixtures/applications.csv)


def test_saving_twice_makes_one(cast: Cast, client_for: Clients) -> None:
    client, data = client_for(cast.alice), typed(cast)
    assert client.post(add_url(cast), data).status_code == client.post(add_url(cast), data).status_code == 302
    assert Treatment.objects.count() == 1


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"on_1": ""}, "Enter the date"),
        ({"on_1": "yesterdayish"}, "Error:"),
        ({"colonies": []}, "Tick the colonies"),
        ({"dose_1": ""}, "Enter what each of these colonies got"),
        ({"dose_1": "0"}, "Enter what each of these colonies got"),
        ({"dose_1": "4"}, "is more than the published 1 g"),
        ({"withdrawal_days": "soon"}, "even if it is 0"),
        ({"on_2": "1 Aug 2026"}, "Each round comes after the one before"),
        ({"on_1": "3 Aug 2019"}, "This label holds from 23 Feb 2021"),
    ],
)
def test_bad_input_is_said_and_kept(
    cast: Cast, client_for: Clients, more: dict[str, Any], words: str
) -> None:
    page = client_for(cast.alice).post(add_url(cast), typed(cast, product="Acid crystals", **more))
    text = page.content.decode()
    assert page.status_code == 200 and "<title>Error: " in text
    assert words in text and "Acid crystals" in text
    assert not Treatment.objects.exists()


def test_dose_above_the_published_one_needs_a_reason(cast: Cast, client_for: Clients) -> None:
    client = client_for(cast.alice)
    client.post(add_url(cast), typed(cast, dose_1="4", note="The newest label allows 4 g."))
    assert Treatment.objects.get().rounds.get().doses.first().amount == 4


def test_amount_is_asked_for_ticked_sizes_only(cast: Cast, client_for: Clients) -> None:
    big = cast.colonies[1]
    big.brood_boxes = 2
    big.save()
    client = client_for(cast.alice)
    assert (
        b"Enter what each of these colonies got" in client.post(add_url(cast), typed(cast, dose_2="")).content
    )
    client.post(add_url(cast), typed(cast, dose_2="", colonies=[cast.colony.pk]))
    assert Treatment.objects.get().rounds.get().doses.get().colony == cast.colony


def test_same_ingredient_twice_at_once_is_refused_at_the_ticks(cast: Cast, client_for: Clients) -> None:
    treat(cast.colonies[:1])
    page = client_for(cast.alice).post(add_url(cast), typed(cast))
    assert b"already has this ingredient in it" in page.content
    assert Treatment.objects.count() == 1


def test_blank_withdrawal_period_is_shown_as_missing(cast: Cast, client_for: Clients) -> None:
    page = client_for(cast.alice).post(add_url(cast), typed(cast, withdrawal_days=""), follow=True)
    assert b"withdrawal period missing" in page.content


def test_day_to_come_is_planned_then_given(cast: Cast, client_for: Clients) -> None:
    client = client_for(cast.alice)
    client.post(add_url(cast), typed(cast, on_2="25 Aug 2026"))
    treatment = Treatment.objects.get()
    assert [round_.given_on for round_ in treatment.rounds.all()] == [dt.date(2026, 8, 3), None]
    url = reverse("treatments:round-give", args=[treatment.pk, 2])
    data = {"given_on": "19 Aug 2026", "dose_1": "1", "colonies": [cast.colony.pk]}
    assert client.post(url, data).status_code == 302
    assert treatment.rounds.get(number=2).given_on == dt.date(2026, 8, 19)
    treatment.recount.refresh_from_db()
    assert treatment.recount.ideal_on == dt.date(2026, 9, 2)  # 14 days after the last round


def test_what_the_label_times_stays_in_until_taken_out(cast: Cast, client_for: Clients) -> None:
    client = client_for(cast.alice)
    client.post(add_url(cast, "formic_other_any"), typed(cast, dose_1="30"))
    treatment = Treatment.objects.get()
    page = client.get(reverse("treatments:treatment-detail", args=[treatment.pk]))
    assert b"In progress" in page.content and b"The label says when it comes out" in page.content
    url = reverse("treatments:round-out", args=[treatment.pk, 1])
    assert b"It went in on 3 Aug 2026" in client.post(url, {"out_on": "1 Aug 2026"}).content
    assert client.post(url, {"out_on": "17 Aug 2026"}).status_code == 302
    treatment.recount.refresh_from_db()
    assert treatment.recount.ideal_on == dt.date(2026, 8, 31)
    assert client.get(url).status_code == 302


def test_cancelling_and_skipping_need_a_reason(cast: Cast, client_for: Clients) -> None:
    client, treatment = client_for(cast.alice), treat(cast.colonies)
    cancel = reverse("treatments:treatment-cancel", args=[treatment.pk])
    skip = reverse("treatments:recount-skip", args=[treatment.recount.pk])
    for url in (skip, cancel):
        assert b"Enter the reason" in client.post(url, {"why": " "}).content
        assert client.post(url, {"why": "Rained off"}).status_code == 302
        assert b"This was done before" in client.post(url, {"why": "Again"}).content
    page = client.get(reverse("treatments:treatment-detail", args=[treatment.pk]))
    assert page.content.count(b"<s>Colony") == 6


def outcome_of(cast: Cast, client_for: Clients, treatment: Treatment) -> str:
    page = client_for(cast.alice).get(reverse("treatments:outcome", args=[treatment.pk]))
    return " ".join(page.content.decode().split())


def test_did_it_work_tells_the_whole_first_then_each_colony(cast: Cast, client_for: Clients) -> None:
    treatment = treat(cast.colonies[:5])
    for colony, before, after in zip(cast.colonies, [14, 22, 6, 9, 9], [1, 0, 2, 0, 0], strict=False):
        jar(colony, BEFORE, before)
        jar(colony, AFTER, after)
    text = outcome_of(cast, client_for, treatment)
    # 60 to 3: fixtures/worked_examples/drop_in_mites.csv, five_colonies_these
    assert "Drop in mites: 95 %</strong>, 90 % range 87 to 99 %" in text
    assert "<strong>60 mites</strong> in 1,500 bees, 5 colonies" in text
    assert (
        "Worked" in text
        and "too few mites in one jar to say" in text
        and "Where the counted colonies stood on 18 Aug 2026" in text
    )
    assert "efficacy" not in text.replace("Assessment of efficacy", "")


def test_did_it_work_without_counts_says_what_is_missing(cast: Cast, client_for: Clients) -> None:
    treatment = treat(cast.colonies)
    assert "No before-count" in outcome_of(cast, client_for, treatment)
    jar(cast.colony, BEFORE, 20)
    text = outcome_of(cast, client_for, treatment)
    assert "There is no after-count yet" in text and "Count the yard" in text
    jar(cast.colony, dt.date(2026, 8, 8), 1)
    assert "counted before the treatment could show" in outcome_of(cast, client_for, treatment)


def test_today_lists_what_is_due_and_says_what_to_do_first(cast: Cast, client_for: Clients) -> None:
    client = client_for(cast.alice)
    assert b"Make a first count" in client.get("/").content
    treat(cast.colonies)
    assert b"Recount due" in client.get("/").content
    assert b"Region by month" in client_for(cast.ines).get("/").content
    newcomer = join(cast.club, make_person("Nia"), Role.MEMBER)
    assert b"Begin with a yard" in client_for(newcomer).get("/").content


def test_list_filters_by_recount_and_answer(cast: Cast, client_for: Clients, time_machine: Any) -> None:
    treat(cast.colonies)
    url = reverse("treatments:treatment-list")

    def found(**asked: str) -> bool:
        page = client_for(cast.alice).get(url, asked)  # signed in anew: the clock moves on below
        return b"Oxalic acid, vapour" in page.content

    assert found(recount="due") and not found(recount="late")
    assert found(outcome="no_before_count") and not found(outcome="worked")
    assert found(recount="due", outcome="no_before_count")
    time_machine.move_to(NOW + dt.timedelta(days=60), tick=False)
    assert found(recount="late") and not found(recount="due")
    for odd in ("recount", "outcome"):
        assert b"Select a valid choice" in client_for(cast.alice).get(url, {odd: "x"}).content


def test_answers_are_explained_where_they_stand(cast: Cast, client_for: Clients) -> None:
    treatment = treat(cast.colonies)
    client = client_for(cast.alice)
    pages = [
        reverse("treatments:treatment-list"),
        reverse("treatments:outcome", args=[treatment.pk]),
        "/help/",
    ]
    for page in pages:
        assert "The whole range stays below the target" in client.get(page).content.decode()


def test_list_filters_by_yard(cast: Cast, client_for: Clients) -> None:
    treat(cast.colonies)
    client, url = client_for(cast.alice), reverse("treatments:treatment-list")
    assert b"Oxalic acid, vapour" in client.get(url, {"yard": cast.alice_yard.pk}).content
    assert b"Select a valid choice" in client.get(url, {"yard": cast.charlie_yard.pk}).content
    assert b"No treatments to see" in client_for(cast.ivan).get(url).content


@pytest.mark.parametrize("name", ["treatments:treatment-list", "reports:today"])
def test_queries_do_not_depend_on_the_number(
    cast: Cast,
    client_for: Clients,
    name: str,
    django_assert_max_num_queries: Any,
    django_assert_num_queries: Any,
) -> None:
    client, url = client_for(cast.alice), reverse(name)
    treat(cast.colonies[:1])
    with django_assert_max_num_queries(21) as few:
        client.get(url)
    for day in range(1, 11):
        treat(cast.colonies, dt.date(2026, 7, day))
    with django_assert_num_queries(len(few)):
        client.get(url)


def test_panels_show_treatments_on_yard_and_colony(cast: Cast, client_for: Clients) -> None:
    treatment = treat(cast.colonies[:1])
    client = client_for(cast.alice)
    for url in (
        reverse("apiaries:yard-detail", args=[cast.alice_yard.pk]),
        reverse("apiaries:colony-detail", args=[cast.colony.pk]),
    ):
        assert f"/treatments/{treatment.pk}/".encode() in client.get(url).content
    cancel_treatment(treatment=treatment, why="rain", at=NOW, by=cast.alice)
    assert b"Cancelled" in client.get(reverse("apiaries:yard-detail", args=[cast.alice_yard.pk])).content


def test_did_it_work_says_what_it_would_be_without_the_allowance(cast: Cast, client_for: Clients) -> None:
    treatment = treat(cast.colonies[:4])
    for colony, before, after in zip(cast.colonies, [9, 7, 0, 12], [0, 1, 0, 1], strict=False):
        jar(colony, BEFORE, before, brood=Brood.PLENTY)
        jar(colony, AFTER, after, brood=Brood.PLENTY)
    context = client_for(cast.alice).get(reverse("treatments:outcome", args=[treatment.pk])).context
    assert context["outcome"].verdict == "worked" and context["without_growth"] == "Can't tell yet"
    text = outcome_of(cast, client_for, treatment)
    assert "Without that allowance it would say: Can&#x27;t tell yet." in text
    assert "too few mites in one jar to say" in text


def test_did_it_work_and_its_treatment_say_whose_they_are(cast: Cast, client_for: Clients) -> None:
    treatment = treat(cast.colonies)
    yard = cast.alice_yard
    whose = f"in {yard.name}. Keeper: {yard.keeper.name}, {yard.region.name}."
    text = outcome_of(cast, client_for, treatment)
    assert f"<strong>{treatment.application.name}</strong>, 3 Aug 2026, {whose}" in text
    page = client_for(cast.alice).get(reverse("treatments:treatment-detail", args=[treatment.pk]))
    assert whose in " ".join(page.content.decode().split())


def test_where_colonies_stood_has_its_day_and_what_was_counted_since(cast: Cast, client_for: Clients) -> None:
    treatment = treat(cast.colonies[:3])
    for colony in cast.colonies[:3]:
        jar(colony, BEFORE, 20)
        jar(colony, AFTER, 0)
    text = outcome_of(cast, client_for, treatment)
    assert "Where the counted colonies stood on 18 Aug 2026" in text and "Counted since" not in text
    for colony in cast.colonies[:3]:
        jar(colony, dt.date(2026, 10, 20), 60)
    text = outcome_of(cast, client_for, treatment)
    assert "Where the counted colonies stood on 18 Aug 2026" in text
    since = text[text.index("Counted since: the yard on 20 Oct 2026") :]
    assert "Above action level" in since


def test_a_dose_is_not_taken_for_given_before_somebody_says_so(cast: Cast, client_for: Clients) -> None:
    client = client_for(cast.alice)
    page = " ".join(client.get(add_url(cast)).content.decode().split())
    box = re.search(r'<input[^>]*name="dose_1"[^>]*>', page)
    assert box and "value=" not in box[0]
    assert "1 g is published; the label in your hand decides. Enter what was given." in page
    assert 'data-fills="id_dose_1" data-with="1" hidden>Fill in the published 1 g' in page
    assert "Day given" in page and ">Round 1 " not in page
    assert page.count("The medicine record asks for this.") >= 2

    fields = typed(
        cast, dose_1="", on_1="20 Aug 2027"
    )  # a plan: what each colony gets is noted with the round
    assert client.post(add_url(cast), fields).status_code == 302


def test_a_past_day_of_a_plan_leads_on_to_recording_it(cast: Cast, client_for: Clients) -> None:
    client = client_for(cast.alice)
    pk, on = cast.alice_yard.pk, "?on=2026-08-03"
    url = reverse("treatments:treatment-add", args=[pk])
    possible = client.get(reverse("treatments:day-possible", args=[pk]), {"on": "3 Aug 2026", "scale": "c"})
    assert f'href="{url}{on}">Record a treatment of 3 Aug 2026' in possible.content.decode()
    ways = client.get(url + on).content.decode()
    assert 'href="?way=oxalic_vapour_us&amp;on=2026-08-03"' in ways
    assert "its limits are of no single country’s label" in ways
    form = client.get(f"{url}?way=oxalic_vapour_us&on=2026-08-03").content.decode()
    assert re.search(r'name="on_1"[^>]*value="3 Aug 2026"|value="3 Aug 2026"[^>]*name="on_1"', form)
    for odd in ("2999-01-01", "yesterday", "0001-01-01", "\0"):
        assert client.get(url, {"way": "oxalic_vapour_us", "on": odd}).status_code == 200
