"""The chart is a plain SVG: well-formed, always the same, in the pages' colours, nothing active or from elsewhere."""

import re
from pathlib import Path
from xml.etree import ElementTree

import pytest

from apiaries.language import month_short
from reports import drawings
from reports.charts import SIZES, THEMES, Mark, chart_svg

MONTHS = [month_short(number) for number in range(1, 13)]
SVG = "{http://www.w3.org/2000/svg}"
ROOT = Path(__file__).parents[2]
SEASON = [
    Mark(region, month, rate := 0.5 + number * 0.4, rate / 2, rate * 2, 3.0)
    for region in ("North & <Fork>", "South")
    for number, month in enumerate(MONTHS[3:9])
]


@pytest.fixture(autouse=True)
def own_cache(settings):
    settings.CACHES = {"default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"}}
    drawings.cache.clear()


def _drawn(marks=SEASON, **changes):
    regions = list(dict.fromkeys(mark.region for mark in marks)) or ["South"]
    wanted = {"regions": regions, "unit": "per 100 bees", "theme": "light", "size": "wide"}
    return chart_svg(marks, **(wanted | changes))


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("size", SIZES)
def test_chart_is_well_formed_and_has_nothing_active(theme, size):
    root = ElementTree.fromstring(_drawn(theme=theme, size=size))
    names = {element.tag for element in root.iter()}
    text = _drawn(theme=theme, size=size)

    assert root.tag == f"{SVG}svg"
    assert not names & {f"{SVG}script", f"{SVG}foreignObject", f"{SVG}style", f"{SVG}a", f"{SVG}image"}
    assert not re.search(r"\son\w+=|javascript:|@font-face|https?://(?!www\.w3\.org/)", text)


def test_chart_shows_names_and_the_unit_as_text():
    words = "".join(ElementTree.fromstring(_drawn()).itertext())

    assert "North & <Fork>" in words
    assert "Mites per 100 bees" in words
    assert all(month in words for month in MONTHS)


def test_chart_has_a_bar_a_ring_and_a_level_for_each_month():
    described = re.findall(r'aria-roledescription="(bar|tick|point)"', _drawn())

    assert {kind: described.count(kind) for kind in ("bar", "tick", "point")} == {
        "bar": 12,
        "tick": 12,
        "point": 12,
    }


def test_chart_is_the_same_every_time_it_is_drawn():
    first = _drawn()
    drawings.cache.clear()

    assert _drawn() == first


def test_chart_is_drawn_once_for_what_it_shows(monkeypatch):
    first = _drawn()
    monkeypatch.setattr(drawings.vl_convert, "vegalite_to_svg", lambda *_, **__: "drawn anew")

    assert _drawn() == first
    assert _drawn(theme="dark") == "drawn anew"
    assert _drawn(SEASON[:5]) == "drawn anew"


def test_chart_without_a_figure_is_still_a_chart():
    assert ElementTree.fromstring(_drawn([])).tag == f"{SVG}svg"


@pytest.mark.parametrize(("theme", "block"), [("light", 0), ("dark", 1)])
def test_chart_has_the_colours_of_the_pages(theme, block):
    css = (ROOT / "config" / "static" / "recount.css").read_text()
    tokens = dict(
        re.findall(r"--([a-z-]+):\s*(#[0-9a-f]{6});", re.findall(r":root\s*{(.*?)}", css, re.S)[block])
    )

    assert {name: tokens[name] for name in THEMES[theme]} == THEMES[theme]
    assert THEMES[theme]["sheet"] in _drawn(theme=theme)
