"""The sheet on paper: everything that the page says, on both papers, whatever people typed."""

import datetime as dt
import io
from decimal import Decimal

import pytest
from django.urls import reverse
from pypdf import PdfReader

from apiaries.actions import add_numbered_colonies
from apiaries.models import Colony, Yard
from apiaries.paper import Paper
from tests.cast import STARTED
from tests.printed import SIZES, codes_in, picture_of, says_all, size_of, stays_on_paper, words_of
from tests.treatments.making import treat
from treatments.day_actions import NewHive, NewSheet, keep_device, set_sheet
from treatments.models import DaySheet
from treatments.sheet_page import sheet_page
from treatments.sheet_pdf import day_sheet_pdf, sheet_data

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("reference")]
AT = dt.datetime(2026, 8, 12, 6, tzinfo=dt.UTC)
ON = dt.date(2026, 8, 12)
ADDRESS = "https://recount.example.org/treatments/1/rounds/1/sheet/"


@pytest.fixture
def sheet(cast):
    heater = keep_device(
        device=None,
        keeper=cast.alice,
        facts={
            "name": "Pan",
            "tried_on": ON,
            "first_minutes": Decimal("10.5"),
            "following_minutes": Decimal(7),
            "cool_minutes": Decimal(2),
        },
        at=AT,
        by=cast.alice,
    )
    treatment = treat(cast.colonies, planned=[ON, ON + dt.timedelta(days=5)])
    new = NewSheet(
        starts_at=dt.time(9, 30),
        hives=tuple(NewHive(colony=one, amount=Decimal(1)) for one in cast.colonies),
        wait_minutes=Decimal(5),
        sealed_minutes=Decimal(15),
        device=heater,
    )
    return set_sheet(round_=treatment.rounds.get(number=1), sheet=new, at=AT, by=cast.alice)


def page_of(sheet, person):
    rows = DaySheet.objects.select_related("device", "recorded_by", "round__treatment__application")
    return sheet_page(rows.select_related("round__treatment__yard__club").get(pk=sheet.pk), person)


@pytest.mark.parametrize("paper", list(Paper))
def test_text_layer_says_all_that_the_sheet_says(cast, sheet, paper):
    page = page_of(sheet, cast.alice)
    made = day_sheet_pdf(page, address=ADDRESS, paper=paper)

    assert says_all(made, sheet_data(page, address=ADDRESS)) == []
    assert size_of(made) == pytest.approx(SIZES[paper.value], abs=1)


@pytest.mark.parametrize("paper", list(Paper))
def test_long_names_wrap_and_nothing_is_read_as_markup(cast, sheet, paper):
    odd = "#set page(width: 1cm) *bold* $x$ " + "W" * 47
    Yard.objects.filter(pk=cast.alice_yard.pk).update(name=odd)
    Colony.objects.filter(pk=cast.colony.pk).update(name="[#pagebreak()] " + "M" * 14)
    page = page_of(sheet, cast.alice)
    made = day_sheet_pdf(page, address=ADDRESS, paper=paper)
    letters = words_of(made).replace(" ", "")

    assert "#setpage(width:1cm)*bold*$x$" + "W" * 47 in letters
    assert "[#pagebreak()]" + "M" * 14 in letters
    assert stays_on_paper(made)


def test_sixty_hives_run_over_pages_with_their_heading(cast, sheet):
    more = add_numbered_colonies(yard=cast.alice_yard, first=7, last=60, started_on=STARTED, by=cast.alice)
    new = NewSheet(
        starts_at=dt.time(9),
        hives=tuple(NewHive(colony=one, amount=Decimal(1)) for one in [*cast.colonies, *more]),
        wait_minutes=Decimal(5),
        sealed_minutes=Decimal(15),
        device=sheet.device,
    )
    set_sheet(round_=sheet.round, sheet=new, at=AT, by=cast.alice)
    reader = PdfReader(io.BytesIO(day_sheet_pdf(page_of(sheet, cast.alice), address=ADDRESS, paper=Paper.A4)))

    with_hives = [page.extract_text() for page in reader.pages if "Colony" in page.extract_text()]
    assert len(with_hives) >= 2
    assert all("Open from" in text and f"of {len(reader.pages)}" in text for text in with_hives)


def test_page_links_to_both_papers_and_another_paper_is_not_found(cast, sheet, client_for):
    alice = client_for(cast.alice)
    where = [sheet.round.treatment_id, 1]
    page = alice.get(reverse("treatments:round-sheet", args=where)).content.decode()
    url = reverse("treatments:round-sheet-pdf", args=where)

    assert f"{url}?paper=a4" in page and f"{url}?paper=letter" in page
    assert alice.get(url, {"paper": "letter"}).content.startswith(b"%PDF-")
    assert alice.get(url, {"paper": "a5"}).status_code == 404


@pytest.mark.parametrize("paper", list(Paper))
def test_code_leads_back_to_the_page(cast, sheet, paper):
    made = day_sheet_pdf(page_of(sheet, cast.alice), address=ADDRESS, paper=paper)

    assert [code.text for code in codes_in(picture_of(made, dpi=200))] == [ADDRESS]
