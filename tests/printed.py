"""PDFs as others see them: words as a reader extracts them, pages as a printer draws them, codes as a phone reads."""

import io
from typing import Any

import pypdfium2
import zxingcpp
from pypdf import PdfReader

INCH = 72
SIZES = {"a4": (595.3, 841.9), "letter": (8.5 * INCH, 11 * INCH)}
"""Points."""


def words_of(made: bytes) -> str:
    """All words, in the order of the file; where a long one may break is no space."""
    text = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(made)).pages)
    return " ".join(text.replace("\u200b", "").split())


def pages_of(made: bytes) -> list[Any]:
    return list(PdfReader(io.BytesIO(made)).pages)


def size_of(made: bytes) -> tuple[float, float]:
    """Width and height of the first page in points."""
    box = pages_of(made)[0].mediabox
    return float(box.width), float(box.height)


def picture_of(made: bytes, *, dpi: int, page: int = 0) -> Any:
    """A page drawn at print size, as an array of grey levels."""
    document = pypdfium2.PdfDocument(made)
    try:
        bitmap = document[page].render(scale=dpi / INCH, grayscale=True)
        drawn = bitmap.to_numpy().copy().squeeze()
        bitmap.close()
    finally:
        document.close()
    return drawn


def codes_in(picture: Any) -> list[Any]:
    """The QR codes that the decoder finds, from left to right in rows from top to bottom."""
    found = [one for one in zxingcpp.read_barcodes(picture) if one.valid]
    return sorted(found, key=lambda one: (round(one.position.top_left.y, -2), one.position.top_left.x))


def stays_on_paper(made: bytes) -> bool:
    """Whether all text begins on its page."""
    for page in pages_of(made):
        seen: list[tuple[float, float, str]] = []
        page.extract_text(
            visitor_text=lambda text, cm, tm, font, size, to=seen: to.append((tm[4], tm[5], text))
        )
        box = page.mediabox
        if not all(0 <= x < float(box.width) for x, _, text in seen if text.strip()):
            return False
    return True


def everything(value: Any) -> list[str]:
    """All texts that a sheet is given to print, its codes left out."""
    if isinstance(value, dict):
        return [one for key, part in value.items() if not key.startswith("qr") for one in everything(part)]
    if isinstance(value, list | tuple):
        return [one for part in value for one in everything(part)]
    return [value] if isinstance(value, str) else []


def says_all(made: bytes, data: Any) -> list[str]:
    """Texts of the data that the PDF does not say; spaces do not count."""
    letters = "".join(words_of(made).split())
    return [words for words in everything(data) if "".join(words.split()) not in letters]
