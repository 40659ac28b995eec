"""The licence of every pinned package, as it says itself, and whether we may use it so.

.venv/bin/python -m tests.supply.licences     1 if one is not allowed
"""

import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from email.message import Message
from importlib.metadata import PackageNotFoundError, metadata

from tests.supply.audit import PINS, plain

ALLOWED = frozenset(
    {"0BSD", "Apache-2.0", "BSD", "BSD-2-Clause", "BSD-3-Clause", "CC0-1.0", "CNRI-Python"}
    | {"MIT", "MIT-0", "PSF-2.0", "ZPL-2.1", "Zlib"}
)
"""They ask for their text to be kept, and nothing of our own code (the reading is ours, not a lawyer's)."""

NAMES = {
    "MIT License": "MIT",
    "BSD License": "BSD",
    "New BSD": "BSD-3-Clause",
    "BSD 2-Clause License": "BSD-2-Clause",
    "BSD 3-Clause": "BSD-3-Clause",
    "2-clause BSD": "BSD-2-Clause",
    "Apache Software License": "Apache-2.0",
    "Apache": "Apache-2.0",
    "Apache 2.0": "Apache-2.0",
    "Apache License": "Apache-2.0",
    "Python Software Foundation License": "PSF-2.0",
    "PSFL": "PSF-2.0",
    "Mozilla Public License 2.0 (MPL 2.0)": "MPL-2.0",
}
"""Older words for them, as they stand in packages."""

_LIBRARY = (
    "Used as a library, unchanged, and can be exchanged for another build: what its licence asks of users."
)
_FILES = "Its licence reaches its own files, which stay unchanged."
EXCEPTIONS = {
    "axe-playwright-python": (
        "",
        "Says nothing in its metadata; its licence file is the MIT text. Tests only.",
    ),
    "bidict": ("MPL-2.0", f"{_FILES} Comes with a tool of development."),
    "certifi": ("MPL-2.0", _FILES),
    "djlint": (
        "GPL-3.0-or-later",
        "A program of its own in development; nothing of it is imported or handed on.",
    ),
    "fido2": (
        "BSD AND Apache-2.0 AND MPL-2.0",
        f"{_FILES} MPL-2.0: one list of domains in it (its COPYING).",
    ),
    "hypothesis": ("MPL-2.0", f"{_FILES} Tests only."),
    "pathspec": ("MPL-2.0", f"{_FILES} Development only."),
    "psycopg": ("LGPL-3.0-only", _LIBRARY),
    "psycopg-binary": ("LGPL-3.0-only", _LIBRARY),
    "psycopg-pool": ("LGPL-3.0-only", _LIBRARY),
    "pypdfium2": (
        "BSD-3-Clause, Apache-2.0, dependency licenses",
        "Ships a library with the licences of its parts beside it. Tests only.",
    ),
    "qrcode": (
        "BSD AND Other/Proprietary License",
        "Its licence file is a BSD text. Comes with a tool of development.",
    ),
}


@dataclass(frozen=True)
class Line:
    name: str
    says: str
    allowed: bool
    why: str = ""


def says(of: Message) -> str:
    """The licence in the package's own words, made alike; its expression first, then its classes, then its field."""
    if expression := of.get("License-Expression"):
        return str(expression)
    classes = [
        text.rpartition(" :: ")[2] for text in of.get_all("Classifier") or [] if text.startswith("License ::")
    ]
    named = [NAMES.get(one, one) for one in classes if one != "OSI Approved"]
    if named:
        return " AND ".join(named)
    field = (of.get("License") or "").strip().splitlines()
    return " OR ".join(NAMES.get(one, one) for one in field[0].split(" OR ")) if field else ""


def allowed(expression: str) -> bool:
    """Whether all that must be kept to, or one of what may be chosen from, is on the list."""
    bare = expression.replace("(", "").replace(")", "")
    return all(any(one in ALLOWED for one in re.split(r" OR ", part)) for part in re.split(r" AND ", bare))


def judge(name: str, of: Message) -> Line:
    """One package. An exception holds for the licence it was made for, and for no later one."""
    expression = says(of)
    made_for, why = EXCEPTIONS.get(plain(name), (None, ""))
    if made_for is not None:
        return Line(name, expression or "nothing", expression == made_for, why)
    return Line(name, expression or "nothing", allowed(expression))


def lines() -> Iterator[Line]:
    """Every pinned package that is installed."""
    for pin in PINS.read_text().splitlines():
        name = pin.partition("==")[0]
        if pin and pin[0] != "#":
            try:
                yield judge(name, metadata(name))
            except PackageNotFoundError:
                yield Line(name, "not installed here", False)


def main() -> int:
    wrong = [line for line in lines() if not line.allowed]
    for line in wrong:
        print(
            f"{line.name} says of its licence: {line.says}. Allow it in tests/supply/licences.py, with a reason."
        )
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
