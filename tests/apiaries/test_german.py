"""What the pages, papers and helpers of this app say to somebody who reads German, and what stays as it is."""

import datetime as dt
import io
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils.translation import override
from pypdf import PdfReader

from apiaries import language
from apiaries.actions import choose_language, unite_colonies
from apiaries.context import PLACES
from apiaries.forms import ColonyForm, LabelsForm, MeForm
from apiaries.label_sheets import GRIDS, Sheet, trial_page_pdf
from apiaries.models import Brood, Person
from apiaries.paper import Paper
from apiaries.past import past_of
from apiaries.permissions import Role, role_name, role_within
from apiaries.reference import issuers
from apiaries.templatetags import recount_words as words
from apiaries.who_sees import role_table, row_rules, who_sees_yard
from counts.method_cards import method_cards_pdf
from counts.samples import Method
from tests.printed import words_of

Opens = Callable[[Person | None], Client]
AUG_12 = dt.date(2026, 8, 12)


def in_german(person: Person) -> Person:
    choose_language(person=person, language="de", by=person)
    return person


# Pages and papers


def test_pages_are_said_in_german_from_the_frame_to_the_foot(cast: Any, client_for: Opens) -> None:
    alice = client_for(in_german(cast.alice))

    told = alice.get(reverse("apiaries:yard-detail", args=[cast.alice_yard.pk])).content.decode()

    for said in ("Bestandsbuch", "Stand bearbeiten", "Genauer Ort", "Das sehen: Sie", "Wer was sieht"):
        assert said in told


def test_coordinates_are_written_with_points_in_any_language(cast: Any, client_for: Opens) -> None:
    cast.alice_yard.latitude, cast.alice_yard.longitude = "52.52000", "13.40500"
    cast.alice_yard.save()

    told = client_for(in_german(cast.alice)).get(reverse("apiaries:yard-detail", args=[cast.alice_yard.pk]))

    assert "52.52000, 13.40500" in told.content.decode()


def test_what_the_service_wrote_of_a_union_is_kept_once_and_read_in_both(cast: Any) -> None:
    gone, into = cast.colonies[0], cast.colonies[1]
    with override("de"):
        unite_colonies(colony=gone, into=into, united_on=AUG_12, by=cast.alice)
    gone.refresh_from_db()

    assert gone.ended_why == gone.end_words == "united with colony 2"
    with override("de"):
        assert gone.end_words == "mit Volk 2 vereinigt"
        newest = past_of(gone, cast.alice)[0]
        assert newest.words.startswith("Vereinigt mit Volk 2")


def test_what_people_wrote_of_an_end_is_read_as_they_wrote_it(cast: Any) -> None:
    cast.colony.ended_why = "verkauft an einen Nachbarn"

    for code in ("de", "en-gb"):
        with override(code):
            assert cast.colony.end_words == "verkauft an einen Nachbarn"


@pytest.mark.parametrize(
    ("code", "tag", "advice"),
    [
        ("de", "de", "Beide Lineale müssen 150 mm lang sein."),
        ("en-gb", "en-GB", "Both rulers must be 150 mm long."),
    ],
)
def test_papers_are_set_in_the_readers_language(code: str, tag: str, advice: str) -> None:
    with override(code):
        made = trial_page_pdf(Sheet(GRIDS[1]))

    assert advice in words_of(made)
    assert PdfReader(io.BytesIO(made)).trailer["/Root"]["/Lang"] == tag  # type: ignore[index]


def test_every_page_of_a_paper_is_numbered_in_the_readers_language() -> None:
    two = list(Method)[:2]
    english = words_of(method_cards_pdf(two, paper=Paper.A4))
    with override("de"):
        german = words_of(method_cards_pdf(two, paper=Paper.A4))

    assert "Page 1 of 2" in english and "Page 2 of 2" in english
    assert "Seite 1 von 2" in german and "Seite 2 von 2" in german


@pytest.mark.parametrize("paper", Paper)
@pytest.mark.parametrize("code", ["en-gb", "de"])
def test_each_method_card_is_one_page(code: str, paper: Paper) -> None:
    with override(code):
        made = method_cards_pdf(list(Method), paper=paper)

    assert len(PdfReader(io.BytesIO(made)).pages) == len(Method)


def test_who_sees_a_yard_in_german(cast: Any) -> None:
    with override("de"):
        told = who_sees_yard(cast.alice_yard, viewer=cast.alice)

    assert told.startswith("Das sehen: Sie")
    assert "Sonst niemand." in told


def test_tables_marked_at_import_are_said_when_they_are_read(cast: Any) -> None:
    """Nothing was fixed in the language of whoever came first."""
    assert row_rules()[1].what == "See its exact place, if the keeper gave one"
    with override("de"):
        assert row_rules()[1].what.startswith("Seinen genauen Ort sehen")
        assert role_table()[0].words == "Eigene Stände einrichten"
        assert role_table()[0].cells[0][0] == "Mitglied"
        assert [role_name(role) for role in Role][1] == "Koordination"
        assert str(Brood.NONE.label) == "keine"
        form = ColonyForm(colony=cast.colony, today=AUG_12)
        assert dict(form.fields["brood"].choices)["plenty"] == "Viel"
        assert str(form.fields["name"].label) == "Name oder Nummer"
        labels = LabelsForm(colonies=[cast.colony])
        assert dict(labels.fields["sheet"].choices)["a4-3x7"] == "A4, 3 × 7 Etiketten zu 63,5 × 38,1 mm"
        me = MeForm(person=cast.alice, membership=None)
        assert dict(me.fields["quiet_days"].choices)[0] == "Montag"
    assert role_within(Role.INSPECTOR) == "inspector"
    assert dict(MeForm(person=cast.alice, membership=None).fields["quiet_days"].choices)[0] == "Monday"


def test_every_page_of_the_navigation_has_a_german_name() -> None:
    with override("de"):
        for places in PLACES.values():
            for label, _ in places:
                assert language.say_as("page", label) != label or label == "Region"


def test_cautions_are_read_in_german_and_their_sources_as_they_are(cast: Any, client_for: Opens) -> None:
    told = client_for(in_german(cast.alice)).get(reverse("apiaries:cautions")).content.decode()

    assert "1 mg je Kubikmeter" in told
    assert "International Chemical Safety Card 0707, oxalic acid" in told
    assert "Übliche Praxis, ohne Quelle." in told
    assert "no source" not in told


def test_issuers_are_named_as_they_are_and_their_regions_in_german() -> None:
    english = dict(issuers())["de_by_lwg"]
    with override("de"):
        german = dict(issuers())["de_by_lwg"]

    assert english.startswith("Bavaria LWG (Germany") and german.startswith("Bavaria LWG (Deutschland")


# Figures, days, lists


def test_figures_are_written_with_the_marks_of_the_language() -> None:
    assert language.figure("1,234.5") == "1,234.5"
    with override("de"):
        assert language.figure("1,234.5") == "1.234,5"
        assert words.one_decimal(-1.24) == "−1,2"
        assert words.rate_range(1.3, 6.7) == "1,3 bis 6,7"
        assert words.per_100(3) == "3,0 je 100 Bienen"
        assert words.per_day(4) == "4,0 pro Tag"
        assert words.along(305) == "30.5%"  # for a machine


@pytest.mark.parametrize(
    ("names", "english", "german"),
    [
        ([], "", ""),
        (["a"], "a", "a"),
        (["a", "b"], "a and b", "a und b"),
        (["a", "b", "c"], "a, b and c", "a, b und c"),
    ],
)
def test_a_list_in_words(names: list[str], english: str, german: str) -> None:
    assert language.listed(names) == english
    with override("de"):
        assert language.listed(names) == german


def test_days_and_months_in_german() -> None:
    with override("de"):
        assert language.day_words(AUG_12) == "12. Aug 2026"
        assert language.day_month_words(dt.date(2026, 3, 1)) == "1. März"
        assert language.weekday_day_words(dt.date(2026, 8, 22)) == "Sa, 22. Aug 2026"
        assert language.month_year_words(dt.date(2026, 10, 1)) == "Okt 2026"
        assert language.long_month_year_words(dt.date(2026, 1, 1)) == "Januar 2026"
        assert [language.weekday_name(number) for number in (0, 6)] == ["Montag", "Sonntag"]
        assert [language.month_name(number) for number in (5, 12)] == ["Mai", "Dezember"]


def test_one_and_many_in_german() -> None:
    def said(number: int) -> str:
        return language.say_many("{n} helper", "{n} helpers", number)

    assert [said(1), said(2)] == ["1 helper", "2 helpers"]
    with override("de"):
        assert [said(1), said(2), said(1234)] == ["1 Hilfe", "2 Hilfen", "1.234 Hilfen"]
