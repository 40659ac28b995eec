"""What is cleared away of sheets that were brought (see apiaries/sweeping.py)."""

from apiaries.sweeping import Sweep
from counts.imports.doing import forget_old
from counts.imports.undoing import UNDO_DAYS

SWEEPS = (
    Sweep(
        "sheets",
        "The file of a sheet that was brought, and its rows as they were read",
        f"{UNDO_DAYS} days: until it can no longer be undone, or nobody came back to it",
        "Needed to undo it, and no longer. What was brought in, from which file and by whom stays.",
        forget_old,
    ),
)
