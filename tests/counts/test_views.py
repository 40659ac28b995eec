"""The pages of counts, as a browser gets them."""

import datetime as dt
import re
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from apiaries.actions import add_numbered_colonies
from apiaries.models import Person
from apiaries.on_page import YardOnPage
from counts.actions import correct_sample, void_sample
from counts.models import MiteSample
from counts.presenters import yard_panel
from counts.samples import BeesBy, Method
from tests.cast import STARTED, Cast
from tests.counts.counting import AT, DAY, kept, typed, wash

BOARD = {"method": Method.BOARD, "bees_by": None, "bees": None}


@pytest.fixture(autouse=True)
def _on_that_day() -> Any:
    with time_machine.travel(AT, tick=False):
        yield


@pytest.fixture
def alice(cast: Cast, reference: None, client_for: Callable[[Person], Client]) -> Client:
    return client_for(cast.alice)


def _page(client: Client, name: str, pk: int | None = None, **query: str) -> str:
    response = client.get(reverse(f"counts:{name}", args=[pk] if pk else []), query)
    assert response.status_code == 200
    return response.content.decode()


def test_count_is_saved_and_says_what_it_says(alice: Client, cast: Cast) -> None:
    response = alice.post(reverse("counts:sample-add", args=[cast.colony.pk]), typed(), follow=True)

    sample = MiteSample.objects.get()
    assert (sample.mites, sample.bees, sample.bees_by) == (9, 300, "volume")
    assert response.redirect_chain[-1][0] == reverse("counts:sample-detail", args=[sample.pk])
    page = response.content.decode()
    assert "Count saved." in page
    assert (
        "That includes the action level of 3 (USDA-ARS Tucson), so this count can&#x27;t settle it." in page
    )


def test_sending_the_form_twice_makes_one_count(alice: Client, cast: Cast) -> None:
    url, sent = reverse("counts:sample-add", args=[cast.colony.pk]), typed()

    first, second = alice.post(url, sent), alice.post(url, sent)

    assert first["Location"] == second["Location"]
    assert MiteSample.objects.count() == 1


def test_form_sent_again_with_other_numbers_is_refused_in_words(alice: Client, cast: Cast) -> None:
    url, sent = reverse("counts:sample-add", args=[cast.colony.pk]), typed()
    alice.post(url, sent)

    page = alice.post(url, sent | {"mites": "8"}).content.decode()

    assert "This form was saved before, with other numbers." in page
    assert MiteSample.objects.count() == 1


def test_new_form_remembers_method_and_measure_but_never_mites(alice: Client, cast: Cast) -> None:
    kept(cast.colonies[1], cast.alice, mites=7, method=Method.SUGAR_ROLL)

    page = _page(alice, "sample-add", cast.colony.pk)

    assert "Sugar roll. Half a US cup (118 ml), taken as 300 bees." in page
    assert 'name="mites" id="id_mites" value=""' in page


def test_half_cup_names_both_published_figures(alice: Client, cast: Cast) -> None:
    page = _page(alice, "sample-add", cast.colony.pk)

    # fixtures/bees_per_measure.csv: USDA-ARS Tucson (300) and Mississippi State University Extension (400).
    assert "300 bees (Sampling for Varroa, club page quoting USDA-ARS Tucson" in page
    assert "400 bees (Sampling for Varroa Mites Using an Alcohol Wash, Mississippi State University" in page


def test_zero_found_is_told_with_its_range(alice: Client, cast: Cast) -> None:
    page = _page(alice, "sample-detail", kept(cast.colony, cast.alice, mites=0).pk)

    assert "None found in 300 bees. There could still be up to about" in page
    assert "0.0 per 100" not in page


def test_stored_figures_are_shown_not_worked_out_anew(alice: Client, cast: Cast) -> None:
    sample = kept(cast.colony, cast.alice)
    MiteSample.objects.filter(pk=sample.pk).update(rate=0.0512, low=0.0311, high=0.0777)

    page = _page(alice, "sample-detail", sample.pk)

    assert "range 3.1 to 7.8" in page
    assert '<span class="rate__value">5.1</span>' in page


def test_board_is_told_per_day_and_never_as_a_share(alice: Client, cast: Cast) -> None:
    page = _page(alice, "sample-detail", kept(cast.colony, cast.alice, 23, board_days=Decimal(3), **BOARD).pk)

    figures = re.sub(r"<svg.*?</svg>", "", page[: page.index("Why? The sums behind it")], flags=re.DOTALL)
    assert "per day" in figures
    assert "%" not in figures
    assert "per 100 bees" not in figures


def test_board_without_a_level_of_the_issuer_is_a_trend_only(alice: Client, cast: Cast) -> None:
    # Penn State publishes a level for jars alone (fixtures/action_levels.csv).
    type(cast.club).objects.filter(pk=cast.club.pk).update(action_level_issuer="us_penn_state")

    page = _page(alice, "sample-detail", kept(cast.colony, cast.alice, 23, board_days=Decimal(3), **BOARD).pk)

    assert "Penn State: no level published for a board in Aug." in page
    assert "Board: trend only" in page


def test_fall_under_a_treatment_is_compared_with_nothing(alice: Client, cast: Cast) -> None:
    facts = BOARD | {"board_days": Decimal(3), "treatment_in_hive": True}

    page = _page(alice, "sample-detail", kept(cast.colony, cast.alice, 230, **facts).pk)

    assert "not the natural drop, so no action level applies" in page
    assert "What other issuers publish" not in page


def test_drone_brood_has_no_rate(alice: Client, cast: Cast) -> None:
    facts = {"method": Method.DRONE_BROOD, "bees_by": None, "bees": None, "cells_counted": 60}

    page = _page(alice, "sample-detail", kept(cast.colony, cast.alice, 7, **facts).pk)

    assert "7 of 60 drone cells" in page
    assert "Drone brood can&#x27;t be turned into mites per 100 bees." in page


def test_too_few_bees_are_refused_in_words(alice: Client, cast: Cast) -> None:
    sample = kept(cast.colony, cast.alice, 1, 40, bees_by=BeesBy.COUNTED)

    page = _page(alice, "sample-detail", sample.pk)

    assert "Fewer than 50 bees are too few to say anything." in page


def test_gap_in_the_issuers_table_is_left_open(alice: Client, cast: Cast) -> None:
    # Chambre d'Agriculture d'Alsace, May to June: nothing is said between 2 and 4 a day.
    type(cast.club).objects.filter(pk=cast.club.pk).update(action_level_issuer="fr_alsace")
    facts = BOARD | {"board_days": Decimal(3), "sampled_on": dt.date(2026, 6, 10)}

    page = _page(alice, "sample-detail", kept(cast.colony, cast.alice, 9, **facts).pk)

    assert "says nothing about 3. We leave it open." in page


def test_levels_of_other_issuers_are_listed_apart(alice: Client, cast: Cast) -> None:
    page = _page(alice, "sample-detail", kept(cast.colony, cast.alice).pk)

    others = page[page.index("What other issuers publish") :]
    assert "They differ, and are never merged." in others
    assert "Alberta provincial apiculturist" in others
    assert "(USDA-ARS Tucson)" not in others[: others.index("Why? The sums behind it")]


def test_no_issuer_chosen_is_said(alice: Client, cast: Cast) -> None:
    type(cast.club).objects.filter(pk=cast.club.pk).update(action_level_issuer="")

    page = _page(alice, "sample-detail", kept(cast.colony, cast.alice).pk)

    assert "The club has not chosen whose action levels it goes by." in page


def test_correcting_keeps_the_old_count_struck_through(alice: Client, cast: Cast) -> None:
    sample = kept(cast.colony, cast.alice, mites=73)
    url = reverse("counts:sample-correct", args=[sample.pk])

    page = alice.post(url, typed(mites=7, why="Read the slip wrongly"), follow=True).content.decode()

    assert "<s>alcohol wash of 12 Aug 2026: 73 in about 300 bees</s>" in page
    assert "Read the slip wrongly" in page
    assert MiteSample.objects.standing().get().mites == 7


def test_correcting_starts_with_what_was_counted(alice: Client, cast: Cast) -> None:
    page = _page(
        alice, "sample-correct", kept(cast.colony, cast.alice, mites=17, bees=280, bees_by=BeesBy.COUNTED).pk
    )

    assert 'name="mites" id="id_mites" value="17"' in page
    assert 'name="bees" value="280"' in page


@pytest.mark.parametrize(
    ("name", "words"), [("sample-correct", "Nothing is saved yet."), ("sample-void", "Nothing was changed.")]
)
def test_voided_count_is_not_changed_again(alice: Client, cast: Cast, name: str, words: str) -> None:
    sample = void_sample(sample=kept(cast.colony, cast.alice), why="spilt", at=AT, by=cast.alice)

    page = alice.post(reverse(f"counts:{name}", args=[sample.pk]), typed(why="again"), follow=True)

    assert words in page.content.decode()
    sample.refresh_from_db()
    assert sample.voided_why == "spilt"


def test_voiding_needs_a_reason(alice: Client, cast: Cast) -> None:
    sample = kept(cast.colony, cast.alice)

    page = alice.post(reverse("counts:sample-void", args=[sample.pk]), {"why": "  "}).content.decode()

    assert "Say why it does not count" in page
    assert MiteSample.objects.standing().exists()


def test_void_shows_who_and_why(alice: Client, cast: Cast) -> None:
    sample = kept(cast.colony, cast.alice)

    page = alice.post(
        reverse("counts:sample-void", args=[sample.pk]), {"why": "spilt"}, follow=True
    ).content.decode()

    assert "This count does not count any more.</strong> Alice" in page
    assert "Void this count" not in page


def test_yard_is_saved_whole(alice: Client, cast: Cast) -> None:
    one, two, *_ = cast.colonies
    rows = {f"c{one.pk}-mites": 9, f"c{two.pk}-mites": 0, f"c{two.pk}-bees": 250}

    response = alice.post(reverse("counts:yard-count", args=[cast.alice_yard.pk]), typed(**rows))

    assert response.status_code == 302
    found = MiteSample.objects.order_by("colony__number").values_list("colony__name", "mites", "bees")
    assert list(found) == [("1", 9, 300), ("2", 0, 250)]


def test_yard_sent_twice_makes_each_count_once(alice: Client, cast: Cast) -> None:
    url, sent = (
        reverse("counts:yard-count", args=[cast.alice_yard.pk]),
        typed(**{f"c{cast.colony.pk}-mites": 9}),
    )

    assert alice.post(url, sent).status_code == alice.post(url, sent).status_code == 302
    assert MiteSample.objects.count() == 1


def test_wrong_row_in_the_middle_keeps_what_was_typed(alice: Client, cast: Cast) -> None:
    one, two, three, *_ = cast.colonies
    rows = {f"c{one.pk}-mites": "9", f"c{two.pk}-mites": "many", f"c{three.pk}-mites": "4"}

    page = alice.post(reverse("counts:yard-count", args=[cast.alice_yard.pk]), typed(**rows)).content.decode()

    assert "<title>Error: Count a whole yard" in page
    assert f'<a href="#id_c{two.pk}-mites">Colony 2: Enter a whole number of mites' in page
    for colony, value in ((one, "9"), (two, "many"), (three, "4")):
        assert f'name="c{colony.pk}-mites" id="id_c{colony.pk}-mites" value="{value}"' in page
    assert not MiteSample.objects.exists()


def test_odd_row_is_asked_about_and_kept_when_ticked(alice: Client, cast: Cast) -> None:
    url, row = reverse("counts:yard-count", args=[cast.alice_yard.pk]), f"c{cast.colony.pk}"
    sent = typed(**{f"{row}-mites": 73})

    response = alice.post(url, sent)
    assert "73 mites of 300 bees is 24.3 per 100. Is that right?" in response.content.decode()
    assert not MiteSample.objects.exists()

    (asked,) = [one for one in response.context["formset"] if one.questions]
    alice.post(url, sent | {f"{row}-sure": asked.sure_value})
    assert MiteSample.objects.get().mites == 73


def test_yard_page_says_what_the_yard_says(alice: Client, cast: Cast) -> None:
    for colony, mites in zip(cast.colonies, [9, 0, 40, 6], strict=False):
        kept(colony, cast.alice, mites)

    page = alice.get(reverse("apiaries:yard-detail", args=[cast.alice_yard.pk])).content.decode()

    assert "Across the yard, between about" in page
    assert "from 4 of 6 colonies" in page
    assert "Above by its last count:</strong> <a" in page
    assert page.count("not counted yet") == 2


def test_one_colony_cannot_speak_for_its_yard(alice: Client, cast: Cast) -> None:
    kept(cast.colony, cast.alice)

    page = alice.get(reverse("apiaries:yard-detail", args=[cast.alice_yard.pk])).content.decode()

    assert "One colony cannot speak for 6." in page
    assert "the yard as a whole" not in page
    said = page[
        page.index("One colony cannot") : page.index("Every colony")
        if "Every colony" in page
        else page.index("colonies counted so far")
    ]
    assert "Counted: 9 in about 300 bees from 1 of 6 colonies." in said
    assert "range-bar" not in said and "per 100 bees" not in said


def test_count_says_why_the_estimate_is_not_the_plain_fraction(alice: Client, cast: Cast) -> None:
    # 9 / 300 = 3.0 per 100; a wash finds 0.95 of the mites (stored constant): 3.0 / 0.95 = 3.2
    page = _page(alice, "sample-detail", kept(cast.colony, cast.alice).pk)
    assert (
        "As counted 3.0 per 100; a wash leaves about 5 in 100 mites on the bees, so the estimate is 3.2."
        in page
    )

    assert "As counted" not in _page(alice, "sample-detail", kept(cast.colonies[1], cast.alice, 0).pk)


@pytest.mark.parametrize("name", ["sample-add", "yard-count"])
def test_alcohol_is_told_to_burn_where_it_is_used(name: str, alice: Client, cast: Cast) -> None:
    page = _page(alice, name, cast.colony.pk if name == "sample-add" else cast.alice_yard.pk)
    assert '<div data-for-method="alcohol_wash">' in page
    assert "Alcohol burns and its fumes light easily: keep it away from the smoker." in page


def test_colony_page_strikes_voided_counts_through(alice: Client, cast: Cast) -> None:
    correct_sample(
        sample=kept(cast.colony, cast.alice), count=wash(cast.colony, 7), why="slip", at=AT, by=cast.alice
    )

    page = alice.get(reverse("apiaries:colony-detail", args=[cast.colony.pk])).content.decode()

    assert page.count('<tr class="voided">') == 1
    assert "by Alice: slip" in page


def test_inspector_sees_counts_without_buttons(cast: Cast, client_for: Callable[[Person], Client]) -> None:
    sample = kept(cast.colony, cast.alice)
    client = client_for(cast.ines)

    pages = _page(client, "sample-detail", sample.pk)
    pages += client.get(reverse("apiaries:yard-detail", args=[cast.alice_yard.pk])).content.decode()

    assert "Void this count" not in pages
    assert "Count a whole yard" not in pages
    assert "Add a count" not in pages


def _count_all(cast: Cast) -> None:
    """34 more colonies in Alice's yard, each counted the day before."""
    more = add_numbered_colonies(yard=cast.alice_yard, first=7, last=40, started_on=STARTED, by=cast.alice)
    for colony in more:
        kept(colony, cast.alice, sampled_on=DAY - dt.timedelta(days=1))


@pytest.mark.parametrize(("name", "queries"), [("sample-list", 7), ("yard-count", 7)])
def test_queries_do_not_grow(
    alice: Client, cast: Cast, django_assert_num_queries: Any, name: str, queries: int
) -> None:
    url = reverse(f"counts:{name}", args=[] if name == "sample-list" else [cast.alice_yard.pk])
    for colony in cast.colonies:
        kept(colony, cast.alice)
    alice.get(url)
    with django_assert_num_queries(queries):
        alice.get(url)

    _count_all(cast)
    with django_assert_num_queries(queries):
        alice.get(url)


def test_queries_of_the_yard_panel_do_not_grow(cast: Cast, django_assert_num_queries: Any) -> None:
    for colony in cast.colonies:
        kept(colony, cast.alice)
    yard_panel(cast.alice, YardOnPage(cast.alice, cast.alice_yard))  # the club's own spread is kept for hours
    with django_assert_num_queries(5):
        yard_panel(cast.alice, YardOnPage(cast.alice, cast.alice_yard))

    _count_all(cast)
    with django_assert_num_queries(5):
        panel = yard_panel(cast.alice, YardOnPage(cast.alice, cast.alice_yard))
    assert len(panel.context["rows"]) == 40
