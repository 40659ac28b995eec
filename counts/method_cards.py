"""One card for each way to count, for wet gloves: kit, queen, steps, what to write down, cautions, and the sources."""

from collections.abc import Sequence
from itertools import groupby
from pathlib import Path
from typing import Any

from apiaries.paper import Paper, set_pdf
from counts.models import METHOD_WORDS
from counts.reference import rows_of
from counts.samples import Method

TEMPLATE = Path(__file__).resolve().parent / "sheets" / "method_cards.typ"
PARTS = {
    "kit": "What you need",
    "queen": "The queen",
    "steps": "How to do it",
    "write": "Write down",
    "cautions": "Take care",
}
UNSOURCED = {"common practice, no source": "p", "from memory": "m"}
"""Marks of lines that nobody published, as the card shows them."""
FOOT = "p: common practice, no source. m: from memory."
DECIDES = "Local rules, and the label of what you use, come first. Cards of Recount; copy and hand them out."


def method_cards_pdf(methods: Sequence[Method], *, paper: Paper) -> bytes:
    """The cards of these methods, each on a page of its own."""
    return set_pdf(TEMPLATE, cards_data(methods), paper=paper)


def cards_data(methods: Sequence[Method]) -> dict[str, Any]:
    """What the template is given."""
    rows = rows_of("method_cards.csv")
    cards = [_card(method, [row for row in rows if row["card"] == method.value]) for method in methods]
    return {"title": "Method cards", "foot": DECIDES, "cards": cards}


def _card(method: Method, rows: list[dict[str, str]]) -> dict[str, Any]:
    sources: list[str] = []

    def mark(row: dict[str, str]) -> str:
        if row["source"] in UNSOURCED:
            return UNSOURCED[row["source"]]
        places = []
        for source in row["source"].split(" | "):
            if source not in sources:
                sources.append(source)
            places.append(str(sources.index(source) + 1))
        return ",".join(places)

    parts = [
        {
            "key": part,
            "title": PARTS[part],
            "lines": [{"words": row["sentence"], "mark": mark(row)} for row in lines],
        }
        for part, lines in groupby(rows, key=lambda row: row["part"])
    ]
    words = METHOD_WORDS[method]
    return {
        "title": words[0].upper() + words[1:],
        "parts": parts,
        "sources": [f"{at}: {source}." for at, source in enumerate(sources, start=1)],
        "marks": FOOT,
    }
