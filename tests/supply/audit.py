"""Asks whether a pinned package has a known hole, and believes only an answer about every one of them.

.venv/bin/python -m tests.supply.audit     0: none known, or not run (it says NOT RUN); 1: found

The tool ends with 0 and "No known vulnerabilities found" also when its service was out of reach and it skipped
every package. So its JSON is read, and held against the pins.
"""

import json
import re
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

PINS = Path(__file__).resolve().parents[2] / "constraints.txt"
COMMAND = [
    *(sys.executable, "-m", "pip_audit", "--requirement", str(PINS), "--no-deps", "--disable-pip"),
    *("--format", "json", "--progress-spinner", "off", "--timeout", "15"),
]
LONGEST = 300  # seconds


@dataclass(frozen=True)
class Verdict:
    """`known`: holes by package; `unasked`: pins that nobody was asked about; `why`: the first reason."""

    asked: int
    pins: int
    known: tuple[str, ...]
    unasked: tuple[str, ...]
    why: str = ""

    @property
    def ran(self) -> bool:
        return self.pins > 0 and not self.unasked

    def text(self) -> str:
        lines = [f"KNOWN HOLE  {hole}" for hole in self.known]
        if not self.ran:
            lines.append(
                f"NOT RUN  {self.asked} of {self.pins} pinned packages were asked about; not about "
                f"{', '.join(self.unasked[:5])}{' …' if len(self.unasked) > 5 else ''}. {self.why}".strip()
            )
        return "\n".join(lines) or f"No hole is known in any of {self.pins} pinned packages."


def plain(name: str) -> str:
    """A name as package indexes compare it."""
    return re.sub(r"[-_.]+", "-", name).lower()


def pinned(text: str) -> dict[str, str]:
    """Name and version of each pin."""
    pins = (line.partition("==") for line in text.splitlines() if line and line[0] != "#")
    return {plain(name): version for name, _, version in pins}


def judge(pins: dict[str, str], out: str, err: str) -> Verdict:
    """What an answer is worth."""
    try:
        told = {plain(one["name"]): one for one in json.loads(out)["dependencies"]}
    except (ValueError, KeyError, TypeError):
        why = (err.strip() or "the tool said nothing").splitlines()[-1][:200]
        return Verdict(0, len(pins), (), tuple(sorted(pins)), why)
    asked = {
        name
        for name, version in pins.items()
        if told.get(name, {}).get("version") == version and "vulns" in told[name]
    }
    known = tuple(
        f"{name} {one['version']}: {hole['id']}, mended in {_mends(hole)}"
        for name, one in sorted(told.items())
        for hole in one.get("vulns", [])
    )
    skipped = [one["skip_reason"] for one in told.values() if "skip_reason" in one]
    unasked = tuple(sorted(set(pins) - asked))
    return Verdict(len(asked), len(pins), known, unasked, skipped[0] if skipped else "")


def _mends(hole: dict[str, list[str]]) -> str:
    return ", ".join(hole.get("fix_versions", [])) or "no release yet"


def run(command: Sequence[str]) -> tuple[str, str]:
    """What the tool wrote to its two outputs."""
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=LONGEST, check=False)
    except (OSError, subprocess.TimeoutExpired) as error:
        return "", f"{type(error).__name__}: the tool did not come to its end"
    return done.stdout, done.stderr


def main() -> int:
    verdict = judge(pinned(PINS.read_text()), *run(COMMAND))
    print(verdict.text())
    return 1 if verdict.known else 0


if __name__ == "__main__":
    sys.exit(main())
