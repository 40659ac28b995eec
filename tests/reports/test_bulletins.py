"""Bulletins from draft to archive: made by themselves, edited, issued once for all, withdrawn; page, chart, paper."""

import datetime as dt
import io
import re
from dataclasses import replace

import pytest
import time_machine
from django.db import ProgrammingError, transaction
from django.urls import reverse
from pypdf import PdfReader

from apiaries.actions import add_region
from apiaries.models import Club
from apiaries.paper import Paper
from counts.samples import Kind
from reports import bulletin_actions, tasks
from reports.bulletin_actions import (
    AlreadyIssued,
    AlreadyThere,
    AlreadyWithdrawn,
    ChangedMeanwhile,
    NotIssued,
    NotPublished,
    draft_due,
    issue_bulletin,
    make_bulletin,
    mark_of,
    months_without,
    set_foreword,
    withdraw_bulletin,
)
from reports.bulletin_figures import KindFigures, MonthFigures, State
from reports.bulletin_forms import PARAGRAPHS_MOST
from reports.bulletin_making import figures_of
from reports.bulletin_page import bulletin_page
from reports.bulletin_pdf import bulletin_pdf
from reports.bulletin_words import paragraphs
from reports.figures import refresh_marked
from reports.models import FOREWORD_MOST, Bulletin, RegionMonth
from reports.publishing import publish_due
from tests.reports.counting import AT, count
from tests.reports.test_bulletin_words import JULY, MONTHS, hidden, many, shown

AUGUST = dt.date(2026, 8, 1)
ADDRESS = "https://recount.example/bulletins/12/"
DAY = dt.timedelta(days=1)


@pytest.fixture
def august(reference, counted_north, cast):
    """August 2026, published: North has figures, South one yard, nobody counted in East."""
    Club.objects.update(founded_at=dt.datetime(2026, 6, 15, 12, tzinfo=dt.UTC))
    cast.club.refresh_from_db()
    add_region(club=cast.club, name="East", by=cast.adam)
    count(cast.charlie_yard.colonies.first(), dt.date(2026, 8, 5), 4)
    refresh_marked(at=AT)
    publish_due(at=AT)


@pytest.fixture
def draft(august, cast):
    return make_bulletin(club=cast.club, month=AUGUST, at=AT, by=cast.dana)


@pytest.fixture
def issued(draft, cast):
    return issue_bulletin(bulletin=draft, seen=mark_of(draft), at=AT, by=cast.dana)


def _url(name, bulletin):
    return reverse(f"reports:bulletin-{name}", args=[bulletin.pk])


def test_figures_are_the_published_ones_and_tell_no_number(august, cast):
    month = figures_of(cast.club, AUGUST, at=AT)
    (washes,) = month.kinds
    by_name = {one.name: one for one in washes.regions}
    assert {name: one.state for name, one in by_name.items()} == {
        "East": State.NOT_COUNTED,
        "North": State.SHOWN,
        "South": State.HIDDEN,
    }
    row = RegionMonth.objects.get(region=cast.north, frozen_at__isnull=False)
    north = by_name["North"]
    assert north.figure.rate == pytest.approx(row.rate * 100) and north.yards == "5–9"
    assert by_name["South"].figure is None and by_name["South"].why_hidden == "too few keepers"


def test_draft_is_made_by_itself_once_a_month_is_published(august, cast, zoe_club):
    assert draft_due(at=AT) == 1
    assert draft_due(at=AT) == 0
    bulletin = Bulletin.objects.get()
    assert (bulletin.club, bulletin.month, bulletin.made_by) == (cast.club, AUGUST, None)
    assert "South" in str(bulletin.words) and bulletin.is_draft


@pytest.fixture
def zoe_club(cast):
    """Another club, published too, in which nobody counted: no draft."""
    return Club.objects.exclude(pk=cast.club.pk).get()


def test_schedule_drafts_what_it_publishes(august, cast, time_machine):
    time_machine.move_to(AT)
    tasks.wake_region_figures()
    assert Bulletin.objects.get().month == AUGUST


def test_club_that_fails_keeps_no_other_waiting(august, monkeypatch, caplog):
    def fails(*_, **__):
        raise RuntimeError("no figures")

    monkeypatch.setattr(bulletin_actions, "figures_of", fails)
    assert draft_due(at=AT) == 0 and not Bulletin.objects.exists()
    assert "cannot be drafted" in caplog.text


def test_month_that_is_not_published_has_none(august, cast):
    with pytest.raises(NotPublished):
        make_bulletin(club=cast.club, month=dt.date(2026, 9, 1), at=AT, by=cast.dana)


def test_month_has_one_bulletin_until_it_is_withdrawn(draft, cast):
    with pytest.raises(AlreadyThere):
        make_bulletin(club=cast.club, month=AUGUST, at=AT, by=cast.dana)
    assert AUGUST not in months_without(cast.club)
    issue_bulletin(bulletin=draft, seen=mark_of(draft), at=AT, by=cast.dana)
    withdraw_bulletin(bulletin=draft, why="Wrong sheet.", at=AT, by=cast.dana)
    assert AUGUST in months_without(cast.club) and draft_due(at=AT) == 0
    assert make_bulletin(club=cast.club, month=AUGUST, at=AT, by=cast.dana).pk != draft.pk


def test_foreword_is_edited_while_a_draft(draft, cast):
    kept = set_foreword(bulletin=draft, foreword=" Dear all. \n", seen=mark_of(draft), at=AT, by=cast.dana)
    assert kept.foreword == "Dear all."


def test_foreword_that_changed_meanwhile_is_not_written_over(draft, cast):
    seen = mark_of(draft)
    set_foreword(bulletin=draft, foreword="Mine.", seen=seen, at=AT, by=cast.adam)
    with pytest.raises(ChangedMeanwhile):
        set_foreword(bulletin=draft, foreword="Hers.", seen=seen, at=AT, by=cast.dana)
    with pytest.raises(ChangedMeanwhile):
        issue_bulletin(bulletin=draft, seen=seen, at=AT, by=cast.dana)
    draft.refresh_from_db()
    assert draft.foreword == "Mine." and draft.is_draft


def test_issued_refuses_every_action_but_one_withdrawal(issued, cast):
    seen = mark_of(issued)
    for write in (
        lambda: set_foreword(bulletin=issued, foreword="x", seen=seen, at=AT, by=cast.dana),
        lambda: issue_bulletin(bulletin=issued, seen=seen, at=AT, by=cast.dana),
    ):
        with pytest.raises(AlreadyIssued):
            write()
    withdraw_bulletin(bulletin=issued, why="Wrong.", at=AT, by=cast.dana)
    with pytest.raises(AlreadyWithdrawn):
        withdraw_bulletin(bulletin=issued, why="Again.", at=AT, by=cast.dana)


def test_draft_cannot_be_withdrawn(draft, cast):
    with pytest.raises(NotIssued):
        withdraw_bulletin(bulletin=draft, why="x", at=AT, by=cast.dana)


@pytest.mark.parametrize(
    "change",
    [
        {"foreword": "x"},
        {"words": []},
        {"figures": {}},
        {"month": dt.date(2026, 7, 1)},
        {"issued_at": None, "issued_by": None},
        {"made_at": AT + DAY},
    ],
)
def test_database_refuses_to_change_what_was_issued(issued, change):
    with pytest.raises(ProgrammingError, match="Cannot update"), transaction.atomic():
        Bulletin.objects.filter(pk=issued.pk).update(**change)


def test_database_refuses_to_delete_what_was_issued_and_to_take_a_withdrawal_back(issued, cast):
    with pytest.raises(ProgrammingError, match="Cannot delete"), transaction.atomic():
        issued.delete()
    withdraw_bulletin(bulletin=issued, why="Wrong.", at=AT, by=cast.dana)
    with pytest.raises(ProgrammingError, match="Cannot update"), transaction.atomic():
        Bulletin.objects.update(withdrawn_at=None, withdrawn_by=None, withdrawn_why="")


def test_words_and_figures_of_a_draft_stay_too(draft):
    with pytest.raises(ProgrammingError, match="Cannot update"), transaction.atomic():
        Bulletin.objects.filter(pk=draft.pk).update(words=[["What was counted", "Nothing."]])


def test_members_see_it_from_its_issue_on(draft, cast, client_for):
    alice, dana = client_for(cast.alice), client_for(cast.dana)
    assert alice.get(_url("detail", draft)).status_code == 404
    assert b"Bulletin for August 2026" not in alice.get("/bulletins/").content
    assert b"Members do not see it" in dana.get("/bulletins/").content

    sent = dana.post(_url("issue", draft), {"seen": mark_of(draft)}, follow=True)
    assert b"Bulletin issued" in sent.content
    page = alice.get(_url("detail", draft)).content.decode()
    assert "What was counted" in page and "too few keepers" in page and "– no samples" in page
    assert "Issued by Dana" in page and "Withdraw" not in page


def test_foreword_form_keeps_what_was_typed(draft, cast, client_for):
    dana = client_for(cast.dana)
    typed = "a" * (FOREWORD_MOST + 1)
    answer = dana.post(_url("foreword", draft), {"foreword": typed, "seen": mark_of(draft)})
    assert answer.status_code == 200 and typed in answer.content.decode()
    assert "This has 1501 letters. Shorten it to 1500" in answer.content.decode()

    answer = dana.post(_url("foreword", draft), {"foreword": "x\n" * 21, "seen": mark_of(draft)})
    assert b"This has 21 paragraphs" in answer.content

    lines = "\r\n".join(["b" * 749, "c" * 750])  # 1,500 as kept, 1,501 as a browser sends it
    answer = dana.post(_url("foreword", draft), {"foreword": lines, "seen": mark_of(draft)}, follow=True)
    assert b"Foreword saved" in answer.content
    draft.refresh_from_db()
    assert len(draft.foreword) == FOREWORD_MOST


def test_form_shows_the_other_foreword_and_then_saves(draft, cast, client_for):
    dana, seen = client_for(cast.dana), mark_of(draft)
    set_foreword(bulletin=draft, foreword="Mine <b>first</b>.", seen=seen, at=AT, by=cast.adam)
    answer = dana.post(_url("foreword", draft), {"foreword": "Hers.", "seen": seen}).content.decode()
    assert "Somebody else changed the foreword" in answer and "Mine &lt;b&gt;first&lt;/b&gt;." in answer
    now = re.search(r'name="seen" value="(\w+)"', answer)[1]
    dana.post(_url("foreword", draft), {"foreword": "Hers.", "seen": now})
    draft.refresh_from_db()
    assert draft.foreword == "Hers."

    answer = dana.post(_url("issue", draft), {"seen": seen}).content.decode()
    assert "Somebody changed the foreword" in answer and "Hers." in answer


def test_withdrawn_stays_in_the_archive_struck_through(issued, cast, client_for):
    dana = client_for(cast.dana)
    answer = dana.post(_url("withdraw", issued), {"why": " "})
    assert b"Say why" in answer.content
    dana.post(_url("withdraw", issued), {"why": "One sheet was typed up wrongly."})
    alice = client_for(cast.alice)
    for page in ("/bulletins/", _url("detail", issued)):
        words = alice.get(page).content.decode()
        assert "<s>Bulletin for August 2026</s>" in words
        assert "Withdrawn by Dana" in words and "One sheet was typed up wrongly." in words
    assert "Withdrawn by Dana" in pdf_words(alice.get(_url("pdf", issued)).content)


def test_issued_ones_lead_back_from_their_forms(issued, draft, cast, client_for):
    dana = client_for(cast.dana)
    for name in ("foreword", "issue"):
        assert b"It stays as it is" in dana.get(_url(name, issued), follow=True).content


def test_draft_form_says_when_the_months_to_come_are_published(cast, client_for):
    with time_machine.travel(dt.datetime(2026, 10, 3, 9, tzinfo=dt.UTC), tick=False):
        shown = client_for(cast.dana).get("/bulletins/draft/").content.decode()

    newest, last = (
        shown.index("Oct 2026: published on 10 Nov 2026."),
        shown.index("Sep 2026: published on 10 Oct 2026."),
    )
    assert newest < last
    assert "Aug 2026: published on" not in shown


def test_draft_form_makes_one_of_a_published_month(august, cast, client_for):
    dana = client_for(cast.dana)
    assert b"August 2026" in dana.get("/bulletins/draft/").content
    shown = dana.get("/bulletins/draft/").content.decode()
    # Nobody drafts an old month by mistake.
    assert '<option value="" selected>Choose a month</option>' in shown
    assert b"Choose a month." in dana.post("/bulletins/draft/", {"month": ""}).content
    answer = dana.post("/bulletins/draft/", {"month": "2026-09-01"})
    assert b"This month is not published, or has a bulletin" in answer.content
    answer = dana.post("/bulletins/draft/", {"month": "2026-08-01"}, follow=True)
    assert b"Draft written" in answer.content


def test_chart_is_drawn_for_each_theme_and_size(issued, cast, client_for):
    alice = client_for(cast.alice)
    for theme in ("light", "dark"):
        for size in ("wide", "narrow"):
            answer = alice.get(_url("chart", issued), {"kind": "wash", "theme": theme, "size": size})
            assert answer["Content-Type"] == "image/svg+xml" and b"North" in answer.content
            assert b"South" not in answer.content
    for wrong in ({"kind": "roll"}, {"kind": "wash", "theme": "x"}, {"kind": "wash", "size": "x"}, {}):
        assert alice.get(_url("chart", issued), wrong).status_code == 404


def pdf_words(made):
    return " ".join(
        " ".join(page.extract_text() for page in PdfReader(io.BytesIO(made)).pages)
        .replace("\u200b", "")
        .split()
    )


def _page(month, foreword, cast):
    bulletin = Bulletin(
        club=cast.club,
        month=month.month,
        foreword=foreword,
        words=[[one.title, one.text] for one in paragraphs(month)],
        figures=month.as_kept(),
        made_at=AT,
        issued_at=AT,
        issued_by=cast.dana,
    )
    return bulletin_page(bulletin)


LONG = ("Dear members, the year was dry and the lime gave little. " * 30)[:FOREWORD_MOST]
WIDE = MonthFigures(
    JULY,
    (
        KindFigures(
            Kind.WASH,
            tuple(
                replace(
                    one, name=f"{one.name} {'Wide and long name ' * 4}"[:80], before=one.figure, high_beside=4
                )
                for one in many(48).regions
            )
            + tuple(hidden(f"{'Another name as long as it may be ' * 3}"[:77] + f"{n:03}") for n in range(9)),
        ),
        KindFigures(Kind.BOARD, (shown("North", 8.5, 6.0, 12.1),)),
    ),
    warned=("oxalic acid", "thymol", "formic acid"),
    count_asked=True,
    week=(dt.date(2026, 8, 4), dt.date(2026, 8, 17)),
)


@pytest.mark.parametrize("paper", Paper)
@pytest.mark.parametrize(
    ("month", "foreword"),
    [
        *((month, "") for month in MONTHS.values()),
        (MonthFigures(JULY, (many(48),)), ""),
        (MonthFigures(JULY, (many(48),)), LONG),
        (WIDE, LONG),
        (WIDE, "\n".join("x" * 74 for _ in range(PARAGRAPHS_MOST))),
    ],
)
def test_paper_is_one_page_whatever_it_says(month, foreword, paper, cast):
    page = _page(month, foreword, cast)
    made = bulletin_pdf(page, address=ADDRESS, paper=paper)
    assert len(PdfReader(io.BytesIO(made)).pages) == 1
    words = pdf_words(made)
    assert ADDRESS in words.replace(" ", "") and "Issued by Dana" in words
    squeezed = words.replace(" ", "")
    for one in page.paragraphs:
        assert one.text.replace(" ", "") in squeezed
    assert foreword.replace("\n", "").replace(" ", "") in squeezed.replace("\n", "")


def test_paper_says_how_many_regions_it_left_out(cast):
    words = pdf_words(bulletin_pdf(_page(WIDE, LONG, cast), address=ADDRESS, paper=Paper.A4))
    left = int(re.search(r"Left out for room: (\d+) regions with figures", words)[1])
    rows = len(re.findall(r"Region \d\d Wide", words.split("mites per 100 bees")[-1]))
    assert left > 0 and "Without a figure: 9 hidden, 0 without counts" in words
    assert rows >= 48 - left


def test_paper_is_the_same_bytes_each_time_and_takes_letter(issued, cast, client_for):
    alice = client_for(cast.alice)
    one, two = (alice.get(_url("pdf", issued), {"paper": "letter"}) for _ in range(2))
    assert one.content == two.content and one.content.startswith(b"%PDF-")
    assert one["Content-Disposition"] == 'attachment; filename="bulletin-2026-08-letter.pdf"'
    assert alice.get(_url("pdf", issued), {"paper": "a5"}).status_code == 404


def test_page_reads_kept_figures_however_the_counts_go_on(issued, cast, client_for, counted_north):
    alice = client_for(cast.alice)
    before = alice.get(_url("detail", issued)).content.decode()
    count(counted_north[0].colonies.first(), dt.date(2026, 8, 20), 60)
    refresh_marked(at=AT + DAY)
    after = alice.get(_url("detail", issued)).content.decode()
    cut = re.compile(r"<main.*</main>", re.S)
    assert cut.search(before)[0] == cut.search(after)[0]


def test_regions_lead_to_the_archive(august, cast, client_for):
    for person, page in ((cast.alice, "/regions/published/"), (cast.dana, "/regions/")):
        assert b'href="/bulletins/"' in client_for(person).get(page).content
