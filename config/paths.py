"""Where the checkout is, and where everything lives that a run makes."""

import os
from pathlib import Path

BASE_DIR = Path(__file__).resolve().parent.parent
VAR = Path(os.environ.get("RECOUNT_VAR") or BASE_DIR / "var").absolute()
