"""The stored dump of an earlier release, put into a database of its own and upgraded as the page on upgrading says."""

import gzip
import json
import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cached_property
from hashlib import sha256
from pathlib import Path
from typing import Any

from django.db import connection

from tests.databases import new_database, on
from tests.deploy.hosts import START
from tests.upgrade import sums

DUMPS = Path(__file__).parent / "dumps"


@dataclass(frozen=True)
class Stored:
    """What make_dump.py kept of one release."""

    folder: Path

    @cached_property
    def manifest(self) -> dict[str, Any]:
        return dict(json.loads((self.folder / "manifest.json").read_text()))

    @cached_property
    def answers(self) -> dict[str, Any]:
        return dict(json.loads(self.text("answers.json.gz")))

    @cached_property
    def tables(self) -> dict[str, sums.Table]:
        return {name: sums.Table(**one) for name, one in self.manifest["tables"].items()}

    def text(self, name: str) -> str:
        data = gzip.decompress((self.folder / name).read_bytes())
        assert sha256(data).hexdigest() == self.manifest["sha256"][name], f"{name} is not as it was written"
        return data.decode()


def newest() -> Stored:
    """The dump of the last release; there is one."""
    (folder,) = (path for path in DUMPS.iterdir() if path.is_dir())
    return Stored(folder)


@contextmanager
def restored(stored: Stored, name: str) -> Iterator[None]:
    """Everything within works in a database as the old release left it."""
    with new_database(name), on(name):
        connection.ensure_connection()
        # Without values of its own the driver sends it whole, and the server reads it as psql would.
        connection.connection.execute(stored.text("database.sql.gz"))
        connection.close()  # the dump set the session to its own needs
        yield


def upgrade(folder: Path, key: str) -> str:
    """`start.sh migrate`, with settings of a real service and nothing of the tests; what it said."""
    plain = {name: os.environ[name] for name in ("PATH", "HOME", "LANG") if name in os.environ}
    environment = plain | {
        "PYTHON": sys.executable,
        "DATABASE_URL": _url(),
        "CELERY_BROKER_URL": "redis://127.0.0.1:1/0",
        "EMAIL_URL": "smtp://127.0.0.1:1",
        "SECRET_KEY": key,
        "ALLOWED_HOSTS": "recount.example.org",
        "RECOUNT_VAR": str(folder),
    }
    connection.close()
    done = subprocess.run([str(START), "migrate"], env=environment, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def _url() -> str:
    have = connection.settings_dict
    role = f"{have['USER']}:{have['PASSWORD']}" if have["PASSWORD"] else have["USER"]
    if have["HOST"].startswith("/"):
        return f"postgres://{role}@/{have['HOST'].replace('/', '%2F')}/{have['NAME']}"
    return f"postgres://{role}@{have['HOST']}:{have['PORT'] or 5432}/{have['NAME']}"
