"""Sets a page of facts as a PDF. What people typed is data to the template and never becomes its text."""

import json
from collections.abc import Mapping
from enum import StrEnum
from pathlib import Path
from typing import Any

import typst
from django.conf import settings
from django.utils.translation import get_language

from apiaries.language import say


class Paper(StrEnum):
    """Sheets that the pages are laid out for, as the address names them."""

    A4 = "a4"
    LETTER = "letter"


TYPST_PAPER = {Paper.A4: "a4", Paper.LETTER: "us-letter"}


def set_pdf(template: Path, data: Mapping[str, Any], *, paper: Paper) -> bytes:
    """The template set with the data, the same bytes for the same data.

    Only the fonts that come with the setter are used, no network, and no clock: what the sheet says of the time is
    in the data. The template reads `json(bytes(sys.inputs.data))`; strings from there are text, whatever they hold.
    `page.typ` reads the reader's language, and in it the words of the page number.
    """
    language, _, region = (get_language() or settings.LANGUAGE_CODE).partition("-")
    inputs = {
        "data": json.dumps(data, ensure_ascii=False),
        "paper": TYPST_PAPER[paper],
        "language": language,
        "region": region,
        "pages": say("Page {page} of {pages}"),
    }
    made: bytes = typst.compile(
        template,
        root=settings.BASE_DIR,
        sys_inputs=inputs,
        format="pdf",
        ignore_system_fonts=True,
        pdf_standards=["ua-1"],
        timestamp=0,
    )
    return made
