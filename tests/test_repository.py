"""What holds for the repository as a whole: the pure list, its top level, and nothing of anybody's machine."""

import ast
import re
import subprocess
import tomllib
from pathlib import Path

BASE = Path(__file__).resolve().parent.parent
PACKAGES = ("apiaries", "config", "counts", "reports", "treatments")
# Of what may lie at the top, and nothing else, so that the first page of the repository stays readable.
TOP = {
    ".ci",
    ".editorconfig",
    ".env.example",
    ".gitignore",
    "DEVELOPERS.md",
    "LICENSE",
    "Makefile",
    "README.md",
    "SECURITY.md",
    "constraints.txt",
    "docs",
    "fixtures",
    "manage.py",
    "pyproject.toml",
    "tests",
    *PACKAGES,
}
HOMES = re.compile(r"(?<![\w.:/-])/(?:home|Users|root|work|workspace|mnt)/[\w.-]+")


def committed() -> list[str]:
    """Paths of all files under version control, or to be."""
    listed = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard", "-z"],
        cwd=BASE,
        capture_output=True,
        text=True,
        check=True,
    )
    return [path for path in listed.stdout.split("\0") if path and (BASE / path).is_file()]


def pyproject() -> dict:
    return tomllib.loads((BASE / "pyproject.toml").read_text())


def contract(kind: str) -> dict:
    (found,) = (one for one in pyproject()["tool"]["importlinter"]["contracts"] if one["type"] == kind)
    return found


def says_pure(path: str) -> bool:
    lines = (ast.get_docstring(ast.parse((BASE / path).read_text())) or "").splitlines()
    return bool(lines) and lines[0].endswith("Pure.")


def module_of(path: str) -> str:
    return path.removesuffix(".py").removesuffix("/__init__").replace("/", ".")


def test_pure_modules_are_exactly_those_in_the_contract() -> None:
    ours = [path for path in committed() if path.endswith(".py") and path.split("/")[0] in PACKAGES]

    assert sorted(contract("forbidden")["source_modules"]) == sorted(
        module_of(path) for path in ours if says_pure(path)
    )


def test_pure_modules_are_typed_strictly() -> None:
    strict = next(one for one in pyproject()["tool"]["mypy"]["overrides"] if one.get("disallow_untyped_defs"))

    assert set(contract("forbidden")["source_modules"]) <= set(strict["module"])


def test_contracts_name_all_packages_and_frameworks() -> None:
    assert contract("layers")["layers"] == ["config", "reports", "treatments", "counts", "apiaries"]
    assert {"django", "rest_framework", "celery"} <= set(contract("forbidden")["forbidden_modules"])


def test_top_level_holds_nothing_else() -> None:
    assert {path.split("/")[0] for path in committed()} <= TOP


def test_no_file_names_a_folder_of_somebodys_machine() -> None:
    found = {}
    for path in committed():
        contents = (BASE / path).read_bytes()
        if b"\0" not in contents:
            names = HOMES.findall(contents.decode("utf-8", errors="replace"))
            found |= {path: names} if names else {}

    assert found == {}


def test_every_pin_is_exact_and_every_dependency_is_pinned() -> None:
    pins = [line for line in (BASE / "constraints.txt").read_text().splitlines() if line and line[0] != "#"]
    project = pyproject()["project"]
    wanted = [*project["dependencies"], *project["optional-dependencies"]["dev"]]

    assert all(re.fullmatch(r"[\w.-]+==[\w.!+]+", pin) for pin in pins)
    assert {plain(one) for one in wanted} <= {plain(pin) for pin in pins}


def plain(requirement: str) -> str:
    """The name of a requirement, as package indexes compare it."""
    return re.split(r"[\[<>=!~; ]", requirement)[0].lower().replace("_", "-").replace(".", "-")


def test_modules_stay_short() -> None:
    longest = {
        path: len((BASE / path).read_text().splitlines())
        for path in committed()
        if path.endswith(".py") and path.split("/")[0] in PACKAGES and "/migrations/" not in path
    }

    assert {path: lines for path, lines in longest.items() if lines > 300} == {}
