"""Settings that would weaken a served site stop its start with a sentence."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from config.paths import BASE_DIR

SERVED = {
    "DATABASE_URL": "postgres://recount@127.0.0.1:1/recount",
    "SECRET_KEY": "0123456789abcdefghijklmnopqrstuvwxyz-0123456789-ABCDEFG",
    "ALLOWED_HOSTS": "recount.example.org",
}
ASKS = (
    "import django; django.setup(); from django.conf import settings as s;"
    "print(s.SERVED, s.TESTING, s.PASSWORD_HASHERS[0].rpartition('.')[2], s.SESSION_COOKIE_NAME, s.ALLOWED_HOSTS,"
    "s.DATABASES['default']['DISABLE_SERVER_SIDE_CURSORS'])"
)


def _start(tmp_path: Path, asks: str = ASKS, **more: str) -> "subprocess.CompletedProcess[str]":
    """Read the settings in a process of its own that is neither pytest nor manage.py."""
    plain = {name: value for name, value in os.environ.items() if name not in {*SERVED, "RECOUNT_TEST"}}
    environment = plain | SERVED | {"DJANGO_SETTINGS_MODULE": "config.settings", "RECOUNT_VAR": str(tmp_path)}
    command = [sys.executable, "-c", asks]
    return subprocess.run(command, env=environment | more, cwd=BASE_DIR, capture_output=True, text=True)


def test_served_site_hashes_well_and_binds_its_cookies(tmp_path: Path) -> None:
    said = _start(tmp_path).stdout.strip()

    assert said == "True False PBKDF2PasswordHasher __Host-recount ['recount.example.org'] False"


def test_behind_a_pooler_no_cursor_stays_open_on_the_server(tmp_path: Path) -> None:
    assert _start(tmp_path, DATABASE_POOLED="yes").stdout.split()[-1] == "True"


def test_address_of_the_database_may_ask_for_tls(tmp_path: Path) -> None:
    """And the replica's: what stands behind the ? was once lost beside our own options."""
    asks = ASKS + "; print(s.DATABASES['default']['OPTIONS'], s.DATABASES['replica']['OPTIONS'])"
    url = f"{SERVED['DATABASE_URL']}?sslmode=verify-full&sslrootcert=/etc/ca.pem"

    said = _start(tmp_path, asks, DATABASE_URL=url, REPLICA_DATABASE_URL=url).stdout.splitlines()[-1]

    assert said.count("'sslmode': 'verify-full', 'sslrootcert': '/etc/ca.pem'") == 2
    assert said.count("'application_name': 'recount") == 2 and "read_only=on" in said


@pytest.mark.parametrize(
    ("odd", "words"),
    [
        ({"RECOUNT_TEST": "1"}, "RECOUNT_TEST is set, and this is no test"),
        ({"ALLOWED_HOSTS": "*"}, "ALLOWED_HOSTS must name whole hosts"),
        ({"ALLOWED_HOSTS": "a.example.org, .example.org"}, "ALLOWED_HOSTS must name whole hosts"),
        ({"ALLOWED_HOSTS": " , "}, "ALLOWED_HOSTS must name the host"),
        (
            {"DATABASE_URL": f"{SERVED['DATABASE_URL']}?options=-c%20a%3Db"},
            "DATABASE_URL says options behind its ?",
        ),
        ({"SECRET_KEY": ""}, "SECRET_KEY must be set"),
        ({"SECRET_KEY": "a" * 60}, "SECRET_KEY must be set"),
        ({"SECOND_STEP_KEY": f"{'0123456789' * 5} short"}, "SECOND_STEP_KEY must be 50"),
        ({"SECOND_STEP_KEY": SERVED["SECRET_KEY"]}, "SECOND_STEP_KEY must be 50"),
        (
            {"SECOND_STEP_KEY": "0123456789" * 6, "SECRET_KEY_FALLBACKS": "0123456789" * 6},
            "none that was ever SECRET_KEY",
        ),
        ({"DEBUG": "maybe"}, "DEBUG is 'maybe'"),
        ({"DATABASE_URL": "mysql://one:two@db/three"}, "DATABASE_URL must be postgres://user"),
        ({"DATABASE_URL": "postgres://db"}, "DATABASE_URL must be postgres://user"),
        (
            {"REPLICA_DATABASE_URL": "postgres://one:two@db:x/y"},
            "REPLICA_DATABASE_URL must be postgres://user",
        ),
    ],
)
def test_weak_settings_stop_the_start(tmp_path: Path, odd: dict[str, str], words: str) -> None:
    done = _start(tmp_path, **odd)

    assert done.returncode != 0
    assert words in done.stderr
    assert "one:two" not in done.stderr


def test_test_database_may_be_used_by_a_process_of_a_test(tmp_path: Path) -> None:
    url = "postgres://recount@127.0.0.1:1/test_recount"

    assert _start(tmp_path, RECOUNT_TEST="1", DATABASE_URL=url).stdout.startswith("False True MD5")
