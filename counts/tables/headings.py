"""Which of the first rows holds the headings. Pure.

No meaning is looked for beyond a list of words that the asker knows: headings are short different texts that stand
over columns which are filled further down.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence

from counts.tables.shapes import Cell

Cells = Sequence[Cell]

_NUMBER_LIKE = re.compile(r"[\d\s.,:;/%+\-]*\d[\d\s.,:;/%+\-]*(T[\d:.]+)?")
_LONGEST = 80  # characters; a longer text is a remark
_TEXTS = 0.5  # share of the cells that must be text: of a row of counts, fewer are
_OF_BEST = 0.6  # a title above may have two cells, but not nearly as many as the headings


def plain(text: str) -> str:
    """A heading as it is compared: small letters, digits and one blank between words."""
    return " ".join(re.findall(r"[^\W_]+|[#%/]", text.casefold()))


def heading_index(
    rows: Sequence[Cells], known: Collection[str] = (), *, among: int | None = None
) -> int | None:
    """The place of the heading row among the first rows of a table; None if none looks like one.

    Only the first `among` of these rows can be it (all, if None); the others show what stands below.

    The row with the most known words is it, if it has two of them; else the first that has nearly as many headings as
    any. `known`: headings as `plain` gives them.
    """
    if not rows[:among]:
        return None
    candidates = rows[:among]
    hits = [known_headings(cells, known) for cells in candidates]
    if max(hits) >= 2:
        return hits.index(max(hits))
    scores = [_score(cells, rows[at + 1 :]) for at, cells in enumerate(candidates)]
    enough = max(2.0, _OF_BEST * max(scores))
    return next((at for at, score in enumerate(scores) if score >= enough), None)


def known_headings(cells: Cells, known: Collection[str]) -> int:
    """How many different known headings stand in this row."""
    return len({plain(cell) for cell in cells if cell} & set(known))


def _score(cells: Cells, below: Sequence[Cells]) -> int:
    """How many headings this row has, if it is one of headings."""
    filled = [(at, cell) for at, cell in enumerate(cells) if cell]
    texts = {plain(cell): at for at, cell in filled if _is_heading(cell)}
    if len(texts) < _TEXTS * len(filled):
        return 0
    under: dict[int, set[str]] = {}
    for row in below:
        for at, cell in enumerate(row):
            if cell:
                under.setdefault(at, set()).add(plain(cell))
    # A text that stands once more in its column is no heading; one over an empty column may be part of a title.
    here = sum(1 for text, at in texts.items() if at in under and text not in under[at])
    return here if below else min(len(texts), 2)  # a table without rows is possible, but less likely


def _is_heading(cell: str) -> bool:
    return len(cell) <= _LONGEST and not _NUMBER_LIKE.fullmatch(cell)
