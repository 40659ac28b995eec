"""The process that reads one file and ends: `python -m counts.tables.child`, started by `counts.tables.reading`.

It knows no framework, no settings and no database, and gets none of the site's secrets. It bounds itself before it
looks at the file, and ends at once when whoever started it is gone.
"""

import contextlib
import hashlib
import json
import os
import re
import resource
import signal
import sys
import threading
from dataclasses import asdict
from io import BufferedReader
from pathlib import Path
from typing import Any, BinaryIO

from counts.tables.kinds import kind_of
from counts.tables.limits import MOST_CPU_SECONDS, MOST_MEMORY, MOST_SPOOL_BYTES, SPARE_MEMORY
from counts.tables.refusals import Refused, Why
from counts.tables.shapes import Choices, Found
from counts.tables.sheet import Sheet
from counts.tables.spool import Writer
from counts.tables.text import text_in


def main() -> None:
    """Read what standard input names; the rows go to the spool, everything else to standard output."""
    asked = json.loads(sys.stdin.read())
    bound()
    end_with(asked["alive"])
    with (
        open(asked["spool"], "wb", closefd=False) as spool,
        Path(asked["path"]).open("rb") as file,
        contextlib.redirect_stdout(sys.stderr),  # openpyxl prints what it thinks of some files
    ):
        answer = answer_for(file, Choices(**asked["choices"]), set(asked["known"]), Writer(spool))
    json.dump(answer | {"peak": peak_bytes()}, sys.stdout)


def bound() -> None:
    """Limits of this process, which nothing it does can lift again."""
    for what, most in (
        (resource.RLIMIT_CORE, 0),
        (resource.RLIMIT_FSIZE, 2 * MOST_SPOOL_BYTES),
        (resource.RLIMIT_CPU, MOST_CPU_SECONDS),
        (resource.RLIMIT_AS, MOST_MEMORY),
    ):
        _, hard = resource.getrlimit(what)
        most = most if hard == resource.RLIM_INFINITY else min(most, hard)
        try:
            resource.setrlimit(what, (most, most))
        except ValueError:
            continue  # some systems know no limit of address space


def peak_bytes() -> int:
    """The most memory this process had in use. Linux adds the starter's own to ru_maxrss; its VmHWM is ours alone."""
    status = Path("/proc/self/status")
    if status.exists() and (found := re.search(r"VmHWM:\s+(\d+) kB", status.read_text())):
        return int(found[1]) * 1024
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak if sys.platform == "darwin" else peak * 1024


def end_with(alive: int) -> None:
    """Ends this process when the other end of this pipe is closed, which its owner's death does."""

    def wait() -> None:
        os.read(alive, 1)
        os.kill(os.getpid(), signal.SIGKILL)

    threading.stack_size(256 * 1024)
    threading.Thread(target=wait, daemon=True).start()


def answer_for(file: BufferedReader, choices: Choices, known: set[str], writer: Writer) -> dict[str, Any]:
    """What was found, or the reason why nothing was, for `counts.tables.reading`."""
    spare = bytearray(SPARE_MEMORY)
    try:
        digest = hashlib.file_digest(file, "sha256").hexdigest()
        found = read_file(file, choices, known, writer)
    except MemoryError:
        del spare  # what filled the memory may live on in cycles, and not even this answer would find room
        return {"why": Why.MEMORY, "values": {}}
    except Refused as refused:
        return {"why": refused.why, "values": refused.values}
    return {"found": asdict(found), "sha256": digest}


def read_file(file: BinaryIO, choices: Choices, known: set[str], writer: Writer) -> Found:
    """Read the file as what it is. Errors: Refused."""
    if kind_of(file) == "csv":
        return _read_text(file, choices, known, writer)
    # openpyxl would take these if they were there: one is large, the other resolves entities in its own way.
    sys.modules.update(dict.fromkeys(("numpy", "lxml")))  # type: ignore[arg-type]
    from counts.tables.workbook import read_workbook  # not for text: openpyxl takes a moment

    return read_workbook(file, choices, known, writer)


def _read_text(file: BinaryIO, choices: Choices, known: set[str], writer: Writer) -> Found:
    text = text_in(file, choices, known)
    n, headings = Sheet(text.rows(), choices.header_row, known).keep(writer)
    return Found(
        kind="csv",
        header_row=n,
        headings=headings,
        row_count=writer.count,
        encoding=text.encoding,
        delimiter=text.delimiter,
    )


if __name__ == "__main__":
    main()
