"""Contrast of what a chart draws against the ground it is drawn on, with the see-through marks mixed in first.

WCAG 2.2, success criteria 1.4.11 (marks 3) and 1.4.3 (text 4.5); formulas in tests/config/test_contrast.py.
"""

from collections.abc import Iterator
from xml.etree import ElementTree

from reports.charts import THEMES
from tests.config.test_contrast import ratio

SVG = "{http://www.w3.org/2000/svg}"
MARK, TEXT = 3, 4.5


def mixed(front: str, back: str, opacity: float) -> str:
    """The colour that is seen, six hex digits, of two written as #rrggbb."""
    channels = zip(bytes.fromhex(front[1:]), bytes.fromhex(back[1:]), strict=True)
    return bytes(round(opacity * one + (1 - opacity) * other) for one, other in channels).hex()


def drawn_marks(svg: str) -> Iterator[tuple[str, list[tuple[str, float]]]]:
    """What stands for a value, or names it: the element, and its colours with how dense each is."""
    for group in ElementTree.fromstring(svg).iter(f"{SVG}g"):
        kind = group.get("class", "")
        if "role-mark" not in kind and "role-axis-label" not in kind and "role-axis-title" not in kind:
            continue
        for one in group.iter():
            name = one.tag.removeprefix(SVG)
            if name in ("path", "line", "rect", "text"):
                dense = float(one.get("opacity", 1))
                paints = [
                    (one.get(paint, "none"), dense * float(one.get(f"{paint}-opacity", 1)))
                    for paint in ("fill", "stroke")
                ]
                yield name, [(colour, much) for colour, much in paints if colour.startswith("#")]


def colours_of(svg: str) -> set[str]:
    """All of them, to see that something was drawn."""
    return {colour for _, paints in drawn_marks(svg) for colour, _ in paints}


def too_pale(svg: str, theme: str) -> set[tuple[str, float]]:
    """Marks and words that fail, with the best ratio of their fill and their edge. Not looked at: the ground itself,
    grid lines, and the fills of heat, which say nothing alone: each has a number written in it.
    """
    colours = THEMES[theme]
    ground = colours["sheet"]
    heats = {value for name, value in colours.items() if name.startswith("heat")}
    quiet = heats | {ground, colours["rule"]}
    found = set()
    for name, paints in drawn_marks(svg):
        seen = [
            ratio(mixed(colour, ground, much), ground[1:]) for colour, much in paints if colour not in quiet
        ]
        if seen and max(seen) < (TEXT if name == "text" else MARK):
            found.add((name, round(max(seen), 2)))
    return found
