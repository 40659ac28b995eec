"""Text inside a workbook: letters that XML cannot carry, or would change, as `_xHHHH_`. Pure.

After ECMA-376, part 1, ST_Xstring (22.9.2.19): an underscore that would begin such an escape is `_x005F_` itself.
"""

from __future__ import annotations

import re

_ODD = re.compile("[\x00-\x08\x0b-\x1f\ufffe\uffff]|_(?=x[0-9A-Fa-f]{4}_)")


def as_sheet_text(text: str) -> str:
    """As a workbook keeps it; every program that reads workbooks shows the text that it was."""
    return _ODD.sub(lambda found: f"_x{ord(found.group()):04X}_", text)
