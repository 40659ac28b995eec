"""Has a file read by a process of its own, and gives what it found."""

import json
import logging
import os
import signal
import subprocess
import sys
from collections.abc import Collection
from dataclasses import asdict
from pathlib import Path
from typing import Any

from counts.tables.headings import plain
from counts.tables.limits import MB, MOST_CSV_BYTES, MOST_SECONDS, MOST_XLSX_BYTES
from counts.tables.refusals import CannotRead, Why
from counts.tables.shapes import GUESSED, Choices
from counts.tables.spool import Spool
from counts.tables.table import Table

logger = logging.getLogger(__name__)

_BASE = Path(__file__).resolve().parents[2]
_MOST_BYTES = max(MOST_CSV_BYTES, MOST_XLSX_BYTES)
_ENVIRONMENT = {
    "PYTHONUTF8": "1",
    "PYTHONDONTWRITEBYTECODE": "1",
    "OPENPYXL_DEFUSEDXML": "False",  # it has had its say before openpyxl begins, see counts.tables.archive
    "MALLOC_ARENA_MAX": "1",  # a second one would reserve 64 MB of the address space that is bounded
}
"""All that the process gets of this one's: no secret, no address of a database."""
_OUT_OF_TIME = (-signal.SIGXCPU, -signal.SIGKILL)


def read_table(path: Path, *, name: str, choices: Choices = GUESSED, known: Collection[str] = ()) -> Table:
    """The table in a file: what is known about it, and its rows. Close it, or use it in a `with`.

    `name` is what its owner calls it; the kind is known by the contents, whatever the name says. `known`: words that
    stand over columns here; a row that holds two of them is taken for the headings, and a sheet with such a row is
    preferred. Takes up to 60 seconds and another process of up to 400 MB. Errors: `CannotRead`.
    """
    size = path.stat().st_size
    if size > _MOST_BYTES:  # a process would only say the same
        raise CannotRead.because(Why.TOO_BIG, {"size": -(-size // MB), "most": _MOST_BYTES // MB})
    spool = Spool()
    try:
        asked = {
            "path": str(path.resolve()),
            "choices": asdict(choices),
            "known": sorted({plain(one) for one in known}),
        }
        answer = _answer(asked, spool, name)
        if "found" not in answer:
            raise CannotRead.because(Why(answer["why"]), answer["values"], peak_bytes=answer.get("peak"))
        found = answer["found"]
        for lists in ("sheets", "headings"):
            found[lists] = tuple(found[lists])
        return Table(**found, sha256=answer["sha256"], peak_bytes=answer["peak"], _spool=spool)
    except BaseException:
        spool.close()
        raise


def _answer(asked: dict[str, Any], spool: Spool, name: str) -> dict[str, Any]:
    """What the process says. It holds one end of a pipe and ends when the other, ours, is closed."""
    theirs, ours = os.pipe()
    try:
        process = subprocess.Popen(
            [sys.executable, "-m", "counts.tables.child"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            cwd=_BASE,
            env=_ENVIRONMENT,
            pass_fds=(theirs, spool.handle),
            start_new_session=True,
        )
        with process:
            try:
                request = json.dumps(asked | {"alive": theirs, "spool": spool.handle}).encode()
                said, wrong = process.communicate(request, timeout=MOST_SECONDS)
            except subprocess.TimeoutExpired:
                return {"why": Why.TIME, "values": {}}
            finally:
                if process.returncode is None:
                    os.killpg(process.pid, signal.SIGKILL)
    finally:
        os.close(theirs)
        os.close(ours)
    if process.returncode == 0:
        return dict(json.loads(said))
    if process.returncode in _OUT_OF_TIME:
        return {"why": Why.TIME, "values": {}}
    last = wrong.decode("utf-8", "replace").strip().splitlines()[-1:]
    logger.error("Reading a table ended with %s: %s", process.returncode, "".join(last)[:300])
    return {"why": Why.FAILED, "values": {}}
