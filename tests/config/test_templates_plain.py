"""What every template and static file must leave out: inline code, inline style, anything from elsewhere."""

import re
from pathlib import Path
from xml.etree import ElementTree

import pytest

ROOT = Path(__file__).parents[2]


def _name(path: Path) -> str:
    return str(path.relative_to(ROOT))


def _words(path: Path) -> list[str]:
    return re.split(r"\W|_", _name(path))


# A mail's HTML needs inline style (readers drop the rest), so mails are not pages.
TEMPLATES = sorted(path for path in ROOT.glob("*/templates/**/*.html") if "mail" not in _words(path))
STATIC = sorted((ROOT / "config" / "static").glob("*.*"))


@pytest.mark.parametrize("path", TEMPLATES, ids=_name)
def test_a_template_has_no_inline_style_or_handler(path):
    text = path.read_text()
    assert not re.search(r"<[^>%]*\sstyle=", text)
    assert not re.search(r"<[^>%]*\son[a-z]+=", text)
    assert "<style" not in text


@pytest.mark.parametrize("path", TEMPLATES, ids=_name)
def test_a_template_has_no_inline_script(path):
    scripts = re.findall(r"<script\b([^>]*)>", path.read_text())
    assert all("src=" in script or "application/json" in script for script in scripts)


@pytest.mark.parametrize("path", [*TEMPLATES, *STATIC], ids=_name)
def test_nothing_is_fetched_from_elsewhere(path):
    text = path.read_text().replace("http://www.w3.org/2000/svg", "")
    assert not re.search(r"""(src|href)=["'](https?:)?//|url\(\s*["']?(https?:)?//|@import""", text)


@pytest.mark.parametrize("path", [path for path in STATIC if path.suffix == ".svg"], ids=_name)
def test_a_drawing_is_well_formed(path):
    assert ElementTree.parse(path).getroot().tag == "{http://www.w3.org/2000/svg}svg"
