"""Sets a page of facts as a PDF. What people typed is data to the template and never becomes its text."""

import json
import re
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


LACKS = "could not be displayed"
NAMED = re.compile(r'the text `"(.*?)"` could not be displayed')
ESCAPED = re.compile(r"\\u\{([0-9a-f]+)\}")
IN_ITS_PLACE = "□"
FIRST_WHOLE_ROW = 0x2E80
"""From here on are the signs of East Asia and pictures: where one of 256 is lacking, so are the others."""
MOST_PROBES = 40
PROBE = b'#set document(title: "signs")\n#for sign in json(bytes(sys.inputs.data)) [#sign\n\n]'

TYPST_PAPER = {Paper.A4: "a4", Paper.LETTER: "us-letter"}


def set_pdf(template: Path, data: Mapping[str, Any], *, paper: Paper) -> bytes:
    """The template set with the data, the same bytes for the same data.

    Only the fonts that come with the setter are used, no network, and no clock: what the sheet says of the time is
    in the data. The template reads `json(bytes(sys.inputs.data))`; strings from there are text, whatever they hold.
    Signs that the fonts lack are shown as □, and the sheet says so. `page.typ` reads the reader's language, and in it
    the words of the page number.
    """
    language, _, region = (get_language() or settings.LANGUAGE_CODE).partition("-")
    inputs = {
        "paper": TYPST_PAPER[paper],
        "language": language,
        "region": region,
        "pages": say("Page {page} of {pages}"),
        "lacking": "",
    }
    try:
        return _set(template, inputs, data)
    except typst.TypstError as error:
        if LACKS not in str(error):
            raise
    # A name with a picture in it must not keep somebody from the record that the law asks for.
    lacking = _lacking(_signs_of(data))
    inputs["lacking"] = say("{sign} stands for a sign that these letters do not have.", sign=IN_ITS_PLACE)
    return _set(template, inputs, _without(data, str.maketrans(dict.fromkeys(lacking, IN_ITS_PLACE))))


def _set(template: Any, inputs: Mapping[str, str], data: Any) -> bytes:
    made: bytes = typst.compile(
        template,
        root=settings.BASE_DIR,
        sys_inputs={**inputs, "data": json.dumps(data, ensure_ascii=False)},
        format="pdf",
        ignore_system_fonts=True,
        pdf_standards=["ua-1"],
        timestamp=0,
    )
    return made


def _signs_of(data: Any) -> set[str]:
    """Of all texts in it, what is not a printable sign of ASCII."""
    if isinstance(data, str):
        return {sign for sign in data if not " " <= sign <= "~"}
    parts = data.values() if isinstance(data, Mapping) else data if isinstance(data, list | tuple) else ()
    return set[str]().union(*map(_signs_of, parts))


def _lacking(signs: set[str]) -> set[str]:
    """Those that no font of the setter has. It names one at a time, so those that stand beside it go with it."""
    lacking: set[str] = set()
    for _ in range(MOST_PROBES):
        rest = signs - lacking
        try:
            _set(PROBE, {}, sorted(rest))
        except typst.TypstError as error:
            named = NAMED.search(str(error))
            text = ESCAPED.sub(lambda found: chr(int(found[1], 16)), named[1]) if named else ""
            found = {sign for sign in rest if sign in text} or rest  # said in another way than is known here
            rows = {ord(sign) >> 8 for sign in found if ord(sign) >= FIRST_WHOLE_ROW}
            lacking |= found | {sign for sign in rest if ord(sign) >> 8 in rows}
        else:
            return lacking
    return signs  # more odd ones than any name or note has


def _without(data: Any, table: Mapping[int, str]) -> Any:
    if isinstance(data, str):
        return data.translate(table)
    if isinstance(data, Mapping):
        return {key: _without(value, table) for key, value in data.items()}
    if isinstance(data, list | tuple):
        return [_without(value, table) for value in data]
    return data
