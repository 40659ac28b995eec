"""Addresses as QR codes after ISO/IEC 18004."""

import io

import segno

QUIET = 4
"""Light modules round a code: ISO/IEC 18004 asks for four."""


def code_svg(address: str, *, error: str) -> str:
    """The code as an SVG text, its quiet zone included. `error`: "m" on paper in hand, "q" where it gets dirty."""
    file = io.BytesIO()
    segno.make(address, error=error, micro=False).save(file, kind="svg", scale=4, border=QUIET, xmldecl=False)
    return file.getvalue().decode()
