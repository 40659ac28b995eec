"""The colours pass as text, as figures and as marks, in both themes and on paper.

Ratios after WCAG 2.2, success criteria 1.4.3 (text 4.5), 1.4.11 (marks 3) and, for figures read in sunlight,
the stricter 7 of 1.4.6. Formula: WCAG 2.2, "relative luminance" and "contrast ratio", www.w3.org/TR/WCAG22.
"""

import re
from pathlib import Path

import pytest

CSS = Path(__file__).parents[2] / "config" / "static" / "recount.css"
TOKEN = re.compile(r"--([a-z-]+):\s*#([0-9a-fA-F]{3,6});")
GROUNDS = ("paper", "sheet")
HUES = ("below", "either", "above", "unsure", "accent", "wrong")


def tokens(css: str, opening: str) -> dict[str, str]:
    """The colours of the :root block that follows the opening, as six hex digits."""
    block = css[css.index(opening) :]
    block = block[block.index(":root {") : block.index("}", block.index(":root {"))]
    return {
        name: value if len(value) == 6 else "".join(2 * c for c in value)
        for name, value in TOKEN.findall(block)
    }


def luminance(colour: str) -> float:
    channels = [int(colour[i : i + 2], 16) / 255 for i in (0, 2, 4)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def ratio(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


SHEET = CSS.read_text()
LIGHT = tokens(SHEET, ":root {")
DARK = tokens(SHEET, "@media (prefers-color-scheme: dark)")
PRINT = LIGHT | tokens(SHEET, "@media print")
THEMES = pytest.mark.parametrize("theme", [LIGHT, DARK, PRINT], ids=["light", "dark", "print"])

TINTS = {"below": "below-tint", "either": "either-tint", "above": "above-tint", "unsure": "unsure-tint"}
TEXT = [("muted", ground) for ground in (*GROUNDS, "unsure-tint")]
TEXT += [(link, ground) for link in ("accent", "accent-strong") for ground in (*GROUNDS, "accent-tint")]
TEXT += [("wrong", ground) for ground in (*GROUNDS, "wrong-tint")]
FIGURES = [("ink", ground) for ground in (*GROUNDS, "sunk", *TINTS.values(), "accent-tint", "wrong-tint")]
MARKS = [(hue, ground) for hue in (*HUES, "edge", "focus") for ground in GROUNDS]
MARKS += [(hue, f"{hue}-tint") for hue in HUES]


def test_black_on_white_is_21():
    assert ratio("000000", "ffffff") == pytest.approx(21)  # WCAG 2.2, note on contrast ratio: 1 to 21


def test_the_published_hues_keep_their_published_ratio():
    # Okabe and Ito's orange on white is too pale for a mark (2.25), so it only ever fills a dark edge.
    assert ratio("e69f00", "ffffff") == pytest.approx(2.25, abs=0.01)
    assert ratio(LIGHT["above"], "ffffff") == pytest.approx(6.07, abs=0.01)
    assert ratio(LIGHT["below"], "ffffff") == pytest.approx(8.96, abs=0.01)


@THEMES
def test_every_theme_names_every_colour(theme):
    assert set(theme) == set(LIGHT) and len(LIGHT) > 20


@THEMES
@pytest.mark.parametrize(("front", "back"), TEXT)
def test_text_is_readable(theme, front, back):
    assert ratio(theme[front], theme[back]) >= 4.5


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=["light", "dark"])
def test_button_words_are_readable(theme):
    assert ratio(theme["on-accent"], theme["accent"]) >= 4.5
    assert ratio(theme["on-accent"], theme["accent-strong"]) >= 4.5


@THEMES
@pytest.mark.parametrize(("front", "back"), FIGURES)
def test_figures_are_readable_in_sunlight(theme, front, back):
    assert ratio(theme[front], theme[back]) >= 7


@THEMES
@pytest.mark.parametrize(("front", "back"), MARKS)
def test_marks_edges_and_focus_are_seen(theme, front, back):
    assert ratio(theme[front], theme[back]) >= 3


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=["light", "dark"])
def test_the_focus_ring_stands_out_from_what_it_rings(theme):
    for filled in ("accent-tint", "wrong-tint", "sheet", "paper"):
        assert ratio(theme["focus"], theme[filled]) >= 3


def told_ratios() -> list[tuple[str, str, str, str]]:
    page = Path(__file__).parents[2] / "docs" / "explanation" / "look.md"
    return re.findall(
        r"^\| ([a-z-]+) on ([a-z-]+) \| ([\d.]+) \| ([\d.]+) \|$", page.read_text(), re.MULTILINE
    )


def test_the_table_of_the_page_on_the_look_is_what_the_tokens_give():
    told = told_ratios()
    assert len(told) >= 10
    for front, back, light, dark in told:
        assert (light, dark) == tuple(f"{ratio(theme[front], theme[back]):.2f}" for theme in (LIGHT, DARK))
