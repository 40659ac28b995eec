"""The page of methods names every public sum and every reason; the page of check values names tests that exist."""

import ast
import importlib
import inspect
import re
import tomllib
from enum import Enum
from pathlib import Path

import pytest

from counts.data_checks import Oddity
from counts.dispersion import NoSpread
from counts.estimate import Refusal
from counts.priors import NoPrior
from counts.samples import Problem, Question
from reports.pressure import SuppressReason
from reports.trend import NoTrend
from treatments.battery import NoCharge
from treatments.day_plan import NoPlan
from treatments.medicine import NoTerm
from treatments.outcome import Reason, Verdict
from treatments.outlook import NoOutlook
from treatments.possible import Reason as InTheWay
from treatments.recount_rules import Fit

BASE = Path(__file__).resolve().parent.parent
REFERENCE = BASE / "docs" / "reference"
METHODS = (REFERENCE / "methods.md").read_text(encoding="utf-8")
CHECKS = (REFERENCE / "check-values.md").read_text(encoding="utf-8")
SUMS = (
    "apiaries.distance",
    "apiaries.visit_rules",
    *("counts.estimate", "counts.samples", "counts.action_levels", "counts.data_checks", "counts.dispersion"),
    *(
        "counts.priors",
        "counts.sampling_plan",
        "treatments.outcome",
        "treatments._ratio",
        "treatments._verdicts",
    ),
    *("treatments.battery", "treatments.day_plan", "treatments.medicine", "treatments.possible"),
    *("treatments.open_from", "counts.call_rules"),
    *(
        "treatments.outlook",
        "treatments.recount_rules",
        "reports.pressure",
        "reports.parts",
        "reports.trend",
        "reports.heat",
        "reports.areas",
    ),
    *(
        "reports.treatment_results",
        "reports.early_warning",
        "reports.bulletin_figures",
        "reports.bulletin_words",
    ),
)
OTHERS = {
    "treatments.chain",
    *(
        "apiaries.permissions",
        "apiaries.api.scopes",
        "apiaries.zones",
        "apiaries.language",
        "reports.bulletin_counted",
        "reports.bulletin_pieces",
        "apiaries.sheet_out",
        "apiaries.typed",
        "reports.due_days",
        "reports.export.cells",
        "reports.export.sheet_text",
        "reports.map_shapes",
        "reports.quiet",
        "treatments.dose",
        "treatments.ingredients",
    ),
    *(
        "counts.constants",
        "counts.sentences",
        "reports.constants",
        "treatments.constants",
        "treatments.possible_words",
        "treatments.sentences",
    ),
    *(
        f"counts.imports.{name}"
        for name in ("amounts", "cells", "columns", "days", "reasons", "rows", "said", "words")
    ),
    "treatments.status",
    "treatments.record_words",
    *(f"counts.tables.{name}" for name in ("archive", "cells", "encodings", "headings", "kinds", "limits")),
    *(f"counts.tables.{name}" for name in ("refusals", "shapes", "sheet", "text", "workbook")),
}
"""Pure, but no method: words, doses, rights, files. Modules that begin with _ are shown by those that use them."""
REASONS = (
    *(
        Refusal,
        Reason,
        Verdict,
        NoPrior,
        NoSpread,
        NoTrend,
        NoOutlook,
        NoTerm,
        NoPlan,
        NoCharge,
        InTheWay,
        SuppressReason,
        Problem,
        Question,
        Oddity,
    ),
    Fit,
)


def pure_modules():
    contracts = tomllib.loads((BASE / "pyproject.toml").read_text())["tool"]["importlinter"]["contracts"]
    return next(one["source_modules"] for one in contracts if one["type"] == "forbidden")


def public_functions(name):
    module = importlib.import_module(name)
    names = getattr(module, "__all__", [one for one in vars(module) if not one.startswith("_")])
    mine = {one for one in names if inspect.isfunction(inspect.unwrap(getattr(module, one)))}
    if hasattr(module, "__all__"):
        return mine
    return {one for one in mine if getattr(module, one).__module__ == name}


def test_every_pure_module_is_a_method_or_known_to_be_none():
    shown = {name for name in pure_modules() if not name.rpartition(".")[2].startswith("_")}

    assert shown == ({one for one in SUMS if "._" not in one} | OTHERS)


@pytest.mark.parametrize("name", SUMS)
def test_every_public_sum_stands_in_the_table(name):
    functions = public_functions(name)

    assert functions
    assert {one for one in functions if f"`{one}`" not in METHODS} == set()


@pytest.mark.parametrize("reasons", REASONS, ids=lambda one: one.__name__)
def test_every_reason_stands_on_the_page(reasons: type[Enum]):
    assert {one.value for one in reasons if f"`{one.value}`" not in METHODS} == set()


def test_no_function_is_named_that_is_gone():
    known = set().union(*map(public_functions, SUMS)) | {"between_part", "course", "brood_of", "broodless"}
    table = METHODS.split("## One count")[0]

    assert set(re.findall(r"`([a-z0-9]+(?:_[a-z0-9]+)+)`", table)) <= known


def names_of_tests():
    return {
        node.name
        for path in (BASE / "tests").rglob("test_*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.FunctionDef)
    }


def test_every_test_of_a_check_value_exists():
    named = set(re.findall(r"`(test_\w+)`", CHECKS))

    assert len(named) > 50
    assert named - names_of_tests() == set()


def test_every_check_value_has_a_mark_and_a_test():
    rows = [line for line in CHECKS.splitlines() if line.startswith("| ") and not line.startswith("| what")]

    assert len(rows) > 50
    for row in rows:
        cells = [cell.strip() for cell in row.strip("|").split(" | ")]
        assert len(cells) == 5 and cells[3] in {"published", "computed", "data"} and "`test_" in cells[4], row
