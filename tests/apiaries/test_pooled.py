"""A pooler before the database is noticed, whatever the settings say of it.

No pooler stands in these tests: the question is asked so that the answer is another session's, as behind one.
RECOUNT_POOLED=1 runs the documented start behind a real one (tests/deploy/pooler.py).
"""

from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from django.db import OperationalError, connection

from apiaries import pooled
from apiaries.pooled import refuse_unsaid, through_a_pooler

pytestmark = pytest.mark.django_db


@pytest.fixture
def behind_one(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pooled, "SESSION", "SELECT pg_backend_pid() + 1")


def test_ones_own_session_answers() -> None:
    assert not through_a_pooler(connection)
    refuse_unsaid(connection=connection)
    assert connection.is_usable()


def test_connection_through_a_pooler_is_refused_until_it_is_said(
    behind_one: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    closed: list[bool] = []
    monkeypatch.setattr(connection, "close", lambda: closed.append(True))

    with pytest.raises(OperationalError, match="say DATABASE_POOLED=yes"):
        refuse_unsaid(connection=connection)
    assert closed == [True]
    monkeypatch.setitem(connection.settings_dict, "DISABLE_SERVER_SIDE_CURSORS", True)
    refuse_unsaid(connection=connection)
    assert closed == [True]


def test_who_changes_or_copies_all_tables_goes_past_it(behind_one: None, tmp_path: Path) -> None:
    for command in (["migrate"], ["backup", str(tmp_path)]):  # restore: tests/config/test_keeping.py
        with pytest.raises(CommandError, match="pooler stands before the database"):
            call_command(*command, verbosity=0)
