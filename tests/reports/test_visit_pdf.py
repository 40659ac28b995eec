"""The report of a visit on paper: all that its page says, who may have it, the same bytes, and what was struck."""

import datetime as dt
import io
from dataclasses import replace

import pytest
from django.urls import reverse
from pypdf import PdfReader

from apiaries.models import Colony, Visit, Yard
from apiaries.paper import Paper
from apiaries.visit_facts import NewFinding, NewSuspicion, as_new
from counts.actions import void_sample
from counts.visit_actions import correct_visit_and_counts, keep_visit, void_visit_and_counts
from reports.visit_pdf import report_data, visit_pdf
from tests.printed import SIZES, pages_of, says_all, size_of, stays_on_paper, words_of
from tests.visiting import AT, ON, a_count, a_visit

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("reference")]
LATER = AT + dt.timedelta(days=1)


def kept(cast, **more):
    counts = [a_count(cast.colony), a_count(cast.colonies[1], mites=0)]
    return keep_visit(new=a_visit(cast, **more), counts=counts, planned=None, at=AT, by=cast.ines)


def again(visit: Visit) -> Visit:
    along = ("club", "yard__club", "yard__keeper", "yard__region", "inspector", "recorded_by", "voided_by")
    return Visit.objects.select_related(*along).get(pk=visit.pk)


def made(visit, person, paper=Paper.A4, as_of=LATER):
    return visit_pdf(again(visit), person, paper=paper, as_of=as_of)


@pytest.mark.parametrize("paper", list(Paper))
def test_text_layer_says_all_that_the_report_says(cast, paper):
    visit = kept(cast)

    pdf = made(visit, cast.alice, paper)

    assert says_all(pdf, report_data(again(visit), cast.alice, as_of=LATER)) == []
    assert size_of(pdf) == pytest.approx(SIZES[paper.value], abs=1)
    assert stays_on_paper(pdf)
    info = PdfReader(io.BytesIO(pdf))
    assert info.metadata.title == "Report 2026-001, Home yard"
    assert info.root_object["/Lang"] == "en-GB" and info.root_object["/MarkInfo"]["/Marked"]


def test_report_says_what_an_inspector_and_a_keeper_look_for(cast):
    cast.club.jurisdiction = "GB"
    cast.club.save()
    suspected = NewSuspicion(
        disease="american_foulbrood", duty="notifiable", colony=cast.colonies[1], seen="ropy larvae"
    )
    words = words_of(made(kept(cast, suspicions=(suspected,)), cast.alice))

    for said in (
        "Report 2026-001",
        "Home yard, Alice, North. Inspector: Ines.",
        "The keeper (Alice)",
        "6 present, 2 opened. To open by the rule: 6 colonies (Every colony). 4 fewer than the rule asks for.",
        "Suspected in colony 2: American foulbrood",
        "Tell the National Bee Unit",
        "Seen: ropy larvae",
        "Brood: sunken or holed cappings",
        "Requeen colony 2.",
        "Melt the old combs",
        "11 Sep 2026",
        "due on 1 Sep 2026",
        "L-1",
        "Alcohol wash: 9 in about 300 bees",
        "per 100 bees (range",
        "None found (up to",
        "0 in about 300 bees",
        "Keeper: Alice",
        "As of 13 Aug 2026, 18:00.",
        "Page 1 of ",
    ):
        assert said in words, said
    assert "confirmed" not in words.lower()


def test_same_facts_give_the_same_bytes(cast):
    visit = kept(cast)

    assert made(visit, cast.alice) == made(visit, cast.bob)
    assert made(visit, cast.alice) != made(visit, cast.alice, as_of=LATER + dt.timedelta(minutes=1))


def test_correction_shows_what_was_struck_through_with_who_when_and_why(cast):
    visit = kept(cast)
    new = replace(
        as_new(again(visit)),
        remarks="two combs broken",
        findings=(NewFinding(colony=cast.colony, strength="weak"),),
        colonies_opened=1,
        suspicions=(),
    )
    new = replace(new, entry_key=a_visit(cast).entry_key)
    corrected = correct_visit_and_counts(visit=visit, new=new, why="wrong hive", at=LATER, by=cast.ines)

    data = report_data(again(corrected), cast.alice, as_of=LATER)
    words = words_of(made(corrected, cast.alice))

    (struck,) = data["struck"]
    assert struck["title"] == "Report 2026-001: Ines, 13 Aug 2026, 18:00: wrong hive"
    lines = {one["label"]: (one["old"], one["new"]) for one in struck["lines"]}
    assert lines["Colony 1"] == ("Strength: strong; Brood: even; Stores: enough", "Strength: weak")
    assert lines["Remarks, damage"] == ("", "two combs broken")
    assert lines["Suspected in colony 2"] == ("American foulbrood: ropy larvae", "nothing")
    assert "Notice" not in lines, "what stayed the same is not struck"
    assert "Report 2026-001, version 2" in words and "wrong hive" in words
    before = words_of(made(visit, cast.alice))
    assert "This report no longer counts." in before and "In its place: report 2026-001, version 2" in before


def test_voided_report_and_voided_count_say_who_when_and_why(cast):
    visit = kept(cast)
    void_sample(sample=visit.samples.get(mites=9), why="jar spilt", at=LATER, by=cast.ines)

    counts = report_data(again(visit), cast.alice, as_of=LATER)["tables"][1]["rows"]
    assert [part["struck"] for part in counts[0][1]] == [True, True]
    assert counts[0][2][0]["words"] == "voided 13 Aug 2026 by Ines: jar spilt"

    void_visit_and_counts(visit=again(visit), why="wrong yard", at=LATER, by=cast.ines)
    words = words_of(made(visit, cast.alice))
    assert "This report no longer counts. Ines, 13 Aug 2026, 18:00: wrong yard" in words


def test_nothing_typed_is_read_as_markup_and_long_words_wrap(cast):
    odd = "#set page(width: 1cm) *bold* $x$ " + "W" * 47
    Yard.objects.filter(pk=cast.alice_yard.pk).update(name=odd)
    Colony.objects.filter(pk=cast.colony.pk).update(name="[#pagebreak()] " + "M" * 14)
    visit = kept(cast, remarks="one\ntwo " + "x" * 300, recommendations="=" * 200)

    pdf = made(visit, cast.alice)

    letters = words_of(pdf).replace(" ", "")
    assert "#setpage(width:1cm)*bold*$x$" + "W" * 47 in letters and "x" * 300 in letters
    assert "[#pagebreak()]" + "M" * 14 in letters
    assert stays_on_paper(pdf)


def test_empty_report_says_that_nothing_was_noted(cast):
    new = a_visit(
        cast,
        findings=(),
        suspicions=(),
        lab_samples=(),
        orders=(),
        recommendations="",
        follow_up_on=None,
        colonies_opened=0,
    )
    visit = keep_visit(new=new, counts=[], planned=None, at=AT, by=cast.ines)

    words = words_of(made(visit, cast.alice))

    for said in ("No finding of a single colony was noted.", "No mites were counted", "none due"):
        assert said in words
    assert "Until the authority" not in words


def test_file_is_named_by_its_day_alone_and_papers_are_two(cast, client_for):
    url = reverse("reports:visit-report-pdf", args=[kept(cast).pk])
    client = client_for(cast.bob)

    answer = client.get(url)

    assert answer["Content-Type"] == "application/pdf"
    assert answer["Content-Disposition"] == f'attachment; filename="visit-{ON.isoformat()}-report.pdf"'
    assert len(pages_of(answer.content)) >= 1
    assert size_of(client.get(url + "?paper=letter").content) == pytest.approx(SIZES["letter"], abs=1)
    assert client.get(url + "?paper=a3").status_code == 404
