"""What the tests of files may ask for."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from counts.tables import CannotRead, Table, read_table
from counts.tables.shapes import Row
from tests.files.making import KNOWN

Read = Callable[..., tuple[Table, list[Row]]]
Refuse = Callable[..., CannotRead]


@pytest.fixture
def read(tmp_path: Path) -> Read:
    """What is read from these bytes: the table (closed) and all its rows."""

    def go(data: bytes, name: str = "counts", **more: Any) -> tuple[Table, list[Row]]:
        place = tmp_path / "upload"
        place.write_bytes(data)
        with read_table(place, name=name, **({"known": KNOWN} | more)) as table:
            return table, list(table.rows())

    return go


@pytest.fixture
def refused(read: Read) -> Refuse:
    """Why these bytes are refused."""

    def go(data: bytes, **more: Any) -> CannotRead:
        with pytest.raises(CannotRead) as caught:
            read(data, **more)
        return caught.value

    return go
