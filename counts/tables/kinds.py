"""What kind of file it is, by its first bytes and never by its name. Pure."""

from __future__ import annotations

import re
from typing import BinaryIO

from counts.tables.limits import MB, MOST_CSV_BYTES, MOST_XLSX_BYTES
from counts.tables.refusals import Refused, Why
from counts.tables.shapes import Kind

_PACKED = (b"PK\x03\x04", b"PK\x05\x06", b"PK\x07\x08")
_COMPOUND = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_LOCKED = "EncryptedPackage".encode("utf-16-le")  # the part of a compound file that holds a locked workbook
_OLD = (b"\x09\x08", b"\x09\x04", b"\x09\x02", b"\x09\x00")  # workbooks from before compound files
_OTHERS = (
    b"%PDF",
    b"{\\rtf",
    b"\x89PNG",
    b"\xff\xd8\xff",
    b"GIF8",
    b"\x1f\x8b",
    b"7z\xbc\xaf",
    b"Rar!",
    b"BZh",
)
_MARKED_UP = re.compile(rb"\s*<(?:!doctype|html|table|\?xml|\?mso|workbook|meta)", re.IGNORECASE)
_BLANK = b"\0\t\r\n \xef\xbb\xbf\xff\xfe\x1a"


def kind_of(file: BinaryIO) -> Kind:
    """What the file may be. Errors: Refused EMPTY, TOO_BIG, OLD_WORKBOOK, OTHER_WORKBOOK, PASSWORD, NOT_A_SHEET."""
    size = file.seek(0, 2)
    file.seek(0)
    start = file.read(4096)
    kind: Kind = "xlsx" if start.startswith(_PACKED) else "csv"
    most = MOST_XLSX_BYTES if kind == "xlsx" else MOST_CSV_BYTES
    if size > most:
        raise Refused(Why.TOO_BIG, size=-(-size // MB), most=most // MB)
    if start.startswith(_COMPOUND):
        raise Refused(Why.PASSWORD if _LOCKED in start + file.read() else Why.OLD_WORKBOOK)
    if start.startswith(_OLD) and b"\0" in start:
        raise Refused(Why.OLD_WORKBOOK)
    if start.startswith(_OTHERS):
        raise Refused(Why.NOT_A_SHEET)
    if _MARKED_UP.match(start.removeprefix(b"\xef\xbb\xbf")):
        raise Refused(Why.OTHER_WORKBOOK)  # pages and XML that some programs write as "XLS"
    if not start.strip(_BLANK) and _is_blank(file):
        raise Refused(Why.EMPTY)
    return kind


def _is_blank(file: BinaryIO) -> bool:
    return not any(piece.strip(_BLANK) for piece in iter(lambda: file.read(MB), b""))
