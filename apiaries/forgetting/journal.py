"""Who was forgotten, written down outside the database: what a restored backup brings back is forgotten again.

One line of JSON for each, appended and never changed. It has the key of the person's row, when it was done, and a keyed
hash by which that row is known again; no name and no address.
"""

import datetime as dt
import hmac
import json
import os
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings
from django.utils.crypto import salted_hmac

from apiaries.models import Person

SALT = "apiaries.forgetting.journal"


class JournalUnwritable(OSError):
    """The journal cannot be appended to: then nobody is forgotten, as a restore would bring them back unnoticed."""


@dataclass(frozen=True, slots=True)
class Line:
    """Somebody who was forgotten."""

    person: int
    at: dt.datetime
    mark: str

    def is_of(self, person: Person) -> bool:
        """Whether it speaks of this row: another database may have another person under the same key."""
        keys = [settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS]
        return any(hmac.compare_digest(self.mark, mark_of(person, key)) for key in keys)


def mark_of(person: Person, key: str | None = None) -> str:
    """By the instant of joining, which never changes and is no address that could be guessed from a list."""
    return salted_hmac(
        SALT, f"{person.pk} {person.joined_at.timestamp():.6f}", key, algorithm="sha256"
    ).hexdigest()


def append(person: Person, *, at: dt.datetime) -> None:
    """Write one line and see it on the disk. Errors: JournalUnwritable."""
    told = {"person": person.pk, "at": at.astimezone(dt.UTC).isoformat(), "mark": mark_of(person)}
    line = (json.dumps(told, sort_keys=True) + "\n").encode()
    place = Path(settings.ERASURE_JOURNAL)
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        handle = os.open(place, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o600)
        try:
            os.write(handle, line)
            os.fsync(handle)
        finally:
            os.close(handle)
    except OSError as error:
        raise JournalUnwritable(f"{place}: {error.strerror}") from error


def lines(places: Iterable[Path]) -> Iterator[Line]:
    """What the files say, each person once. Errors: ValueError names the file and line that cannot be read."""
    seen = set()
    for place in places:
        for number, text in enumerate(place.read_text().splitlines(), start=1):
            try:
                told = json.loads(text)
                line = Line(int(told["person"]), dt.datetime.fromisoformat(told["at"]), str(told["mark"]))
            except (ValueError, KeyError, TypeError) as error:
                raise ValueError(f"{place}, line {number}: this is no line of an erasure journal.") from error
            if (line.person, line.mark) not in seen:
                seen.add((line.person, line.mark))
                yield line
