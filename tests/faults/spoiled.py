"""Spoils the sending of mails on purpose: do the fault tests notice? Say: python -m tests.faults.spoiled

A test that was never seen to fail proves nothing. Each spoiling is made in a copy of the files, beside the real ones;
the tests named with it must fail there. Words of an argument choose some. Ends with 1 if one passes.
"""

import re
import shutil
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

BASE = Path(__file__).parents[2]
LEFT_OUT = shutil.ignore_patterns(".git", ".venv", "var", "__pycache__", ".*_cache", ".hypothesis")


@dataclass(frozen=True)
class Spoiling:
    """What is done wrong, where in which file, and the tests that must see it."""

    what: str
    file: str
    changes: tuple[tuple[str, str], ...]
    tests: str


BEFORE = (
    (
        "    attempt = DigestAttempt.objects.create(digest=digest, started_at=at)\n",
        "    attempt = DigestAttempt.objects.create(digest=digest, started_at=at)\n"
        "    digest.state, digest.sent_at = DigestState.SENT, at\n"
        "    digest.save(update_fields=['state', 'sent_at'])\n",
    ),
    ("digest.state != DigestState.PENDING or digest.next_at != claim.held_until", "False"),
    ("    if any(one.sent_at is not None and ", "    if False and any(one.sent_at is not None and "),
    (
        "near = Q(state=DigestState.PENDING) | ",
        "near = Q(state=DigestState.PENDING) | Q(state='sent') | ",
    ),
)
CHAOS = "tests/faults/test_chaos.py::test_every_service_killed_under_load_loses_and_doubles_nothing"

SPOILINGS = (
    Spoiling(
        "marked as sent before it is sent",
        "reports/sender.py",
        BEFORE,
        "tests/faults/test_kills.py::test_senders_killed_at_random_lose_nothing_and_double_little",
    ),
    Spoiling(
        "no row is locked while it is sent, and none is held",
        "reports/sender.py",
        (
            ('mails.select_for_update(of=("self",))', "mails"),
            ("    _move(digest, at + WAITS[min(digest.crashed, len(WAITS) - 1)])\n", ""),
        ),
        "tests/faults/test_kills.py::test_without_a_kill_nothing_comes_twice",
    ),
    Spoiling(
        "an outage counts as a try that failed",
        "reports/sender.py",
        (
            (
                "        _move(digest, claim.was_due_at)\n"
                "        return _note(claim.attempt, Outcome.OUTAGE, str(error))\n",
                "        return _failed(digest, claim.attempt, str(error), at)\n",
            ),
        ),
        "tests/faults/test_mail_server.py::test_an_outage_then_a_grey_list_kill_no_mail_but_those_refused",
    ),
    Spoiling(
        "a mail that cannot be handed over stops the run",
        "reports/sender.py",
        (
            (
                "        return _failed(digest, claim.attempt, repr(error), at)\n    digest.state",
                "        raise\n    digest.state",
            ),
        ),
        "tests/faults/test_answers.py::test_a_poisoned_row_stops_no_other",
    ),
    Spoiling("marked as sent before it is sent, all killed", "reports/sender.py", BEFORE, CHAOS),
    Spoiling(
        "a count sent again is kept again",
        "counts/actions.py",
        (("        entry_key=count.entry_key,\n", "        entry_key=uuid.uuid4(),\n"),),
        CHAOS,
    ),
)


def main() -> int:
    survived = 0
    for spoiling in (one for one in SPOILINGS if all(word in one.what for word in sys.argv[1:])):
        noticed, said = tried(spoiling)
        survived += not noticed
        sys.stdout.write(f"{'noticed' if noticed else 'SURVIVED':9} {spoiling.what}: {said}\n")
        sys.stdout.flush()
    return 1 if survived else 0


def tried(spoiling: Spoiling) -> tuple[bool, str]:
    """Whether the tests failed on it, and how they said so."""
    with tempfile.TemporaryDirectory(prefix="spoiled") as folder:
        copy = Path(folder) / "recount"
        shutil.copytree(BASE, copy, ignore=LEFT_OUT, symlinks=True)
        place = copy / spoiling.file
        text = place.read_text(encoding="utf-8")
        for old, new in spoiling.changes:
            if text.count(old) != 1:
                raise SystemExit(
                    f"{spoiling.what}: {old!r} stands {text.count(old)} times in {spoiling.file}"
                )
            text = text.replace(old, new)
        place.write_text(text, encoding="utf-8")
        run = subprocess.run(
            [sys.executable, "-m", "pytest", "-q", "--tb=line", spoiling.tests],
            cwd=copy,
            capture_output=True,
            text=True,
            check=False,
        )
    figures = re.findall(r"^\| (?:R|chaos).*$", run.stdout, re.MULTILINE)
    reasons = re.findall(r"^E? *.*(?:AssertionError|Error): .*$|^/.*: .*$", run.stdout, re.MULTILINE)
    return run.returncode == 1, "; ".join([*figures, *reasons[:1]]) or run.stdout[-300:]


if __name__ == "__main__":
    sys.exit(main())
