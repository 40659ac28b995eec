"""`column = ANY (ARRAY (SELECT …))`: the keys are looked up once and first, so that an index finds their rows.

With `IN (SELECT …)`, above all beside an OR, PostgreSQL takes it that half of all rows might be meant. The newest
fifty counts of somebody with two yards were looked for by reading those of everybody, newest first.
"""

from typing import Any

from django.contrib.postgres.expressions import ArraySubquery
from django.db.models import F, Lookup, Q, QuerySet


class _OneOf(Lookup):
    lookup_name = "one_of"
    prepare_rhs = False

    def as_sql(self, compiler: Any, connection: Any) -> tuple[str, tuple[Any, ...]]:
        column, of_column = self.process_lhs(compiler, connection)
        keys, of_keys = self.process_rhs(compiler, connection)
        return f"{column} = ANY({keys})", (*of_column, *of_keys)


def one_of(column: str, keys: "QuerySet[Any, Any]") -> Q:
    """Rows whose `column` is one of `keys`, a queryset of one column; not one of them: `~one_of(…)`."""
    return Q(_OneOf(F(column), ArraySubquery(keys)))
