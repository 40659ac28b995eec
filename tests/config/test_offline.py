"""The service worker's script: open to all, personal to nobody, another one when a file changes."""

import hashlib
import json
import re
from pathlib import Path

import pytest
from django.test import Client
from django.urls import reverse

from config import offline

STATIC = Path(__file__).parents[2] / "config" / "static"


def script() -> str:
    response = Client().get(reverse("service-worker"))
    assert response.status_code == 200
    assert response["Content-Type"].startswith("text/javascript")
    assert response["Cache-Control"] == "private, no-store"
    return response.content.decode()


def told() -> dict:
    found = re.match(r"self\.kept = (.*);\n", script())
    assert found
    return json.loads(found[1])


def test_worker_stands_at_the_root_and_names_files_that_exist() -> None:
    assert reverse("service-worker") == "/worker.js"
    assert 'importScripts("/static/worker.js")' in script()
    files = [path for path in told()["files"] if not path.startswith("/words/")]
    assert [path for path in files if not (STATIC / Path(path).name).exists()] == []


@pytest.mark.parametrize("name", ["yard.js", "worker.js", "recount.css"])
def test_version_is_another_once_a_file_is(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = told()["version"]
    changed = tmp_path / name
    changed.write_bytes((STATIC / name).read_bytes() + b" ")
    found = offline.finders.find
    monkeypatch.setattr(offline.finders, "find", lambda one: changed if one == name else found(one))
    offline._version.cache_clear()
    try:
        assert told()["version"] != before
    finally:
        offline._version.cache_clear()


def test_version_follows_from_the_files_alone() -> None:
    digest = hashlib.sha256("\n".join(offline._words()).encode())
    for name in (*offline.KEPT, offline.WORKER):
        digest.update(f"/static/{name}\n".encode() + (STATIC / name).read_bytes())

    assert told()["version"] == digest.hexdigest()[:16]
