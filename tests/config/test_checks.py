"""Each system check says what is wrong, with an id and a hint, and is silent where nothing is."""

from pathlib import Path
from typing import Any

import pytest
from django.conf import settings as site
from django.db import connection

from config import catalogues, checks


def _ids(messages: Any) -> list[str]:
    assert all(message.hint for message in messages)
    return [message.id for message in messages]


def test_nothing_is_wrong_with_the_tests_own_settings(db: Any) -> None:
    assert _ids(checks.clock_is_utc()) == []
    assert _ids(checks.zones_are_known()) == []
    assert _ids(checks.reference_data_is_there()) == []
    assert _ids(checks.database_is_postgresql()) == []
    assert _ids(checks.database_is_recent(databases=["default"])) == []
    assert _ids(checks.cache_is_shared()) == []


def test_another_clock_is_refused(settings: Any) -> None:
    settings.TIME_ZONE = "Europe/Berlin"
    assert _ids(checks.clock_is_utc()) == ["recount.E001"]


def test_missing_zones_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(checks, "available_timezones", lambda: {"UTC"})
    assert _ids(checks.zones_are_known()) == ["recount.E002"]


def test_missing_reference_data_is_named(settings: Any, tmp_path: Path) -> None:
    settings.FIXTURES = tmp_path
    assert _ids(checks.reference_data_is_there()) == ["recount.E003", "recount.E003"]


def test_another_database_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(site.DATABASES["default"], "ENGINE", "django.db.backends.sqlite3")
    assert _ids(checks.database_is_postgresql()) == ["recount.E004"]


def test_an_old_server_is_refused(db: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(connection.__dict__, "pg_version", 14_00_05)
    assert _ids(checks.database_is_recent(databases=["default"])) == ["recount.E005"]


def test_a_catalogue_that_is_not_compiled_is_warned_of_where_it_is_served(
    settings: Any, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(catalogues, "ROOT", tmp_path)
    path = catalogues.catalogue_path("counts", "de", "django")
    path.parent.mkdir(parents=True)
    path.write_text('msgid "colony"\nmsgstr "Volk"\n')

    settings.SERVED = True
    assert _ids(checks.catalogues_are_compiled()) == ["recount.W003"]
    (warning,) = checks.catalogues_are_compiled()
    assert "counts/locale/de" in warning.msg and "python -m config.catalogues compile" in str(warning.hint)
    settings.SERVED = False
    assert _ids(checks.catalogues_are_compiled()) == []
    settings.SERVED = True
    catalogues.compile_all()
    assert _ids(checks.catalogues_are_compiled()) == []


def test_mail_into_files_is_warned_of(settings: Any) -> None:
    settings.EMAIL_BACKEND = "django.core.mail.backends.filebased.EmailBackend"
    assert _ids(checks.mail_leaves_the_house()) == ["recount.W001"]
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    assert _ids(checks.mail_leaves_the_house()) == []


def test_a_cache_of_each_process_is_warned_of(settings: Any) -> None:
    settings.CACHES = {"default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"}}
    assert _ids(checks.cache_is_shared()) == ["recount.W002"]


def test_a_journal_that_cannot_be_written_is_told(settings: Any, tmp_path: Path) -> None:
    settings.ERASURE_JOURNAL = tmp_path / "deep" / "journal.jsonl"
    assert _ids(checks.erasures_can_be_written_down()) == []
    (tmp_path / "deep").write_text("")
    assert _ids(checks.erasures_can_be_written_down()) == ["recount.W004"]
