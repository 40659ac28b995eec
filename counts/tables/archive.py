"""Whether a packed workbook may be unpacked: looked at before anything in it is used. Pure.

The sizes are those that the archive declares; unpacking stops there, so a false one harms nobody. Entities that unfold
for ever, or that fetch files, can be declared only before the first element of a part (XML 1.0, production 22), so
defusedxml reads each part up to there; the rest is left to the parser in C, which is several times as fast.
"""

from __future__ import annotations

from typing import BinaryIO
from xml.etree.ElementTree import ParseError
from zipfile import BadZipFile, ZipFile
from zlib import error as ZlibError

from defusedxml.common import DefusedXmlException
from defusedxml.ElementTree import iterparse

from counts.tables.limits import MB, MOST_ENTRIES, MOST_RATIO, MOST_UNPACKED
from counts.tables.refusals import Refused, Why

_WORKBOOK = "xl/workbook.xml"
_XML = (".xml", ".rels", ".vml")
_NOT_XML = (
    BadZipFile,
    EOFError,
    LookupError,
    NotImplementedError,
    OSError,
    ParseError,
    ValueError,
    ZlibError,
)
_LOCKED = 0x1  # bit of an entry's flags: encrypted


def check_archive(file: BinaryIO) -> None:
    """Errors: Refused DAMAGED, PARTS, UNFOLDS, PASSWORD, or OTHER_WORKBOOK for an archive of something else."""
    try:
        with ZipFile(file) as archive:
            entries = archive.infolist()
    except (BadZipFile, NotImplementedError, ValueError, OverflowError) as error:
        raise Refused(Why.DAMAGED) from error
    if len(entries) > MOST_ENTRIES:
        raise Refused(Why.PARTS, parts=len(entries), most=MOST_ENTRIES)
    size = sum(entry.file_size for entry in entries)
    folded = any(
        entry.file_size > MB and entry.file_size > MOST_RATIO * entry.compress_size for entry in entries
    )
    if size > MOST_UNPACKED or folded:
        raise Refused(Why.UNFOLDS, size=-(-size // MB), most=MOST_UNPACKED // MB)
    if any(entry.flag_bits & _LOCKED for entry in entries):
        raise Refused(Why.PASSWORD)
    if _WORKBOOK not in {entry.filename.lower() for entry in entries}:
        raise Refused(Why.OTHER_WORKBOOK)


def refuse_declarations(file: BinaryIO) -> None:
    """Errors: Refused ENTITIES where a part declares anything; DAMAGED where it is not XML."""
    try:
        with ZipFile(file) as archive:
            for name in archive.namelist():
                if name.lower().endswith(_XML):
                    with archive.open(name) as part:
                        next(iter(iterparse(part, events=("start",), forbid_dtd=True)))
    except DefusedXmlException as error:
        raise Refused(Why.ENTITIES) from error
    except (*_NOT_XML, StopIteration) as error:
        raise Refused(Why.DAMAGED) from error
