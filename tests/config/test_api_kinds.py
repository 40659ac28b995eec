"""Every word by which programs tell refusals apart is explained on the page that `type` points to."""

import re
from pathlib import Path

from config.api_docs import KINDS

BASE = Path(__file__).parents[2]
WORD = re.compile(r'\btype="([a-z-]+)"')


def test_every_kind_of_refusal_is_explained() -> None:
    files = [
        file
        for room in ("apiaries", "counts", "treatments", "reports")
        for file in BASE.glob(f"{room}/api/*.py")
    ]
    said = {word for file in files for word in WORD.findall(file.read_text())}

    assert {"needs-a-look", "key-used-before", "no-key", "still-at-work", "scope", "question"} <= said
    assert said <= {word for word, *_ in KINDS}
