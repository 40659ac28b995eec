"""The yard sheet on paper, and the way back: the rows on the page stand in the order of the sheet."""

import datetime as dt
import re
from typing import Any

import pytest
import time_machine
from django.http import QueryDict
from django.urls import reverse

from apiaries.actions import add_numbered_colonies, add_yard, end_colony
from apiaries.models import Colony, Yard
from apiaries.paper import Paper
from counts.planning import plan_of
from counts.sheet_order import SheetNumber, read_sheet_number
from counts.yard_sheet import Planned, yard_sheets_data, yard_sheets_pdf
from tests.cast import STARTED
from tests.printed import SIZES, codes_in, pages_of, picture_of, says_all, size_of, stays_on_paper, words_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("reference")]
NOON = dt.datetime(2026, 8, 12, 12, tzinfo=dt.UTC)
ON = dt.date(2026, 8, 12)
NUMBER = SheetNumber(ON, 0, 8)


@pytest.fixture(autouse=True)
def _clock() -> Any:
    with time_machine.travel(NOON, tick=False):
        yield


@pytest.fixture
def yard(cast: Any) -> Yard:
    """Alice's, with 24 colonies."""
    add_numbered_colonies(yard=cast.alice_yard, first=7, last=24, started_on=STARTED, by=cast.alice)
    return cast.alice_yard


def planned(yard: Yard, asked: str = "") -> Planned:
    plan = plan_of(yard, on=ON, asked=QueryDict(asked))
    return Planned(yard, plan, SheetNumber(ON, plan["draw"], plan["k"]), "https://recount.example.org/x/")


def rows_of(page: Any) -> list[str]:
    return [row.colony.name for row in page.context["formset"]]


def listed(client: Any, yard: Yard, **asked: Any) -> list[str]:
    """Chosen and spares, as the page *Which colonies to sample* lists them."""
    page = client.get(reverse("counts:sampling-plan", args=[yard.pk]), asked).content.decode()
    return re.findall(r'<th scope="row">Colony (\w+)</th>', page)


@pytest.mark.parametrize("paper", list(Paper))
def test_sheet_says_all_on_one_page(yard: Yard, paper: Paper) -> None:
    made = yard_sheets_pdf([planned(yard)], paper=paper)

    assert says_all(made, yard_sheets_data([planned(yard)], paper=paper)) == []
    assert len(pages_of(made)) == 1
    assert size_of(made) == pytest.approx(SIZES[paper.value], abs=1)
    assert "8 of 24 colonies" in words_of(made) and "Sheet 20260812-0-8" in words_of(made)


@pytest.mark.parametrize("paper", list(Paper))
def test_long_names_wrap_and_nothing_is_read_as_markup(cast: Any, yard: Yard, paper: Paper) -> None:
    odd = "#set page(width: 1cm) *bold* $x$ " + "W" * 47
    Yard.objects.filter(pk=yard.pk).update(name=odd)
    Colony.objects.filter(pk=cast.colony.pk).update(name="[#pagebreak()] " + "M" * 14)
    yard.refresh_from_db()
    made = yard_sheets_pdf([planned(yard, "k=24")], paper=paper)

    assert says_all(made, yard_sheets_data([planned(yard, "k=24")], paper=paper)) == []
    assert stays_on_paper(made)


def test_forty_colonies_run_over_pages_with_their_heading(cast: Any, yard: Yard) -> None:
    add_numbered_colonies(yard=yard, first=25, last=60, started_on=STARTED, by=cast.alice)
    pages = pages_of(yard_sheets_pdf([planned(yard, "k=40")], paper=Paper.LETTER))

    assert len(pages) >= 2
    assert all("Order" in page.extract_text() for page in pages[:-1])


def test_code_leads_to_the_rows_in_the_order_of_the_sheet(yard: Yard, cast: Any, client_for: Any) -> None:
    alice = client_for(cast.alice)
    answer = alice.get(reverse("counts:yard-sheet-pdf", args=[yard.pk]), {"k": "5", "draw": "3"})

    (code,) = codes_in(picture_of(answer.content, dpi=200))

    assert code.text == f"http://testserver{reverse('counts:yard-count', args=[yard.pk])}?sheet=20260812-3-5"
    page = alice.get(code.text.removeprefix("http://testserver"))
    order = listed(alice, yard, k="5", draw="3")
    assert len(order) == 8
    assert rows_of(page)[:8] == order
    # The others follow by name, and nobody is listed twice.
    rest = [str(number) for number in range(1, 25) if str(number) not in order]
    assert rows_of(page)[8:] == rest
    assert "sheet 20260812-3-5" in page.content.decode()


def test_order_holds_though_colonies_came_and_went_since(yard: Yard, cast: Any, client_for: Any) -> None:
    alice = client_for(cast.alice)
    order = listed(alice, yard)
    add_numbered_colonies(yard=yard, first=25, last=60, started_on=dt.date(2026, 8, 13), by=cast.alice)
    gone = yard.colonies.get(name=order[2])
    end_colony(colony=gone, ended_on=dt.date(2026, 8, 14), why="died out", by=cast.alice)

    page = alice.get(reverse("counts:yard-count", args=[yard.pk]), {"sheet": str(NUMBER)})

    assert rows_of(page)[:10] == [name for name in order if name != order[2]]
    assert len(rows_of(page)) == 59


def test_counts_typed_in_from_a_sheet_go_to_their_colonies(yard: Yard, cast: Any, client_for: Any) -> None:
    alice = client_for(cast.alice)
    url = f"{reverse('counts:yard-count', args=[yard.pk])}?sheet={NUMBER}"
    page = alice.get(url)
    first = page.context["formset"][0].colony
    typed = {
        "entry_key": page.context["form"]["entry_key"].value(),
        "method": "alcohol_wash",
        "bees_how": "half_cup",
        "sampled_on": "today",
        "brood": "unknown",
        f"c{first.pk}-mites": "4",
    }

    assert alice.post(url, typed | {"method": ""}).context["formset"][0].colony == first
    assert alice.post(url, typed).status_code == 302
    assert first.samples.get().mites == 4


@pytest.mark.parametrize("text", ["", "8", "20261345-0-8", "20260812", "٢٠٢٦٠٨١٢-0-8", "20260812-0-8; drop"])
def test_what_is_no_number_of_a_sheet_is_none(text: str) -> None:
    assert read_sheet_number(text) is None


def test_number_is_read_as_it_is_printed() -> None:
    assert read_sheet_number(f" {NUMBER} ") == NUMBER == read_sheet_number("20260812 0 8")


def test_page_says_that_a_number_cannot_be_read(cast: Any, client_for: Any) -> None:
    url = reverse("counts:yard-count", args=[cast.alice_yard.pk])
    page = client_for(cast.alice).get(url, {"sheet": "yard 3"})

    assert "no number of a yard sheet" in page.content.decode()
    assert rows_of(page) == ["1", "2", "3", "4", "5", "6"]


def test_sheets_of_all_yards_are_a_page_each(yard: Yard, cast: Any, client_for: Any) -> None:
    heath = add_yard(keeper=cast.alice, region=cast.north, name="Heath", by=cast.alice)
    add_yard(keeper=cast.alice, region=cast.north, name="Empty", by=cast.alice)
    add_numbered_colonies(yard=heath, first=1, last=3, started_on=STARTED, by=cast.alice)

    made = client_for(cast.alice).get(reverse("counts:yard-sheets-pdf")).content

    assert ["Heath" in page.extract_text() for page in pages_of(made)] == [True, False]
    assert "3 of 3 colonies" in words_of(made) and "Empty" not in words_of(made)


def test_other_paper_and_a_yard_without_colonies_are_not_found(cast: Any, client_for: Any) -> None:
    alice = client_for(cast.alice)
    url = reverse("counts:yard-sheet-pdf", args=[cast.alice_yard.pk])
    assert alice.get(url, {"paper": "a5"}).status_code == 404

    cast.alice_yard.colonies.update(ended_on=ON)
    assert alice.get(url).status_code == 404
