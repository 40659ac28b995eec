"""Databases for measuring: made once on the server of DATABASE_URL, or on the embedded one, and kept."""

import os
import subprocess
import sys
import time

import psycopg
from django.conf import settings

from config.entry import prepare


def ready() -> None:
    """Settings of a test, and the server runs; the server is that of DATABASE_URL, whatever its database is called."""
    os.environ["RECOUNT_TEST"] = "1"
    if url := os.environ.get("DATABASE_URL"):
        # Only a database of tests is taken for one; none of this name is opened.
        os.environ["DATABASE_URL"] = url.rpartition("/")[0] + "/test_none"
    else:
        import pytest  # noqa: F401  (by which the settings know a test)
    prepare("pytest")


def made(name: str, *commands: tuple[str, ...]) -> str:
    """The address of the database of this name, made by these commands of manage.py if it is not there yet.

    BENCH_FRESH=1 makes it anew.
    """
    import django

    django.setup()
    database = settings.DATABASES["default"]
    host = database["HOST"] or "127.0.0.1"
    login = f"{database['USER']}:{database['PASSWORD'] or ''}@"
    place = f"/{host.replace('/', '%2F')}" if host.startswith("/") else f"{host}:{database['PORT'] or 5432}"
    url = f"postgres://{login}{place}/{name}"
    with psycopg.connect(
        host=host,
        port=database["PORT"] or None,
        user=database["USER"],
        password=database["PASSWORD"],
        dbname=os.environ.get("BENCH_DATABASE", "template1"),
        autocommit=True,
    ) as server:
        there = server.execute("SELECT 1 FROM pg_database WHERE datname = %s", [name]).fetchone()
        if there and os.environ.get("BENCH_FRESH"):
            server.execute(f'DROP DATABASE "{name}"')
            there = None
        if there:
            manage(url, "migrate", "--verbosity", "0")
            # What another run left over is put away first, as every night does where autovacuum is on.
            with psycopg.connect(url, autocommit=True) as left:
                left.execute("VACUUM (ANALYZE)")
            return url
        server.execute(f'CREATE DATABASE "{name}"')
    begun = time.monotonic()
    manage(url, "migrate", "--verbosity", "0")
    for command in commands:
        manage(url, *command)
    print(f"{name} made in {time.monotonic() - begun:.0f} s", flush=True)
    return url


def invented_country(size: int) -> str:
    """The address of a database with an invented country of so many counts."""
    return made(f"test_recount_load_{size}", ("make_region_load", "--samples", str(size)))


def manage(url: str, *arguments: str) -> None:
    subprocess.run(
        [sys.executable, "-W", "ignore", "manage.py", *arguments],
        check=True,
        env=surroundings(url),
        cwd=settings.BASE_DIR,
    )


def surroundings(url: str) -> dict[str, str]:
    return os.environ | {
        "DATABASE_URL": url,
        "RECOUNT_TEST": "1",
        "DJANGO_SETTINGS_MODULE": "config.settings",
    }
