"""Write the description of the interface for other programs from its code.

.venv/bin/python docs/reference/make_api.py            writes the file
.venv/bin/python docs/reference/make_api.py --check    exits 1 if it is stale
"""

from __future__ import annotations

import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parents[1])]

import django  # noqa: E402

from config.entry import prepare  # noqa: E402

prepare("check")  # names the settings; needs no database
django.setup()

from make_tables import run  # noqa: E402

from config.api_docs import as_yaml  # noqa: E402

PAGES = {"openapi.yaml": lambda: as_yaml().decode()}

if __name__ == "__main__":
    sys.exit(run(PAGES, sys.argv[1:], script="make_api.py"))
