"""The key of an embedded run: made once, for its owner alone, also by processes that start together."""

import os
import stat
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from threading import Barrier, local

import pytest
from django.core.exceptions import ImproperlyConfigured

from config.own_secret import own_secret


def test_it_stays_as_it_was_made(tmp_path: Path) -> None:
    made = own_secret(tmp_path / "var")

    assert len(made) >= 50 and own_secret(tmp_path / "var") == made
    assert os.listdir(tmp_path / "var") == ["secret_key"]
    assert stat.S_IMODE((tmp_path / "var" / "secret_key").stat().st_mode) == 0o600


def test_who_starts_together_gets_the_same_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each of them looks before any of them has made it."""
    looked, exists, before = Barrier(8), Path.exists, local()

    def looks(path: Path) -> bool:
        found = exists(path)
        if path.name == "secret_key" and not hasattr(before, "looked"):
            before.looked = True
            looked.wait(30)
        return found

    monkeypatch.setattr(Path, "exists", looks)
    with ThreadPoolExecutor(8) as together:
        made = set(together.map(lambda _: own_secret(tmp_path), range(8)))

    assert len(made) == 1 and len(made.pop()) >= 50
    assert os.listdir(tmp_path) == ["secret_key"]


def test_draft_of_one_that_was_killed_is_no_key(tmp_path: Path) -> None:
    (tmp_path / "secret_key.new").write_text("half")

    assert "half" not in own_secret(tmp_path)
    assert os.listdir(tmp_path) == ["secret_key"]


def test_empty_file_is_told(tmp_path: Path) -> None:
    (tmp_path / "secret_key").touch()

    with pytest.raises(ImproperlyConfigured, match="secret_key is empty. Delete it"):
        own_secret(tmp_path)
