"""Cookies of a served site, as a browser gets them: a process of its own with the settings of real use."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from config.paths import BASE_DIR
from tests.processes import environment

SCRIPT = """
import json
from django.conf import settings
settings.STORAGES["staticfiles"]["BACKEND"] = "django.contrib.staticfiles.storage.StaticFilesStorage"
import django
django.setup()
from django.db import transaction
from django.test import Client
from tests.cast import PASSWORD, make_cast

assert settings.SERVED and not settings.TESTING and not settings.DEBUG
with transaction.atomic():
    cast = make_cast()
    browser = Client(HTTP_HOST="recount.example.org")
    page = browser.get("/account/login/", secure=True)
    signed = browser.post("/account/login/", {"login": cast.alice.email, "password": PASSWORD}, secure=True)
    browser.post("/language/", {"language": "de", "next": "/"}, secure=True)
    transaction.set_rollback(True)
print(json.dumps({
    "status": [page.status_code, signed.status_code],
    "hsts": page["Strict-Transport-Security"],
    "cookies": {name: {"value": len(one.value), **dict(one)} for name, one in browser.cookies.items()},
}))
"""


@pytest.fixture
def served(db: None, tmp_path: Path) -> dict[str, str]:
    """The surroundings of a served site on the tests' database."""
    without = ("RECOUNT_TEST", "HSTS_PRELOAD")
    plain = {name: value for name, value in environment().items() if name not in without}
    return plain | {
        "SECRET_KEY": "0123456789abcdefghijklmnopqrstuvwxyz-0123456789-ABCDEFG",
        "ALLOWED_HOSTS": "recount.example.org",
        "RECOUNT_VAR": str(tmp_path),
    }


@pytest.mark.parametrize("preload", [False, True])
def test_cookies_are_bound_to_host_and_tls(served: dict[str, str], preload: bool) -> None:
    surroundings = served | ({"HSTS_PRELOAD": "yes"} if preload else {})
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT], env=surroundings, cwd=BASE_DIR, capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
    said = json.loads(done.stdout)

    assert said["status"] == [200, 302]
    assert said["hsts"] == "max-age=31536000; includeSubDomains" + ("; preload" if preload else "")
    assert {"__Host-recount", "__Host-recount-csrf", "__Host-recount-language"} <= said["cookies"].keys()
    for name, cookie in said["cookies"].items():
        assert name.startswith("__Host-"), name
        assert cookie["secure"] is True and cookie["path"] == "/" and not cookie["domain"], name
        assert cookie["samesite"] == "Lax", name
        # Scripts of pages that a phone kept read the token's.
        assert cookie["httponly"] is True or name == "__Host-recount-csrf", name
        assert len(name) + cookie["value"] < 4096, name
