"""The holes that are opened on purpose: each still stands where it is said, and three are opened here."""

import pytest
from django.db import connection

from tests.access.mutants import KILLED, MATRIX, MUTANTS, NO_HOLE, SURVIVED, run, source_of
from tests.access.seeded import Mutant

SAMPLE = ("exact-place", "any-label", "api-count-anywhere")
FEWEST = 20


def test_there_are_enough_and_each_has_its_own_name() -> None:
    assert len({one.name for one in MUTANTS}) == len(MUTANTS) >= FEWEST


@pytest.mark.parametrize("mutant", MUTANTS, ids=[one.name for one in MUTANTS])
def test_hole_can_be_opened(mutant: Mutant) -> None:
    """What it changes stands there exactly once, and what comes of it can be read."""
    compile(source_of(mutant), mutant.path, "exec")
    assert {one for one in mutant.tests if one.endswith(".py")} <= set(MATRIX)


def _tests_of(name: str) -> tuple[str, ...]:
    return next(one for one in MUTANTS if one.name == name).tests


@pytest.mark.slow
@pytest.mark.parametrize("name", SAMPLE)
def test_hole_is_noticed(django_db_setup: None, name: str) -> None:
    """In the test database of this process, which does nothing meanwhile."""
    database = connection.settings_dict["NAME"]
    code, said = run(name, database, _tests_of(name))
    assert code == KILLED, said
    assert "tests/access/test_" in said


@pytest.mark.slow
def test_nothing_is_noticed_where_there_is_no_hole(django_db_setup: None) -> None:
    code, said = run(NO_HOLE, connection.settings_dict["NAME"], _tests_of(SAMPLE[1]))
    assert code == SURVIVED, said
