"""The answers to the OWASP ASVS: every item of levels 1 and 2 once, and nothing named that is not there."""

import ast
import re
from functools import cache
from pathlib import Path
from types import ModuleType

import pytest

from tests.test_docs import REFERENCE, generator

BASE = Path(__file__).resolve().parent.parent
TEST = re.compile(r"`(tests/[\w/]+\.py)::(\w+)`")
FILE = re.compile(r"`((?:[\w.-]+/)+[\w.-]+|[A-Z]+\.md|constraints\.txt)`")


@pytest.fixture
def make_asvs(monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    monkeypatch.syspath_prepend(str(REFERENCE))
    return generator("make_asvs")


@cache
def functions_of(path: str) -> frozenset[str]:
    tree = ast.parse((BASE / path).read_text())
    return frozenset(node.name for node in ast.walk(tree) if isinstance(node, ast.FunctionDef))


def test_levels_are_those_of_the_standard(make_asvs: ModuleType) -> None:
    levels = list(make_asvs.levels().values())

    assert [levels.count(level) for level in (1, 2, 3)] == [70, 183, 92]


def test_every_item_is_answered_once_and_in_order(make_asvs: ModuleType) -> None:
    asked = [item for item, level in make_asvs.levels().items() if level <= make_asvs.HIGHEST]

    assert [answer.id for answer in make_asvs.answers()] == asked


def test_every_answer_has_a_known_status_and_what_it_leans_on(make_asvs: ModuleType) -> None:
    for answer in make_asvs.answers():
        assert answer.status in make_asvs.STATUSES, answer.id
        assert answer.status != "not met" or len(answer.how.split()) > 5, answer.id


def test_everything_named_is_there(make_asvs: ModuleType) -> None:
    text = "\n".join(answer.how for answer in make_asvs.answers())
    tests, files = TEST.findall(text), FILE.findall(text)

    assert len(tests) > 100 and len(files) > 20
    assert {(path, name) for path, name in tests if name not in functions_of(path)} == set()
    assert {path for path in files if not (BASE / path).exists()} - {"/api/"} == set()
