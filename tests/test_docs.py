"""The documents say what the code does: settings, permissions, constants, commands, files, links, pictures."""

import importlib.util
import re
import struct
import sys
from pathlib import Path
from types import ModuleType

import pytest
from django.core.management import get_commands

import counts.constants
import reports.constants
import treatments.constants
from apiaries.permissions import Permission, Role

BASE = Path(__file__).resolve().parent.parent
DOCS = BASE / "docs"
REFERENCE = DOCS / "reference"
ABOUT = ("README.md", "DEVELOPERS.md", "SECURITY.md")
PAGES = sorted([*DOCS.rglob("*.md"), *(BASE / name for name in ABOUT)])
READ = re.compile(
    r'(?:environ(?:\.get|\.setdefault|\.pop)?[\[(]|yes_or_no\(|whole_number\(|env\.\w+\()\s*"([A-Z][A-Z_]+)"'
)
FENCED = re.compile(r"^```.*?^```", re.MULTILINE | re.DOTALL)
LINK = re.compile(r"\[[^\]]*\]\(([^)\s]+)\)")
GENERATORS = (
    "make_tables",
    "make_constants",
    "make_permissions",
    "make_mails",
    "make_api",
    "make_exports",
    "make_retention",
    "make_licences",
    "make_asvs",
)


def ids(path: Path) -> str:
    return str(path.relative_to(BASE))


def variables_read(folder: str) -> set[str]:
    """Names of the environment variables that the code of a folder asks for."""
    return {name for path in (BASE / folder).rglob("*.py") for name in READ.findall(path.read_text())}


def variables_documented() -> set[str]:
    return set(re.findall(r"^\| `([A-Z_]+)` \|", (REFERENCE / "settings.md").read_text(), re.MULTILINE))


def test_every_setting_is_documented() -> None:
    read = variables_read("config")

    assert {"DATABASE_URL", "SECRET_KEY", "RECOUNT_VAR", "TRUSTED_PROXIES"} <= read, (
        "the search finds nothing"
    )
    assert read - variables_documented() == set()


def test_no_setting_is_documented_that_nobody_reads() -> None:
    elsewhere = "".join(
        (BASE / name).read_text() for name in ("Makefile", ".ci/run", "tests/browser/conftest.py")
    )
    unread = variables_documented() - variables_read("config")

    assert {name for name in unread if not re.search(rf"\b{name}\b", elsewhere)} == set()


@pytest.mark.parametrize("app", ["apiaries", "counts", "treatments", "reports"])
def test_only_config_reads_the_environment(app: str) -> None:
    assert variables_read(app) == set()


def table_rows(name: str) -> dict[str, list[str]]:
    """Rows of a page's tables by the name in their first cell."""
    lines = (REFERENCE / name).read_text().splitlines()
    rows = [
        [cell.strip() for cell in line.strip("|").split(" | ")] for line in lines if line.startswith("| `")
    ]
    return {row[0].strip("` "): row for row in rows}


@pytest.mark.parametrize("module", [counts.constants, treatments.constants, reports.constants])
def test_every_constant_stands_there_with_value_mark_and_source(module: ModuleType) -> None:
    page = (REFERENCE / "constants.md").read_text()
    section = page.split(f"`{module.__name__}`")[1].split("\n## ")[0]

    for name, one in module.DEFAULTS.named():
        (line,) = re.findall(rf"^\| `{name}` \|.*$", section, re.MULTILINE)
        assert f"| {one.value:g} " in line and f"| {one.mark} |" in line and (one.source or "–") in line


def test_every_permission_and_role_stands_there() -> None:
    rows = table_rows("permissions.md")

    assert {permission.value for permission in Permission} <= rows.keys()
    assert all(f"| {role.value} |" in (REFERENCE / "permissions.md").read_text() for role in Role)


def generator(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(name, REFERENCE / f"{name}.py")
    assert spec and spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize("name", GENERATORS)
def test_generated_pages_are_current(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "path", [str(REFERENCE), *sys.path])
    pages = generator(name).PAGES

    assert pages
    assert {page for page, written in pages.items() if (REFERENCE / page).read_text() != written()} == set()


def slug(heading: str) -> str:
    """The anchor that a heading gets where Markdown is shown."""
    plain = re.sub(r"\[([^\]]*)\]\([^)]*\)", r"\1", heading).strip().lower()
    return re.sub(r"[^\w\- ]", "", plain).replace(" ", "-")


def anchors(page: Path) -> set[str]:
    text = page.read_text()
    headings = re.findall(r"^#+ (.+)$", FENCED.sub("", text), re.MULTILINE)
    return {slug(heading) for heading in headings} | set(re.findall(r'<a id="([^"]+)"', text))


@pytest.mark.parametrize("page", PAGES, ids=ids)
def test_links_lead_somewhere(page: Path) -> None:
    broken = []
    for link in LINK.findall(FENCED.sub("", page.read_text())):
        path, _, anchor = link.partition("#")
        target = (page.parent / path).resolve() if path else page
        if re.match(r"[a-z]+:", link):
            continue
        if not target.exists() or (anchor and target.suffix == ".md" and anchor not in anchors(target)):
            broken.append(link)

    assert broken == []


def test_every_page_is_reached_from_the_index() -> None:
    seen, waiting = set(), [DOCS / "index.md"]
    while waiting:
        page = waiting.pop()
        if page in seen or page.suffix != ".md" or not page.exists():
            continue
        seen.add(page)
        links = LINK.findall(FENCED.sub("", page.read_text()))
        waiting += [(page.parent / link.partition("#")[0]).resolve() for link in links if ":" not in link]

    assert {ids(page) for page in DOCS.rglob("*.md")} - {ids(page) for page in seen} == set()


@pytest.mark.parametrize("page", PAGES, ids=ids)
def test_commands_named_exist(page: Path) -> None:
    text = page.read_text()
    code = "\n".join(re.findall(r"`[^`\n]+`", text) + FENCED.findall(text))
    targets = set(re.findall(r"^([a-z-]+):", (BASE / "Makefile").read_text(), re.MULTILINE))

    assert set(re.findall(r"(?<![\w-])make ([a-z]+)", code)) <= targets
    assert set(re.findall(r"manage\.py ([a-z]\w+)", code)) <= set(get_commands())


@pytest.mark.parametrize("page", [page for page in PAGES if "adr" not in page.parts], ids=ids)
def test_files_named_exist(page: Path) -> None:
    """A word in code style that begins like a path of the repository is one."""
    named = re.findall(
        r"`((?:apiaries|config|counts|treatments|reports|fixtures|tests|docs|\.ci)/[\w./-]*)`",
        page.read_text(),
    )

    assert {path for path in named if not (BASE / path).exists()} == set()


def test_readme_is_one_screen_and_opens_with_the_job() -> None:
    text = (BASE / "README.md").read_text()
    blocks = text.split("\n\n")

    assert blocks[0] == "# Recount" and len(blocks[1].split()) > 40
    assert re.findall(r"^make (\w+)", blocks[2], re.MULTILINE) == ["demo", "test"]
    assert len(text.split()) < 600 and len(re.findall(r"!\[", text)) == 4


def test_readme_runs_it_for_real_in_ten_lines() -> None:
    (real,) = re.findall(
        r"^## Run it for real.*?^```sh\n(.*?)^```", (BASE / "README.md").read_text(), re.M | re.S
    )

    assert len(real.splitlines()) <= 10
    for needed in ("DATABASE_URL", "CELERY_BROKER_URL", "EMAIL_URL", "SECRET_KEY", "ALLOWED_HOSTS"):
        assert needed in real


def pictures_named() -> set[Path]:
    return {
        (page.parent / link).resolve()
        for page in PAGES
        for link in re.findall(r"!\[[^\]]*\]\(([^)]+)\)", page.read_text())
    }


def test_pictures_named_are_png_and_small() -> None:
    named = pictures_named()

    assert len(named) >= 4
    for path in named:
        head = path.read_bytes()[:24]
        width, height = struct.unpack(">II", head[16:24])
        assert head.startswith(b"\x89PNG\r\n\x1a\n") and (width, height) in {(390, 844), (1280, 800)}
        assert path.stat().st_size < 200_000, path


def test_every_picture_has_words_for_who_cannot_see_it() -> None:
    words = [alt for page in PAGES for alt in re.findall(r"!\[([^\]]*)\]", page.read_text())]

    assert words and all(len(alt) > 10 for alt in words)
