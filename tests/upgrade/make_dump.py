"""Makes the dump of a release that test_upgrade.py upgrades: an invented club, by that release's own code.

    git worktree add ../release COMMIT
    (cd ../release && PYTHON -m config.catalogues compile)
    createdb test_dump
    DATABASE_URL=postgres://ROLE@HOST/test_dump PYTHON -m tests.upgrade.make_dump ../release --at MOMENT

MOMENT is now in the club, a little before the release, such as 2026-11-28T15:00:00+00:00. `--python` names the
interpreter of the release, with what it wants installed; this one unless said. The database must be empty, of
PostgreSQL 15 or 16 (older servers do not read what pg_dump 17 writes), and its name begin with `test_`, or the settings
take it for a real service. It is no use afterwards.

The same release, moment and server make the same rows, but for keys drawn by chance and the database's own clock in
the history.
"""

import argparse
import gzip
import json
import os
import subprocess
import sys
import tempfile
from hashlib import sha256
from pathlib import Path
from typing import Any

import django
from django.db import connection

from config.keeping.programs import program_for, start
from config.paths import BASE_DIR

HERE = Path(__file__).parent / "dumps"
DUMP, MANIFEST, ANSWERS = "database.sql.gz", "manifest.json", "answers.json.gz"
KEY = "invented-key-of-the-stored-dump-which-signs-nothing-real"
"""It signs the sessions in the dump."""


def main(checkout: Path, at: str, python: str) -> None:
    commit = _git(checkout, "rev-parse", "HEAD")
    folder = HERE / commit[:7]
    with tempfile.TemporaryDirectory() as name:
        told = Path(name) / "told.json"
        environment = _environment(checkout, Path(name))
        _inside(python, environment, checkout, "fill", at, told)
        folder.mkdir(parents=True, exist_ok=True)
        dump = _dumped(Path(name) / "dump.sql")
        manifest = {
            "what": "An invented club. No such people, yards or bees exist.",
            "release": commit,
            "made_at": at,
            "key": KEY,
            "server": connection.pg_version // 10_000,
            "migrations": _migrations(),
            "tables": _tables(),
        }
        _inside(python, environment, checkout, "ask", at, told)
        answers = told.read_bytes()
    manifest["sha256"] = {DUMP: _keep(folder / DUMP, dump), ANSWERS: _keep(folder / ANSWERS, answers)}
    (folder / MANIFEST).write_text(json.dumps(manifest, indent=1, sort_keys=True) + "\n")
    for path in sorted(folder.iterdir()):
        sys.stdout.write(f"{path}: {path.stat().st_size} bytes\n")


def _git(checkout: Path, *words: str) -> str:
    done = subprocess.run(["git", "-C", str(checkout), *words], check=True, capture_output=True, text=True)
    return done.stdout.strip()


def _environment(checkout: Path, scratch: Path) -> dict[str, str]:
    """tests.upgrade comes from here where the release has none: `tests` is one package over both folders."""
    kept = {name: os.environ[name] for name in ("PATH", "HOME", "LANG", "DATABASE_URL") if name in os.environ}
    return kept | {
        "PYTHONPATH": f"{checkout.resolve()}:{BASE_DIR}",
        "DJANGO_SETTINGS_MODULE": "config.settings",
        "RECOUNT_TEST": "1",
        "RECOUNT_VAR": str(scratch / "var"),
        "ERASURE_JOURNAL": str(scratch / "journal.jsonl"),
        "SECRET_KEY": KEY,
    }


def _inside(python: str, environment: dict[str, str], checkout: Path, word: str, at: str, told: Path) -> None:
    command = [python, "-W", "ignore", "-m", "tests.upgrade.inside", word, at, str(told)]
    subprocess.run(command, env=environment, cwd=checkout, check=True)


def _dumped(path: Path) -> bytes:
    """Plain SQL without a program's own words, so that any connection of the tests' plain role can say it."""
    program = program_for("pg_dump", major=connection.pg_version // 10_000)
    options = ["--no-owner", "--no-privileges", "--no-comments", "--inserts", "--rows-per-insert=200"]
    running = start(program, [*options, f"--file={path}"])
    status, said = running.wait()
    running.end()
    assert status == 0, said
    # As bytes, or the line ends inside of what people typed would become ours.
    lines = path.read_bytes().split(b"\n")
    return b"\n".join(one for one in lines if not one.startswith((b"\\restrict", b"\\unrestrict")))


def _migrations() -> list[list[str]]:
    with connection.cursor() as cursor:
        cursor.execute("SELECT app, name FROM django_migrations ORDER BY app, name")
        return [list(row) for row in cursor.fetchall()]


def _tables() -> dict[str, Any]:
    from tests.upgrade.sums import tables

    return {name: one.stored() for name, one in tables().items()}


def _keep(path: Path, data: bytes) -> str:
    """Packed without a moment in it; the sum of what was packed."""
    path.write_bytes(gzip.compress(data, 9, mtime=0))
    return sha256(data).hexdigest()


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n")[0])
    parser.add_argument("checkout", type=Path)
    parser.add_argument("--at", required=True, help="the moment in the club, a little before the release")
    parser.add_argument("--python", default=sys.executable)
    given = parser.parse_args()
    os.environ |= {"RECOUNT_TEST": "1", "DJANGO_SETTINGS_MODULE": "config.settings"}
    django.setup()
    main(given.checkout, given.at, given.python)
