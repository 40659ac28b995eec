"""Method cards: a page for each way to count, and no sentence on it without its source or its mark."""

from typing import Any

import pytest
from django.urls import reverse

from apiaries.paper import Paper
from counts.method_cards import PARTS, UNSOURCED, cards_data, method_cards_pdf
from counts.reference import rows_of
from counts.samples import Method
from tests.printed import SIZES, pages_of, says_all, size_of, stays_on_paper, words_of


@pytest.mark.parametrize("paper", list(Paper))
def test_every_method_has_its_card_on_one_page(paper: Paper) -> None:
    made = method_cards_pdf(list(Method), paper=paper)
    data = cards_data(list(Method))
    lines = [line for card in data["cards"] for part in card["parts"] for line in part["lines"]]
    shown = [{key: card[key] for key in ("title", "sources", "marks")} for card in data["cards"]]

    assert len(pages_of(made)) == len(Method)
    assert says_all(made, [shown, [line["words"] for line in lines]]) == []
    assert size_of(made) == pytest.approx(SIZES[paper.value], abs=1)
    assert stays_on_paper(made)


@pytest.mark.parametrize("card", cards_data(list(Method))["cards"], ids=lambda card: card["title"])
def test_card_has_all_parts_and_each_line_a_source_or_a_mark(card: Any) -> None:
    assert [part["key"] for part in card["parts"]] == list(PARTS)
    named = {line.split(":")[0] for line in card["sources"]}
    marks = {mark for part in card["parts"] for line in part["lines"] for mark in line["mark"].split(",")}

    assert marks <= named | set(UNSOURCED.values())
    assert named <= marks, "a source that no line rests on"


def test_remembered_line_is_marked_so_and_not_as_published() -> None:
    (gas,) = (one for one in cards_data([Method.CO2])["cards"])
    remembered = {row["sentence"] for row in rows_of("method_cards.csv") if row["mark"] == "from memory"}
    marks = {line["words"]: line["mark"] for part in gas["parts"] for line in part["lines"]}

    assert {words for words, mark in marks.items() if mark == "m"} == remembered & marks.keys() != set()


def test_anybody_prints_them_and_one_card_alone(client_for: Any, db: None) -> None:
    url = reverse("counts:method-cards-pdf")
    stranger = client_for(None)

    made = stranger.get(url, {"method": "sugar_roll", "paper": "letter"}).content

    assert len(pages_of(made)) == 1 and "Sugar roll" in words_of(made)
    assert stranger.get(url, {"method": "guess"}).status_code == 404
    assert stranger.get(url, {"paper": "a5"}).status_code == 404
