"""Rules for migrations that run while people work: nobody waits for a table, and the last release's code still works.

What each operation costs was measured on 10.2 million rows with a writer every 5 ms (docs/how-to/write-a-migration.md).
Only what is newer than the last release is read, and only tables that it knew: a table made since then is empty.
"""

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field

from config.migration_statements import statements, table_of

# Rows that somebody keeps by hand, or one for each club: read through in a moment, whatever is done to them.
SMALL = frozenset(
    {
        "apiaries_club",
        "apiaries_region",
        "counts_actionlevel",
        "counts_estimatebasis",
        "treatments_application",
    }
)
STABLE = re.compile(r"DEFAULT (?:now|statement_timestamp|transaction_timestamp|current_setting)\(", re.I)
VOLATILE = re.compile(r"DEFAULT [^,]*?\w+\(", re.I)


@dataclass(frozen=True)
class Known:
    """What the rules know beside the SQL.

    `released` has the columns of each table as the last release knew it; `types` the type of each
    (table, column) before the migration.
    """

    released: Mapping[str, frozenset[str]]
    types: Mapping[tuple[str, str], str] = field(default_factory=dict)
    atomic: bool = True

    def big(self, table: str) -> bool:
        return table in self.released and table not in SMALL


@dataclass(frozen=True)
class Finding:
    rule: str
    what: str
    statement: str


def rewrites_table(sql: str, known: Known) -> str:
    """The table is written anew while everybody waits."""
    if not known.big(table := table_of(sql)):
        return ""
    for column, kind in re.findall(
        r'ALTER COLUMN "?(\w+)"? (?:SET DATA )?TYPE (\w+(?: \w+)*?(?:\([\d, ]+\))?)(?= USING|,|$| COLLATE)',
        sql,
        re.I,
    ):
        if not _only_wider(known.types.get((table, column), ""), kind):
            return f"the type of {column} becomes {kind}: add a column, fill it in batches, change over"
    if "ADD COLUMN" in sql.upper():
        if VOLATILE.search(sql) and not STABLE.search(sql):
            return "a default that differs from row to row: add the column empty, fill it in batches"
        if re.search(r"\bSTORED\b|\bAS IDENTITY\b|\b(?:big)?serial\b", sql, re.I):
            return "a stored or numbered column: add it empty, fill it in batches"
    if re.search(r"\bSET (?:UNLOGGED|LOGGED|TABLESPACE|ACCESS METHOD)\b", sql, re.I) or re.match(
        r"CLUSTER|VACUUM FULL", sql, re.I
    ):
        return "the whole table is copied"
    return ""


def _only_wider(old: str, new: str) -> bool:
    """Whether each value of the old type is one of the new as it stands, which PostgreSQL knows for these."""
    before, after = (re.fullmatch(r"varchar\((\d+)\)", one.lower()) for one in (old, new))
    if before:
        return new.lower() == "text" or bool(after and int(after[1]) >= int(before[1]))
    return bool(old) and old.lower() == new.lower()


def index_stops_writers(sql: str, known: Known) -> str:
    """An index is built while nobody may write."""
    if not known.big(table_of(sql)):
        return ""
    if re.match(r"CREATE (?:UNIQUE )?INDEX(?! CONCURRENTLY)|REINDEX (?!.*CONCURRENTLY)", sql, re.I):
        return "use AddIndexConcurrently, alone in a migration with atomic = False"
    if re.search(r"ADD CONSTRAINT \S+ (?:UNIQUE|PRIMARY KEY|EXCLUDE)(?! USING INDEX)", sql, re.I):
        return "build the unique index CONCURRENTLY, then ADD CONSTRAINT … USING INDEX in another migration"
    return ""


def concurrently_in_transaction(sql: str, known: Known) -> str:
    """PostgreSQL refuses it."""
    if known.atomic and re.match(r"(?:CREATE|DROP|REINDEX)\b.*\bCONCURRENTLY\b", sql, re.I):
        return "set atomic = False, and let the migration hold this alone"
    return ""


def constraint_reads_all(sql: str, known: Known) -> str:
    """All rows are read while nobody may write."""
    if not known.big(table_of(sql)):
        return ""
    if re.search(r"ADD CONSTRAINT \S+ (?:CHECK|FOREIGN KEY|NOT NULL)\b", sql, re.I) and not re.search(
        r"\bNOT VALID\b", sql, re.I
    ):
        return "use AddConstraintNotValid (or NOT VALID), and ValidateConstraint in another migration"
    if re.search(r"ADD COLUMN .*\bCHECK \(", sql, re.I):
        return "the column brings a CHECK: add it without, and the constraint NOT VALID after"
    if re.search(r"ADD COLUMN .*\bREFERENCES\b", sql, re.I) and re.search(
        r"\bDEFAULT (?!NULL)|\bNOT NULL\b", sql, re.I
    ):
        return "the column points somewhere in every row: add it empty (null=True) first"
    return ""


def not_null_reads_all(sql: str, known: Known) -> str:
    """All rows are read while nobody may write or read."""
    if known.big(table_of(sql)) and re.search(r"ALTER COLUMN \S+ SET NOT NULL", sql, re.I):
        return (
            "add CHECK (… IS NOT NULL) NOT VALID, validate it in another migration; then SET NOT NULL reads "
            "nothing: accept it with the name of that migration"
        )
    return ""


def fills_in_one_go(sql: str, known: Known) -> str:
    """A whole table is changed in one transaction: locks, and twice the size afterwards."""
    if re.match(r"(?:WITH|DO|CALL|EXECUTE)\b", sql, re.I):
        return "what this writes cannot be read here: say it in plain statements, or fill by a command"
    if re.match(r"UPDATE|DELETE|INSERT", sql, re.I) and known.big(table_of(sql)):
        return "fill in batches, by a command or a task, and not in the migration"
    return ""


def old_code_breaks(sql: str, known: Known) -> str:
    """The last release's processes still run when this one migrates."""
    table = table_of(sql)
    if table not in known.released:
        return ""
    if re.match(r"DROP TABLE", sql, re.I) or re.search(r"RENAME TO", sql, re.I):
        return f"the last release still reads {table}: take it out of the models now, drop it a release later"
    for column in re.findall(r'(?:DROP COLUMN (?:IF EXISTS )?|RENAME COLUMN )"?(\w+)"?', sql, re.I):
        if column in known.released[table]:
            return (
                f"the last release still reads {table}.{column}: take it out of the models now "
                "(SeparateDatabaseAndState), drop it a release later"
            )
    if "pgh_id" in known.released[table]:
        return ""  # rows of history are written by triggers, which the migration brings along
    for column in re.findall(r'ADD COLUMN (?:IF NOT EXISTS )?"?(\w+)"? [^,]*?\bNOT NULL\b', sql, re.I):
        if not re.search(r"\bDEFAULT\b|\bGENERATED\b", sql, re.I):
            return f"the last release writes rows without {column}: give it db_default, or null=True"
    for column in re.findall(r'ALTER COLUMN "?(\w+)"? DROP DEFAULT', sql, re.I):
        if column not in known.released[table]:
            return f"the last release writes rows without {column}: give it db_default, or null=True"
    return ""


def locks_by_hand(sql: str, known: Known) -> str:
    """`migrate` waits 2 s for a lock; a migration does not say otherwise, and takes none itself."""
    if re.match(r"(?:SET|RESET)\b.*\block_timeout\b", sql, re.I):
        return "leave lock_timeout to the command"
    if re.match(r"LOCK\b", sql, re.I) and known.big(table_of(sql)):
        return "everybody waits until the migration is over"
    return ""


RULES: dict[str, Callable[[str, Known], str]] = {
    "rewrites-table": rewrites_table,
    "index-stops-writers": index_stops_writers,
    "concurrently-in-transaction": concurrently_in_transaction,
    "constraint-reads-all": constraint_reads_all,
    "not-null-reads-all": not_null_reads_all,
    "fills-in-one-go": fills_in_one_go,
    "old-code-breaks": old_code_breaks,
    "locks-by-hand": locks_by_hand,
}


def findings(sql: str, known: Known) -> Iterator[Finding]:
    """What is wrong with the SQL of one migration."""
    fresh: dict[str, str] = {}
    for statement in statements(sql):
        for name, rule in RULES.items():
            if what := rule(statement, known):
                yield Finding(name, what, statement)
        if not_valid := re.search(r'ADD CONSTRAINT "?(\w+)"? .*\bNOT VALID\b', statement, re.I):
            fresh[not_valid[1]] = statement
        validated = re.search(r'VALIDATE CONSTRAINT "?(\w+)"?', statement, re.I)
        if validated and validated[1] in fresh:
            what = "validate it in another migration: this one holds its lock until all rows are read"
            yield Finding("validated-too-early", what, statement)
