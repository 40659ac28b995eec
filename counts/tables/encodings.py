"""Which encoding a file of text is in. Pure.

A mark at the start decides; else UTF-16 shows by its zeros and UTF-8 by being valid. What is left are the encodings
of one byte, where a machine can only ask which one gives words: short sheets with five umlauts are too little for
statistics of whole languages, so for Western ones the letters themselves are judged.
"""

from __future__ import annotations

import codecs
import re
from typing import BinaryIO

from charset_normalizer import from_bytes

from counts.tables.refusals import Refused, Why

_BOMS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_PIECE = 256 * 1024
_SAMPLE = 64 * 1024
_ZEROS = 0.6  # of every other byte: plain letters in UTF-16 have one zero each

ONE_BYTE = ("cp1252", "mac-roman", "cp850", "cp1250", "latin-1")
"""In this order where two fit equally well: cp1252 is what spreadsheet programs in Western Europe write as CSV."""
_FURTHER = (
    "cp1250",
    "cp1251",
    "cp1253",
    "cp1254",
    "cp1257",
    "koi8-r",
    "cp852",
    "cp866",
    "iso8859-2",
    "iso8859-7",
)
"""Of other languages, told apart by statistics."""
_SURE = 0.9  # German, French, Spanish and Danish words reach 1 to 2 in the right encoding
_WESTERN = frozenset("äöüßéèêëàáâãåæçíìîïñóòôõøœúùûÿÄÖÜÉÈÊÀÁÂÃÅÆÇÍÌÎÑÓÒÔÕØŒÚÙÛ")
_SIGNS = frozenset("°–—„“”‚‘’«»½¼¾€£±²³µ·…×§\xa0¿¡ªº")
_LAST_LATIN = "\u024f"
_OTHER = re.compile(r"[^\x00-\x7f]")


def encoding_of(file: BinaryIO) -> str:
    """A name that Python decodes the whole file by. Reads it from the start. Errors: Refused NOT_A_SHEET."""
    file.seek(0)
    start = file.read(4096)
    if mark := next((name for bom, name in _BOMS if start.startswith(bom)), None):
        return mark
    for name, zeros in (("utf-16-le", start[1::2]), ("utf-16-be", start[::2])):
        if zeros and zeros.count(0) > _ZEROS * len(zeros):
            return name
    if b"\0" in start:
        raise Refused(Why.NOT_A_SHEET)
    sample = _odd_lines(file)
    return "utf-8" if sample is None else likeliest(sample)


def _odd_lines(file: BinaryIO) -> bytes | None:
    """Lines with other bytes than ASCII, some of them; None if all is valid UTF-8."""
    file.seek(0)
    decoder = codecs.getincrementaldecoder("utf-8")()
    valid, sample, rest = True, bytearray(), b""
    while piece := file.read(_PIECE):
        try:
            valid = valid and decoder.decode(piece) is not None
        except UnicodeDecodeError:
            valid = False
        *lines, rest = re.split(rb"[\r\n]", rest[-_SAMPLE:] + piece)
        for line in lines if len(sample) < _SAMPLE and not piece.isascii() else ():
            if not line.isascii() and len(sample) < _SAMPLE:
                sample += line + b"\n"
    sample += b"" if rest.isascii() else rest
    try:
        decoder.decode(b"", True)
    except UnicodeDecodeError:
        valid = False
    return None if valid else bytes(sample[: 2 * _SAMPLE])


def likeliest(sample: bytes) -> str:
    """The encoding of one byte that reads best; that of another script where no Western one makes words."""
    scores = {name: _words(sample, name) for name in ONE_BYTE}
    best = max(scores, key=lambda name: scores[name])  # the first of equals
    if scores[best] < _SURE:
        other = from_bytes(sample, cp_isolation=list(_FURTHER)).best()
        return other.encoding if other is not None else best
    return best


def _words(sample: bytes, encoding: str) -> float:
    """From -4 to 2: whether the letters beyond ASCII stand where letters of words stand."""
    try:
        text = sample.decode(encoding)
    except UnicodeDecodeError:
        return -5
    marks = [_fits(text, found.start()) for found in _OTHER.finditer(text)]
    return sum(marks) / len(marks) if marks else 0


def _fits(text: str, at: int) -> int:
    letter = text[at]
    before, after = text[max(at - 1, 0) : at] or " ", text[at + 1 : at + 2] or " "
    within = before.isalpha() and after.isalpha()
    if not letter.isalpha():
        return 1 if letter in _SIGNS and (not within or letter == "’") else -2
    if letter > _LAST_LATIN:
        return -2
    worth = 2 if letter in _WESTERN else 1
    if letter.isupper() and before.isalpha() and (before.islower() or after.islower()):
        return -2  # a capital within a word
    # Two such letters together are rare in languages of Latin script, three are hardly ever seen.
    return worth - (0, 1, 4)[sum(1 for one in (before, after) if one.isalpha() and not one.isascii())]
