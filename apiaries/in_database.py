"""Statements that stand in the database as functions: planned once for each connection, not each time.

A function is named after what is in it, so that programs of two releases beside each other each ask their own. The
migration that brings one holds its text; a test says when one is missing (docs/how-to/write-a-migration.md).
"""

import hashlib
from dataclasses import dataclass
from functools import cached_property


@dataclass(frozen=True)
class InDatabase:
    """A function of PL/pgSQL. `takes`: what it is asked with; `gives`: what stands behind RETURNS; `writes`: it changes
    rows."""

    what: str
    takes: str
    gives: str
    body: str
    writes: bool = False

    @cached_property
    def name(self) -> str:
        told = "\n".join((self.takes, self.gives, self.body))
        return f"{self.what}_{hashlib.sha256(told.encode()).hexdigest()[:12]}"

    @property
    def sql(self) -> str:
        """What makes it."""
        return (
            f"CREATE FUNCTION {self.name}({self.takes}) RETURNS {self.gives}"
            f" LANGUAGE plpgsql {'VOLATILE' if self.writes else 'STABLE'} AS $body${self.body}$body$"
        )

    @property
    def undone(self) -> str:
        return f"DROP FUNCTION {self.name}"
