"""What the speed of the sums rests on: no chance at run time, and equal counts computed once."""

import ast
import tomllib
from pathlib import Path

import numpy as np
import pytest

from counts import _intervals

BASE = Path(__file__).parents[2]
PURE = tomllib.loads((BASE / "pyproject.toml").read_text())["tool"]["importlinter"]["contracts"][1][
    "source_modules"
]


def draws(source):
    """Names in a source that bring random numbers, whoever they are imported from."""
    found = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            found |= {one.name for one in node.names}
        elif isinstance(node, ast.ImportFrom):
            found |= {f"{node.module}.{one.name}" for one in node.names}
        elif isinstance(node, ast.Attribute):
            found |= {ast.unparse(node)}
    return {one for one in found if {"random", "secrets", "uuid"} & set(one.split("."))}


@pytest.mark.parametrize("module", PURE)
def test_no_sum_draws_random_numbers(module):
    """A fair draw of colonies is the one exception, and its caller brings the seed."""
    source = (BASE / f"{module.replace('.', '/')}.py").read_text()
    seeded = {"random.Random", "Random(f'{seed} {name}').random"}
    allowed = seeded if module == "counts.sampling_plan" else set()
    allowed |= {"uuid", "uuid.UUID"} if module == "reports.export.cells" else set()  # reads keys, makes none

    assert draws(source) - allowed == set()


@pytest.mark.parametrize(
    "source",
    [
        "import random",
        "from numpy.random import default_rng",
        "np.random.normal()",
        "from numpy import random",
    ],
)
def test_random_numbers_would_be_found(source):
    assert draws(source)


def test_equal_counts_are_computed_once(monkeypatch):
    sizes, limits = [], _intervals._limits
    monkeypatch.setattr(_intervals, "_limits", lambda m, *rest: sizes.append(m.size) or limits(m, *rest))

    _intervals.rate_interval(np.arange(1000) % 30, 300, 0.0536)

    assert sizes == [30]
