"""One card for each way to count, for wet gloves: kit, queen, steps, what to write down, cautions, and the sources."""

from collections.abc import Sequence
from itertools import groupby
from pathlib import Path
from typing import Any

from apiaries.language import mark, say
from apiaries.paper import Paper, set_pdf
from counts.models import METHOD_WORDS
from counts.reference import rows_of
from counts.samples import Method

TEMPLATE = Path(__file__).resolve().parent / "sheets" / "method_cards.typ"
PARTS = {
    "kit": mark("What you need"),
    "queen": mark("The queen"),
    "steps": mark("How to do it"),
    "write": mark("Write down"),
    "cautions": mark("Take care"),
}
UNSOURCED = {"common practice, no source": "p", "from memory": "m"}
"""Marks of lines that nobody published, as the card shows them."""
FOOT = mark("p: common practice, no source. m: from memory.")
DECIDES = mark(
    "Local rules, and the label of what you use, come first. Cards of Recount; copy and hand them out."
)
TO_FILL = (mark("Colony"), mark("Date"), mark("Mites"), mark("Bees or days"), mark("Remark"))


def method_cards_pdf(methods: Sequence[Method], *, paper: Paper) -> bytes:
    """The cards of these methods, each on a page of its own."""
    return set_pdf(TEMPLATE, cards_data(methods), paper=paper)


def cards_data(methods: Sequence[Method]) -> dict[str, Any]:
    """What the template is given."""
    rows = rows_of("method_cards.csv")
    cards = [_card(method, [row for row in rows if row["card"] == method.value]) for method in methods]
    return {
        "title": say("Method cards"),
        "foot": say(DECIDES),
        "cards": cards,
        "room": say("Room to write"),
        "columns": [say(column) for column in TO_FILL],
    }


def _card(method: Method, rows: list[dict[str, str]]) -> dict[str, Any]:
    sources: list[str] = []

    def where_from(row: dict[str, str]) -> str:
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
            "title": say(PARTS[part]),
            "lines": [{"words": say(row["sentence"]), "mark": where_from(row)} for row in lines],
        }
        for part, lines in groupby(rows, key=lambda row: row["part"])
    ]
    words = str(METHOD_WORDS[method])
    return {
        "title": words[0].upper() + words[1:],
        "parts": parts,
        "sources": [f"{at}: {source}." for at, source in enumerate(sources, start=1)],
        "marks": say(FOOT),
    }
