"""A PostgreSQL that only the fault tests use, so that it may be stopped in any way."""

import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from config.embedded import EmbeddedServer, ensure_server, stop_server
from config.embedded_place import PORT, forget, place_of
from config.paths import BASE_DIR
from tests.databases import tables_into
from tests.dropping import drop_database

OF_ITS_OWN = "test_faults_of_its_own"
WITH_TABLES = "test_faults_with_tables"


@contextmanager
def open_cluster() -> Iterator[Path]:
    """Its home; it holds a database with all tables, to be copied."""
    base = Path(tempfile.mkdtemp(prefix="rc", dir="/tmp"))
    base.chmod(0o755)
    home = base / "postgres"
    server = ensure_server(home)
    try:
        with server.connect("recount_test", "postgres") as connection:
            connection.execute(f"CREATE DATABASE {WITH_TABLES}")
            tables_into(
                {
                    "host": server.place.run,
                    "port": PORT,
                    "user": "recount_test",
                    "password": server.place.passwords["recount_test"],
                    "dbname": WITH_TABLES,
                }
            )
        surroundings = os.environ | {"DATABASE_URL": _url(server, WITH_TABLES), "RECOUNT_TEST": "1"}
        subprocess.run(
            [sys.executable, "manage.py", "migrate", "--verbosity", "0"],
            cwd=BASE_DIR, env=surroundings, check=True, timeout=600,
        )  # fmt: skip
        yield home
    finally:
        stop_server(home, force=True)
        forget(place_of(home))
        shutil.rmtree(base)


def database_of_its_own(server: EmbeddedServer) -> str:
    """The address of a fresh one, with tables and without rows."""
    with server.connect("recount_test", "postgres") as connection:
        drop_database(connection, OF_ITS_OWN)
        connection.execute(f"CREATE DATABASE {OF_ITS_OWN} TEMPLATE {WITH_TABLES}")
    with server.connect("recount_admin", "postgres") as connection:
        # Other tests may lose their last second in a crash; these are about that second.
        connection.execute(f"ALTER ROLE recount_test IN DATABASE {OF_ITS_OWN} SET synchronous_commit = on")
    return _url(server, OF_ITS_OWN)


def _url(server: EmbeddedServer, name: str) -> str:
    return server.test_url.rpartition("/")[0] + f"/{name}"
