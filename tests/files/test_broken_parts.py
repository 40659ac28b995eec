"""Workbooks whose parts are spoilt at random: an answer or a refusal, never anything else."""

import datetime as dt
import io
import random
import re
import zipfile

import pytest

from counts.tables import Choices
from counts.tables.refusals import Refused
from counts.tables.spool import Writer
from counts.tables.workbook import read_workbook
from tests.files.making import HEADINGS, book, packed, part_of, with_texts

VALUES = (
    b"0",
    b"-1",
    b"99999999999",
    b"",
    b"\xff",
    b"&amp;",
    b"<",
    b">",
    b"1e400",
    b"nan",
    b"s",
    b"d",
    b"b",
    b"e",
    b"/",
)
WITHIN = re.compile(rb'(?<=")[^"<>]*(?=")|(?<=>)[^<>]+(?=<)')  # values of attributes, and texts
SPOILT = 80


def whole() -> list[dict[str, bytes]]:
    """Parts of two workbooks, with dates, formulas, merged cells, two sheets, and shared texts."""
    made = book(("Home", 1, dt.date(2026, 8, 12), "board", 2.5, "=A1"))
    made.active.merge_cells("A2:A3")
    made.create_sheet("two").append(HEADINGS)
    data = (packed(made), with_texts([b"<si><t>Home</t></si>"]))
    return [
        {name: part_of(one, name) for name in zipfile.ZipFile(io.BytesIO(one)).namelist()} for one in data
    ]


def spoilt(part: bytes, chance: random.Random) -> bytes:
    """The part with a value exchanged, a byte changed, or a piece lost or doubled."""
    at = chance.randrange(len(part))
    piece = part[at : at + chance.randrange(1, 40)]
    found = [one.span() for one in WITHIN.finditer(part)]
    way = chance.choice(("value", "value", "byte", "lost", "doubled"))
    if way == "value" and found:
        start, end = chance.choice(found)
        return part[:start] + chance.choice(VALUES) + part[end:]
    if way == "byte":
        return part[:at] + chance.randbytes(1) + part[at + 1 :]
    return part[:at] + (piece * 2 if way == "doubled" else b"") + part[at + len(piece) :]


@pytest.mark.parametrize("seed", range(3))
def test_spoilt_workbook_is_read_or_refused(seed: int) -> None:
    chance, books, read = random.Random(seed), whole(), 0
    for _ in range(SPOILT):
        parts = dict(chance.choice(books))
        for name in chance.choices(list(parts), k=chance.choice((1, 1, 3))):
            parts[name] = spoilt(parts[name], chance)
        file = io.BytesIO()
        with zipfile.ZipFile(file, "w") as archive:
            for name, content in parts.items():
                archive.writestr(name, content)
        try:
            read += read_workbook(file, Choices(), set(), Writer(io.BytesIO())).row_count >= 0
        except Refused:
            continue

    assert 0 < read < SPOILT
