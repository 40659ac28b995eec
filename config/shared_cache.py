"""What is kept for a while: in Django's table for all processes, and in each process for itself.

Of the table, each thing that is kept takes one statement. Django counts the whole table first, then looks for the key,
then writes; PostgreSQL does both at once, and the table grows with the number of keepers.
"""

import base64
import datetime as dt
import pickle
import random
import time
from contextlib import AbstractContextManager, nullcontext
from typing import Any

from django.core.cache.backends.base import DEFAULT_TIMEOUT
from django.core.cache.backends.db import DatabaseCache
from django.core.cache.backends.locmem import LocMemCache
from django.db import DatabaseError, connections, router, transaction
from django.utils import timezone

COUNTED_EACH = 1000
"""One time in so many the table is counted as Django does it, and what is too much goes."""
PUT = """
INSERT INTO {table} AS kept (cache_key, value, expires) VALUES (%s, %s, %s)
ON CONFLICT (cache_key) DO UPDATE SET value = EXCLUDED.value, expires = EXCLUDED.expires
"""
ADD = PUT + " WHERE kept.expires < %s"


def happens_to_count() -> bool:
    return random.randrange(COUNTED_EACH) == 0  # noqa: S311  (no secret)


class SharedCache(DatabaseCache):
    def _base_set(self, mode: str, key: str, value: Any, timeout: Any = DEFAULT_TIMEOUT) -> bool:
        """Whether it is kept now. `mode`: `set`, `add` (only if nothing that holds is there), or `touch`."""
        until = self.get_backend_timeout(timeout)
        if mode == "touch" or until is None or happens_to_count():
            return bool(super()._base_set(mode, key, value, timeout))  # type: ignore[misc]
        alias = router.db_for_write(self.cache_model_class)
        line = connections[alias]
        expires = dt.datetime.fromtimestamp(until, tz=dt.UTC).replace(microsecond=0)
        put: list[Any] = [
            key,
            base64.b64encode(pickle.dumps(value, self.pickle_protocol)).decode("latin1"),
            expires,
        ]
        statement = PUT if mode == "set" else ADD
        if mode == "add":
            put.append(timezone.now().replace(microsecond=0))
        # A transaction that it stands in must survive its failing; without one it is one of its own.
        within: AbstractContextManager[Any] = (
            transaction.atomic(using=alias) if line.in_atomic_block else nullcontext()
        )
        try:
            with within, line.cursor() as cursor:
                cursor.execute(
                    statement.format(table=line.ops.quote_name(self.cache_model_class._meta.db_table)), put
                )
                return bool(cursor.rowcount)
        except DatabaseError:
            return False  # as Django: what is not kept is worked out again


class OwnCache(LocMemCache):
    """Of one process. Whenever something is kept, what has run out goes, though nobody asks for it by its name again.

    Pages of somebody who was forgotten would else lie in memory until others push them out.
    """

    def _set(self, key: str, value: Any, timeout: Any = DEFAULT_TIMEOUT) -> None:
        now = time.time()
        known: dict[str, float | None] = self._expire_info  # type: ignore[attr-defined]
        for old in [one for one, until in known.items() if until is not None and until <= now]:
            self._delete(old)  # type: ignore[attr-defined]
        super()._set(key, value, timeout)  # type: ignore[misc]
