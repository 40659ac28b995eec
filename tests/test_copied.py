"""A copy of the cast is the cast."""

from typing import Any

import pytest
import time_machine
from django.contrib.auth.hashers import check_password
from django.db import transaction
from django.forms import model_to_dict

from apiaries.actions import rename_region
from tests import copied
from tests.cast import PASSWORD, make_cast
from tests.copied import cast_again

pytestmark = pytest.mark.django_db


class _Undo(Exception):
    pass


def _rows_of(make: Any) -> set[tuple[str, str]]:
    """What that leaves in the tables; then it is undone."""
    with pytest.raises(_Undo), transaction.atomic():
        before = copied._rows()
        make()
        found = copied._rows() - before
        raise _Undo
    return found


@pytest.fixture(autouse=True)
def nothing_made(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(copied, "MADE", [])


@pytest.mark.owner
def test_a_copy_has_every_row_of_the_first_and_no_other() -> None:
    first = _rows_of(cast_again)
    tables = {name for name, _ in first}

    assert _rows_of(cast_again) == first
    assert {"apiaries_colony", "apiaries_colonyevent", "pghistory_context"} <= tables
    assert len(first) == len(_rows_of(make_cast))


@pytest.mark.owner
def test_a_copy_knows_nothing_of_what_was_done_to_another() -> None:
    with pytest.raises(_Undo), transaction.atomic():
        first = cast_again()
        fields = model_to_dict(first.north)
        rename_region(region=first.north, name="Elsewhere", by=first.adam)
        raise _Undo
    second = cast_again()

    second.north.refresh_from_db()
    assert model_to_dict(second.north) == fields
    assert first.north is not second.north and second.alice_yard.region == second.north
    assert check_password(PASSWORD, second.alice.password)


def test_a_copy_writes_its_history_from_then_on() -> None:
    with pytest.raises(_Undo), transaction.atomic():
        cast_again()
        raise _Undo
    cast = cast_again()
    before = len(copied._rows())
    rename_region(region=cast.north, name="Elsewhere", by=cast.adam)

    assert len(copied._rows()) == before + 2, "one row of history, and who did it"


def test_a_clock_of_the_tests_own_has_a_cast_of_its_own() -> None:
    with time_machine.travel("2026-05-01T10:00Z", tick=False):
        cast = cast_again()

    assert copied.MADE == []
    assert str(cast.alice_yard.made_at) == "2026-05-01 10:00:00+00:00"
