"""How much of a club's table is read, and why no more. Pure.

None of these is a fact of the trade. They are chosen so that 100,000 counts fit, and so that a file made to harm the
site costs it some seconds of one core and a bounded piece of memory. No single limit does that alone.
"""

from __future__ import annotations

MB = 1024 * 1024

MOST_ROWS = 100_000
"""Thirty years of a club with 300 colonies that counts eleven times a year."""
MOST_COLUMNS = 100
MOST_CELL = 2_000
"""Characters in a cell: a long note. Longer ones are usually a quotation mark that was never closed."""
HEADING_ROWS = 20
"""Headings may stand below a title, a club's address and some blank rows, but not further down."""

MOST_CSV_BYTES = 20 * MB
"""100,000 rows of 12 columns take about 8 MB, and twice that in UTF-16. Text is read by the piece: it never unfolds."""
MOST_XLSX_BYTES = 10 * MB
"""The same rows take about 6 MB packed."""
MOST_ENTRIES = 100
"""Parts of a workbook. A plain one has about ten; each more sheet, picture or chart adds one or two."""
MOST_UNPACKED = 120 * MB
"""Size of all parts unfolded, as the archive itself declares it. The same rows take about 55 MB."""
MOST_RATIO = 200
"""How many times larger a part may get. XML of a real sheet unfolds 5 to 40 times; deflate can do 1,000 times."""

MOST_MEMORY = 384 * MB
"""Address space of the process that reads, so that what it really uses stays below 400 MB."""
SPARE_MEMORY = 8 * MB
"""Of that, kept aside for saying that the rest was too little."""
MOST_CPU_SECONDS = 20
MOST_SECONDS = 60
"""On the clock: a busy machine may need longer than the processor time."""
MOST_SPOOL_BYTES = 120 * MB
"""What the rows may take on their way back: a workbook can point to one long text from every cell."""
MOST_LINE = 2 * MOST_COLUMNS * MOST_CELL
"""Characters in a line of text: a row filled to the brim, with room for doubled quotation marks."""
