"""What stands beside a dump: what it holds, of which release, and the sum of each file."""

import json
import os
from collections.abc import Iterator
from dataclasses import asdict, dataclass, field
from hashlib import file_digest
from pathlib import Path
from typing import Any

from django.conf import settings
from django.utils.crypto import salted_hmac

from config.keeping.refusals import Refused
from config.keeping.tallies import Tally

FORMAT = 1
MANIFEST = "manifest.json"
SUMS = "SHA256SUMS"
DUMP = "database"
JOURNAL = "erasure_journal.jsonl"


@dataclass(frozen=True)
class Manifest:
    """All that a restore holds a database against."""

    taken_at: str
    """In UTC; whatever was saved until then is in it."""
    release: str
    """Version, and the commit where it is known."""
    server: int
    """Major version of PostgreSQL."""
    dumped_by: int
    """Major version of pg_dump."""
    key: str
    """By which SECRET_KEY is known again; it cannot be worked out from this."""
    migrations: list[tuple[str, str]]
    tables: dict[str, Tally]
    rules: dict[str, int]
    roles: list[str]
    """Those that were granted something: a restore needs them."""
    chains: list[dict[str, Any]]
    """The heads of the medicine records' chains."""
    left_out: list[str]
    journal: bool
    """Whether somebody had been forgotten by then: a copy of the journal lies beside."""
    files: dict[str, str] = field(default_factory=dict)
    """SHA-256 of every other file, by its path from here."""

    @property
    def rows(self) -> int:
        return sum(table.rows for table in self.tables.values())


def fingerprint(key: str) -> str:
    """Of a SECRET_KEY: a keyed hash, cut short."""
    return salted_hmac("config.keeping.key", "fingerprint", key, algorithm="sha256").hexdigest()[:16]


def knows_key(mark: str) -> bool:
    """Whether it is of a key of these settings."""
    return mark in map(fingerprint, (settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS))


def write(folder: Path, manifest: Manifest) -> int:
    """Manifest and sums into the folder of a dump, all of it on the disk; how many bytes lie there now."""
    files = {str(path.relative_to(folder)): sha256(path) for path in _files(folder)}
    told = asdict(manifest) | {"format": FORMAT, "files": files}
    _save(folder / MANIFEST, json.dumps(told, indent=1, sort_keys=True) + "\n")
    files[MANIFEST] = sha256(folder / MANIFEST)
    # As sha256sum writes it, so that a copy can be checked without us: sha256sum -c SHA256SUMS
    _save(folder / SUMS, "".join(f"{sum_}  {name}\n" for name, sum_ in sorted(files.items())))
    for path in (folder, *(one for one in folder.rglob("*") if one.is_dir())):
        on_disk(path)
    return sum(path.stat().st_size for path in _files(folder))


def read(folder: Path) -> Manifest:
    """What the folder says of itself, after every file was held against its sum. Refused where anything differs."""
    try:
        sums = {line[66:]: line[:64] for line in (folder / SUMS).read_text().splitlines()}
        if sha256(folder / MANIFEST) != sums.get(MANIFEST):
            raise Refused(f"{folder / MANIFEST} is not as it was written: this copy is damaged.")
        told = json.loads((folder / MANIFEST).read_text())
        if told.pop("format") != FORMAT:
            raise Refused(f"{folder} was written by a newer Recount. Restore it with that release.")
        told["tables"] = {name: Tally(**one) for name, one in told["tables"].items()}
        told["migrations"] = [(app, name) for app, name in told["migrations"]]
        manifest = Manifest(**told)
    except OSError as error:
        raise Refused(f"{folder} is no whole backup: {error.filename}: {error.strerror}.") from error
    except (ValueError, KeyError, TypeError) as error:
        raise Refused(f"{folder} is no backup of ours, or its {SUMS} or {MANIFEST} is damaged.") from error
    for name, sum_ in sorted(manifest.files.items()):
        path = folder / name
        if not path.is_file():
            raise Refused(f"{path} is missing: this copy is not whole.")
        if sha256(path) != sum_:
            raise Refused(f"{path} is not as it was written: this copy is damaged.")
    if f"{DUMP}/toc.dat" not in manifest.files:
        raise Refused(f"{folder} holds no dump.")
    return manifest


def sha256(path: Path) -> str:
    with path.open("rb") as file:
        return file_digest(file, "sha256").hexdigest()


def on_disk(path: Path) -> None:
    """See a file or folder on the disk."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _save(path: Path, text: str) -> None:
    path.write_text(text)
    on_disk(path)


def _files(folder: Path) -> Iterator[Path]:
    return (path for path in sorted(folder.rglob("*")) if path.is_file())
