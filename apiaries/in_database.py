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
    rows; `one_plan`: the first plan is kept, where PostgreSQL would go on planning, because it expects more of a list
    that it does not know."""

    what: str
    takes: str
    gives: str
    body: str
    writes: bool = False
    one_plan: bool = False

    @property
    def _manner(self) -> list[str]:
        return ["VOLATILE"] * self.writes + ["SET plan_cache_mode = force_generic_plan"] * self.one_plan

    @cached_property
    def name(self) -> str:
        told = "\n".join((self.takes, self.gives, self.body, *self._manner))
        return f"{self.what}_{hashlib.sha256(told.encode()).hexdigest()[:12]}"

    @property
    def sql(self) -> str:
        """What makes it."""
        manner = " ".join(["LANGUAGE plpgsql", *([] if self.writes else ["STABLE"]), *self._manner])
        return f"CREATE FUNCTION {self.name}({self.takes}) RETURNS {self.gives} {manner} AS $body${self.body}$body$"

    @property
    def undone(self) -> str:
        return f"DROP FUNCTION {self.name}"
