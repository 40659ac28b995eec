"""The page about files states the limits that hold."""

from django.conf import settings

from counts.tables import limits
from counts.tables.limits import MB

PAGE = settings.BASE_DIR / "docs" / "reference" / "table-files.md"
STATED = {
    "rows below the headings": f"{limits.MOST_ROWS:,}",
    "columns": f"{limits.MOST_COLUMNS}",
    "characters in a cell": f"{limits.MOST_CELL:,}",
    "rows in which headings are looked for": f"{limits.HEADING_ROWS}",
    "CSV": f"{limits.MOST_CSV_BYTES // MB} MB",
    "XLSX": f"{limits.MOST_XLSX_BYTES // MB} MB",
    "parts of an XLSX": f"{limits.MOST_ENTRIES}",
    "XLSX unfolded": f"{limits.MOST_UNPACKED // MB} MB",
    "unfolding of one part": f"{limits.MOST_RATIO} times",
    "memory of the process": f"{limits.MOST_MEMORY // MB} MB of address space",
    "processor time": f"{limits.MOST_CPU_SECONDS} seconds",
    "time on the clock": f"{limits.MOST_SECONDS} seconds",
    "rows on their way back": f"{limits.MOST_SPOOL_BYTES // MB} MB",
}


def test_page_states_every_limit() -> None:
    section = PAGE.read_text().split("## Limits")[1].split("\n## ")[0]
    rows = [line.strip("|").split("|") for line in section.splitlines() if line.startswith("| ")][1:]

    assert {name.strip(): value.strip() for name, value, _ in rows} == STATED
