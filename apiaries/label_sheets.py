"""Sheets of labels to stick on hives: where each label lies, and what is printed on it."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from apiaries.codes import code_svg
from apiaries.language import mark, say
from apiaries.models import Colony
from apiaries.paper import Paper, set_pdf
from apiaries.templatetags.recount_words import plain

TEMPLATE = Path(__file__).resolve().parent / "sheets" / "labels.typ"
TEST_TEMPLATE = TEMPLATE.with_name("labels_test.typ")
ERROR = "q"
"""A quarter of the code may be hidden under propolis (level Q of ISO/IEC 18004)."""
TRIAL_ADVICE = (
    mark(
        "Both rulers must be 150 mm long. If they are not, the printer scales: choose “actual size” or 100 % and print "
        "again."
    ),
    mark(
        "Hold this page and a sheet of labels against the light. Where the outlines lie beside the labels, measure by "
        "how many millimetres, and enter that under “Move right” and “Move down”."
    ),
)
INSET = 2.5
"""Millimetres of each label that stay free: sheets do not lie in printers to the hair (our choice)."""


@dataclass(frozen=True, slots=True)
class Grid:
    """Labels of one size on one paper. All lengths in mm: of a label, to the first one, and from one to the next."""

    key: str
    paper: Paper
    columns: int
    rows: int
    width: float
    height: float
    left: float
    top: float
    across: float
    down: float

    @property
    def number(self) -> int:
        """Labels on a sheet."""
        return self.columns * self.rows

    @property
    def words(self) -> str:
        """The grid as a choice names it."""
        return say(
            "{paper}, {columns} × {rows} labels of {width} × {height} mm",
            paper={Paper.A4: "A4", Paper.LETTER: "US Letter"}[self.paper],
            columns=self.columns,
            rows=self.rows,
            width=plain(self.width),
            height=plain(self.height),
        )

    def place(self, position: int) -> tuple[float, float]:
        """Left and top edge of a label, counted from 0 along the rows."""
        row, column = divmod(position, self.columns)
        return self.left + column * self.across, self.top + row * self.down


GRIDS = (
    Grid("a4-3x8", Paper.A4, 3, 8, 70, 37, 0, 0.5, 70, 37),
    Grid("a4-3x7", Paper.A4, 3, 7, 63.5, 38.1, 7.25, 15.15, 66, 38.1),
    Grid("a4-2x4", Paper.A4, 2, 4, 99.1, 67.7, 4.65, 13.1, 101.6, 67.7),
    Grid("letter-3x10", Paper.LETTER, 3, 10, 66.7, 25.4, 4.75, 12.7, 69.85, 25.4),
    Grid("letter-2x5", Paper.LETTER, 2, 5, 101.6, 50.8, 4, 12.7, 106.4, 50.8),
    Grid("letter-2x3", Paper.LETTER, 2, 3, 101.6, 84.7, 4, 12.65, 106.4, 84.7),
)
"""Common sizes (from memory; the test page shows whether a sheet is one of them). The first is the usual one."""
BY_KEY = {grid.key: grid for grid in GRIDS}


@dataclass(frozen=True, slots=True)
class Sheet:
    """How to print: which grid, moved so many mm to the right and down, beginning at a label counted from 1."""

    grid: Grid
    right: float = 0.0
    below: float = 0.0
    start: int = 1


def labels_pdf(
    colonies: Sequence[Colony], sheet: Sheet, *, address_of: Callable[[str], str], title: str
) -> bytes:
    """The labels of these colonies; `address_of` makes the address that a label's code leads to."""
    return set_pdf(
        TEMPLATE, labels_data(colonies, sheet, address_of=address_of, title=title), paper=sheet.grid.paper
    )


def labels_data(
    colonies: Sequence[Colony], sheet: Sheet, *, address_of: Callable[[str], str], title: str
) -> dict[str, Any]:
    """What the template is given: plain texts and lengths in mm."""
    grid = sheet.grid
    labels = []
    for at, colony in enumerate(colonies, start=sheet.start - 1):
        page, position = divmod(at, grid.number)
        left, top = grid.place(position)
        labels.append(
            {
                "page": page,
                "left": left + sheet.right,
                "top": top + sheet.below,
                "name": colony.name,
                "code": spaced(colony.label_code),
                "qr": code_svg(address_of(colony.label_code), error=ERROR),
                "qr_alt": say("Code of hive {name}", name=colony.name),
            }
        )
    last = sheet.start - 1 + len(colonies) - 1
    return _shared(sheet, title) | {"labels": labels, "pages": 1 + last // grid.number}


def trial_page_pdf(sheet: Sheet) -> bytes:
    """Outlines of all labels and two rulers, for plain paper: does the printer scale, and does the grid fit?"""
    grid = sheet.grid
    places = [grid.place(position) for position in range(grid.number)]
    outlines = [{"left": left + sheet.right, "top": top + sheet.below} for left, top in places]
    title = say("Test page for {sheet}", sheet=grid.words)
    data = _shared(sheet, title) | {"labels": outlines, "advice": [say(words) for words in TRIAL_ADVICE]}
    return set_pdf(TEST_TEMPLATE, data, paper=grid.paper)


def _shared(sheet: Sheet, title: str) -> dict[str, Any]:
    grid = sheet.grid
    return {"title": title, "width": grid.width, "height": grid.height, "inset": INSET}


def spaced(code: str) -> str:
    """A label's code in two groups, easier to read aloud."""
    half = len(code) // 2
    return f"{code[:half]} {code[half:]}"
