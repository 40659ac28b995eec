"""The page of faults names every promise, and only tests that there are."""

import ast
import re
from pathlib import Path

BASE = Path(__file__).parents[2]
PAGE = BASE / "docs" / "reference" / "faults.md"
ROW = re.compile(r"^\| (R\d+) \| (.+?) \| (.+?) \| (.+?) \| (.+?) \|$", re.MULTILINE)
TEST = re.compile(r"`(tests/[\w/]+\.py)::(test_\w+)`")


def functions_of(path: str) -> set[str]:
    tree = ast.parse((BASE / path).read_text())
    return {node.name for node in tree.body if isinstance(node, ast.FunctionDef)}


def test_every_promise_stands_there_once_in_order_and_names_a_test() -> None:
    rows = ROW.findall(PAGE.read_text())

    assert [row[0] for row in rows] == [f"R{number}" for number in range(1, 21)]
    assert all(TEST.search(row[2]) and row[3].strip() and row[4].strip() for row in rows)


def test_every_test_named_there_exists() -> None:
    named = TEST.findall(PAGE.read_text())

    assert len(named) >= 20
    assert {(path, name) for path, name in named if name not in functions_of(path)} == set()


def test_every_fault_test_is_named_there() -> None:
    """But for those about the page and the zones that the others stand on."""
    named = {name for _, name in TEST.findall(PAGE.read_text())}
    ours = {
        name
        for path in (BASE / "tests" / "faults").glob("test_*.py")
        if path.name != "test_page.py"
        for name in functions_of(str(path.relative_to(BASE)))
        if name.startswith("test_")
    }

    assert ours - named == set()
