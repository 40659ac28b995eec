"""Which running processes belong to one data folder. Nothing else is ever signalled."""

import os
import time
from dataclasses import dataclass
from pathlib import Path

import psutil


@dataclass(frozen=True)
class Postmaster:
    """A live server of ours."""

    pid: int
    ready: bool


def postmaster_of(data: Path) -> Postmaster | None:
    """The live server of this data folder, or None. A pid that was reused by another program is None."""
    try:
        lines = (data / "postmaster.pid").read_text().splitlines()
        pid = int(lines[0])
        claimed = Path(lines[1])
    except (FileNotFoundError, IndexError, ValueError):
        return None
    if claimed != data or not is_ours(pid, data):
        return None
    return Postmaster(pid=pid, ready=len(lines) > 7 and lines[7].strip() == "ready")


def is_ours(pid: int, data: Path) -> bool:
    """Whether the process is a PostgreSQL process at work in this data folder."""
    # Every process of a server changes into its data folder at start and stays there, so the working folder tells
    # servers apart where command lines do not: those of backends are overwritten with their state.
    try:
        process = psutil.Process(pid)
        return (
            process.name() == "postgres"
            and process.status() != psutil.STATUS_ZOMBIE
            and os.path.samefile(process.cwd(), data)
        )
    except (psutil.NoSuchProcess, psutil.AccessDenied, OSError):
        return False


def all_of(data: Path) -> list[int]:
    """Every process at work in this data folder, oldest first."""
    names = sorted(psutil.process_iter(["name", "create_time"]), key=lambda one: one.info["create_time"] or 0)
    return [one.pid for one in names if one.info["name"] == "postgres" and is_ours(one.pid, data)]


def end_orphans(data: Path, *, patience: float = 5) -> list[int]:
    """End what a killed postmaster left behind; their pids. To be called when no postmaster of this folder lives.

    A busy backend outlives its postmaster until its statement ends, and keeps the shared memory that a new server
    must not find in use. Ending it is what a crash does anyway: recovery keeps whole transactions only.
    """
    orphans = all_of(data)
    for signal in ("terminate", "kill"):
        for pid in orphans:
            if is_ours(pid, data):
                _signal(pid, signal)
        if _gone(orphans, data, patience):
            break
    return orphans


def forget_stale_pid_file(data: Path) -> bool:
    """Remove a pid file whose number now belongs to another program; whether it was.

    PostgreSQL itself would refuse to start for ever: after a restart of a container the old number is often taken.
    To be called under the start lock, when no process of this folder lives.
    """
    file = data / "postmaster.pid"
    try:
        pid = int(file.read_text().splitlines()[0])
    except (FileNotFoundError, IndexError, ValueError):
        return False  # PostgreSQL clears an empty or missing file by itself or says what is wrong
    if not psutil.pid_exists(pid) or is_ours(pid, data):
        return False
    file.unlink()
    return True


def _signal(pid: int, name: str) -> None:
    try:
        getattr(psutil.Process(pid), name)()
    except psutil.NoSuchProcess:
        return


def _gone(pids: list[int], data: Path, patience: float) -> bool:
    until = time.monotonic() + patience
    while any(is_ours(pid, data) for pid in pids):
        if time.monotonic() > until:
            return False
        time.sleep(0.05)
    return True
