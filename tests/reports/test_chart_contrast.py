"""Every mark of every chart stands out from its ground, in both themes: computed from what is drawn."""

import pytest

from reports.bulletin_chart import bulletin_svg
from reports.charts import SIZES, THEMES, Mark, chart_svg
from reports.season import season_of_colony
from reports.season_chart import WIDTHS, season_svg
from tests.config.test_contrast import ratio
from tests.reports.contrast import TEXT, colours_of, mixed, too_pale
from tests.reports.test_bulletin_words import shown
from tests.reports.test_season import ON, _own_cache, colony  # noqa: F401

BOTH = pytest.mark.parametrize("theme", THEMES)


def test_half_seen_colours_are_mixed_and_pale_ones_found():
    assert mixed("#000000", "#ffffff", 0.5) == "808080"
    pale = (
        '<svg xmlns="http://www.w3.org/2000/svg"><g class="mark-rect role-mark">'
        '<path fill="#0a5257" opacity="{}"/></g></svg>'
    )
    assert too_pale(pale.format(0.3), "light") and not too_pale(pale.format(0.65), "light")


@BOTH
@pytest.mark.parametrize("size", SIZES)
def test_marks_of_the_region_chart(db, theme, size):
    marks = [Mark("North", month, 1, 0.5, 2, 3.0, 1.2, 0.8, 1.9) for month in ("Apr", "May")]
    svg = chart_svg(marks, regions=["North"], unit="per 100 bees", theme=theme, size=size)

    assert len(colours_of(svg)) >= 4
    assert too_pale(svg, theme) == set()


@BOTH
@pytest.mark.parametrize("size", WIDTHS)
def test_marks_of_the_season_chart(cast, reference, colony, theme, size):  # noqa: F811
    svg = season_svg(season_of_colony(cast.alice, colony, ON), theme=theme, size=size)

    assert len(colours_of(svg)) >= 3
    assert too_pale(svg, theme) == set()


@BOTH
@pytest.mark.parametrize("size", ["wide", "narrow"])
def test_marks_of_the_bulletins_chart(db, theme, size):
    regions = [shown("North", 3.1, 2.2, 4.4, before=(2.0, 1.5, 2.7)), shown("South", 1, 0.4, 2)]
    svg = bulletin_svg(regions, "per 100 bees", theme=theme, size=size)

    assert len(colours_of(svg)) >= 3
    assert too_pale(svg, theme) == set()


@BOTH
def test_figures_are_read_on_every_heat(theme):
    colours = THEMES[theme]
    heats = [value for name, value in colours.items() if name.startswith("heat")]

    assert len(heats) == 5
    assert min(ratio(colours["ink"][1:], heat[1:]) for heat in heats) >= TEXT
