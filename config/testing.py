"""pytest's first plugin: says that this is a test run, and starts the embedded database unless DATABASE_URL is set.

It must be named in addopts (-p config.testing), because Django's settings are read before any conftest.
"""

import os

os.environ["RECOUNT_TEST"] = "1"

from config.entry import prepare  # noqa: E402  (the settings look at RECOUNT_TEST)
from config.paths import VAR  # noqa: E402

(VAR / "static").mkdir(
    parents=True, exist_ok=True
)  # WhiteNoise warns of a missing one; warnings are errors here
prepare("pytest")
