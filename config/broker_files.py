"""Celery's broker of a first run: kombu's file transport, made to live through a kill at any moment.

Its messages only wake somebody up ("do all that is due"), so a lost one costs a minute; but a torn one would end the
worker, and old ones would pile up. Seen in kombu 5.7: the final file name is visible before its contents are written,
and contents that are not JSON are raised as an unrecoverable error.
"""

import json
import logging
import os
import tempfile
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from kombu.transport import filesystem

logger = logging.getLogger(__name__)


class Channel(filesystem.Channel):
    """Messages appear whole or not at all, and a torn one is left out."""

    def _put(self, queue: str, payload: dict[str, Any], **kwargs: Any) -> None:  # type: ignore[override]
        folder = self._messages()
        handle, part = tempfile.mkstemp(dir=folder, prefix=".", suffix=".part")
        with os.fdopen(handle, "w") as file:
            json.dump(payload, file)
        # The names sort by time; the random middle of the temporary name keeps them apart.
        Path(part).replace(folder / f"{datetime.now(UTC):%Y%m%d%H%M%S%f}_{Path(part).stem[1:]}.{queue}.msg")

    def _get(self, queue: str) -> dict[str, Any]:  # type: ignore[override]
        self._messages()
        while True:
            try:
                payload = super()._get(queue)
            except ValueError:  # not JSON; kombu has removed the file by now
                payload = None
            if isinstance(payload, dict) and "properties" in payload:
                return payload
            logger.warning("A message that was not whole was left out.")

    def _messages(self) -> Path:
        """Where they lie; made again, with the folders beside it, if somebody removed it."""
        folder = Path(self.data_folder_out)
        if not folder.exists():
            options(folder.parent)
        return folder

    def get_table(self, exchange: str) -> list[filesystem.exchange_queue_t]:
        try:
            return super().get_table(exchange)
        except ValueError:  # a worker is writing it at this moment, or was killed while it did
            return []

    def _lookup(self, exchange: str, routing_key: str, default: str | None = None) -> list[str]:
        # Without its table, kombu drops messages silently. Our queues are named as their routing keys.
        return super()._lookup(exchange, routing_key, default) or [routing_key]


class Transport(filesystem.Transport):
    """kombu's file transport with the channel above."""

    Channel = Channel


def options(folder: Path) -> dict[str, str]:
    """broker_transport_options with all folders made, closed to other users: who writes there commands the worker."""
    places = {name: folder / name for name in ("messages", "control", "taken")}
    for place in (folder, *places.values()):
        place.mkdir(parents=True, exist_ok=True)
        place.chmod(0o700)
    return {
        "data_folder_in": str(places["messages"]),
        "data_folder_out": str(places["messages"]),
        "control_folder": str(places["control"]),
        # kombu moves a message here before it reads it; by default that is the folder open to everybody.
        "processed_folder": str(places["taken"]),
    }


def tidy(folder: Path, *, at: datetime) -> list[str]:
    """Remove what no worker should find at its start: torn files, parts, and messages past their time. Their names."""
    removed = []
    for place in ("messages", "control", "taken"):
        for file in sorted((folder / place).glob("*")):
            passing = (
                place == "taken" or file.suffix == ".part"
            )  # there for a moment only, unless somebody died
            if _is_old(file, at) if passing else _is_spent(file, at):
                file.unlink(missing_ok=True)
                removed.append(file.name)
    return removed


def _is_old(file: Path, at: datetime) -> bool:
    """Whether nobody can be busy with the file any more."""
    try:
        return file.stat().st_mtime < at.timestamp() - 60
    except FileNotFoundError:
        return False


def _is_spent(file: Path, at: datetime) -> bool:
    """Whether the file is unreadable, or a message that has expired."""
    try:
        contents = json.loads(file.read_text())
    except FileNotFoundError:
        return False
    except ValueError:
        return True
    expires = contents.get("headers", {}).get("expires") if isinstance(contents, dict) else None
    return expires is not None and datetime.fromisoformat(expires) <= at
