"""All tables of an export in the order of the file, and the version that a reader goes by."""

from reports.export import counted, places, treated, visited
from reports.export.tables import Table

FILE = "Recount export"
VERSION = 1
"""Raised when a column that comes back changes its name or its meaning; a new column raises it by nothing."""
ABOUT = "about"
TABLES: tuple[Table, ...] = (
    places.ACCOUNT,
    places.YARDS,
    places.HELPERS,
    places.COLONIES,
    places.MOVES,
    places.CHANGES,
    counted.COUNTS,
    counted.RESTORED,
    counted.LEFT_OUT,
    treated.DEVICES,
    treated.TREATMENTS,
    treated.ROUNDS,
    treated.DOSES,
    treated.RECOUNTS,
    treated.SHEETS,
    treated.SHEET_HIVES,
    treated.TICKS,
    treated.RECORD_CHANGES,
    treated.PURCHASES,
    treated.DISPOSALS,
    *visited.VISITED,
)
BACK = {table.name: table for table in TABLES if table.comes_back}
