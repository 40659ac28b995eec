"""Write the page of the OWASP ASVS from its levels and our answers.

.venv/bin/python docs/reference/make_asvs.py            writes the page
.venv/bin/python docs/reference/make_asvs.py --check    exits 1 if it is stale
"""

from __future__ import annotations

import sys
from collections import Counter
from pathlib import Path
from typing import NamedTuple

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE)]

from make_tables import run  # noqa: E402

LEVELS, ANSWERS = HERE / "asvs_levels.txt", HERE / "asvs_answers.txt"
STATUSES = {
    "met": "It is so, and the test or document named says it.",
    "in part": "What is missing stands in the line.",
    "installation": "Whoever runs it sees to it; our documents say how, and the service helps where it can.",
    "not met": "What is missing stands in the line.",
    "does not apply": "The service has nothing of the kind.",
}
CHAPTERS = (
    "Encoding and sanitization",
    "Validation and business logic",
    "Web frontend",
    "API and web service",
    "File handling",
    "Authentication",
    "Session management",
    "Authorization",
    "Self-contained tokens",
    "OAuth and OIDC",
    "Cryptography",
    "Secure communication",
    "Configuration",
    "Data protection",
    "Secure coding and architecture",
    "Logging and error handling",
    "WebRTC",
)
HIGHEST = 2

NOTE = "<!-- Written by make_asvs.py from asvs_answers.txt and asvs_levels.txt: edit those. -->"
ABOUT = """\
The [OWASP Application Security Verification Standard](https://github.com/OWASP/ASVS) 5.0.0 lists what a safe web
service must do. These are our answers to all of levels 1 and 2, given by ourselves from the code: nobody else has
looked them over. What the lines lean on stands in the [threat model](../explanation/threat-model.md).

*What it asks* is the standard's wording made short, © the OWASP Foundation, under
[CC BY-SA 4.0](https://creativecommons.org/licenses/by-sa/4.0/); so that column, as a change of the original, is under
the same licence. The standard's own words decide. Where a test is named, as `file::function`, it fails should the
answer no longer be true; where none is named, the answer was read from the code or from a library's documents."""


class Answer(NamedTuple):
    """One requirement, what it asks, and how it stands here."""

    id: str
    asks: str
    status: str
    how: str


def levels() -> dict[str, int]:
    """The level of every requirement of the standard, in its order."""
    found = {}
    for line in LEVELS.read_text().splitlines():
        if not line.startswith("#"):
            section, digits = line.split()
            found |= {f"{section}.{place}": int(digit) for place, digit in enumerate(digits, 1)}
    return found


def answers() -> list[Answer]:
    """In the order of the file. ValueError for a line that is no answer."""
    found = []
    for line in ANSWERS.read_text().splitlines():
        if not line.startswith("#"):
            parts = [part.strip() for part in line.split(" | ")]
            if len(parts) != 4 or not all(parts):
                raise ValueError(f"No answer: {line}")
            found.append(Answer(*parts))
    return found


def page() -> str:
    """The whole page."""
    level, given = levels(), answers()
    counted = Counter(answer.status for answer in given)
    lines = [
        "# Security requirements",
        "",
        NOTE,
        "",
        ABOUT,
        "",
        "| Status | Items | What it says |",
        "|---|---|---|",
    ]
    lines += [f"| {status} | {counted[status]} | {words} |" for status, words in STATUSES.items()]
    for number, chapter in enumerate(CHAPTERS, 1):
        lines += [
            "",
            f"## V{number} {chapter}",
            "",
            "| Item | Level | What it asks | Status | How |",
            "|---|---|---|---|---|",
        ]
        lines += [
            f"| {answer.id} | {level[answer.id]} | {answer.asks} | {answer.status} | {answer.how} |"
            for answer in given
            if answer.id.startswith(f"V{number}.")
        ]
    return "\n".join(lines) + "\n"


PAGES = {"asvs.md": page}

if __name__ == "__main__":
    sys.exit(run(PAGES, sys.argv[1:], script="make_asvs.py"))
