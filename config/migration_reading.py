"""Reads the migrations that are newer than the last release and holds them against the rules."""

from collections.abc import Iterable, Iterator, Sequence

from django.db import NotSupportedError
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations import AlterField, Migration, RunPython, SeparateDatabaseAndState
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.operations.base import Operation
from django.db.migrations.state import ProjectState
from django.db.models import Model

from config.migration_rules import RULES, Finding, Known, findings
from config.paths import BASE_DIR

OURS = ("apiaries", "counts", "reports", "treatments")
RELEASED = BASE_DIR / "config" / "released_migrations.txt"
# Beside the rules over SQL; the words that a migration may accept with a reason.
MORE_RULES = ("validated-too-early", "unread-python", "half-done", "unread")
SHORTEST_REASON = 20


def released() -> frozenset[tuple[str, str]]:
    """App and name of each migration of ours that the last release brought."""
    lines = RELEASED.read_text().splitlines()
    return frozenset(
        (app, name) for app, _, name in (line.partition(".") for line in lines if line and line[0] != "#")
    )


def columns(state: ProjectState) -> dict[str, frozenset[str]]:
    """The columns of each table of ours."""
    return {
        model._meta.db_table: frozenset(field.column for field in model._meta.local_fields if field.column)
        for model in _models(state)
    }


def _models(state: ProjectState) -> Iterator[type[Model]]:
    for model in state.apps.get_models(include_auto_created=True):
        if model._meta.app_label in OURS:
            yield model


def types(state: ProjectState, connection: BaseDatabaseWrapper) -> dict[tuple[str, str], str]:
    """The type in the database of each column of ours."""
    return {
        (model._meta.db_table, field.column): field.db_type(connection) or ""
        for model in _models(state)
        for field in model._meta.local_fields
        if field.column
    }


def read(
    migration: Migration,
    state: ProjectState,
    last: dict[str, frozenset[str]],
    connection: BaseDatabaseWrapper,
) -> tuple[list[Finding], ProjectState]:
    """What is wrong with one migration, and the state after it. Nothing is run."""
    altered = any(isinstance(one, AlterField) for one in _in_database(migration.operations))
    known = Known(last, types(state, connection) if altered else {}, bool(migration.atomic))
    after = state.clone()
    try:
        with connection.schema_editor(collect_sql=True, atomic=bool(migration.atomic)) as editor:
            after = migration.apply(after, editor, collect_sql=True)
        found = list(findings("\n".join(_ended(editor.collected_sql)), known))
    except (ValueError, NotSupportedError) as error:
        after = migration.mutate_state(state.clone())
        found = [Finding("unread", f"its SQL cannot be told without running it: {error}", "")]
    return list(_accepted(migration, [*found, *_of_operations(migration)])), after


def _ended(sql: Iterable[str]) -> Iterator[str]:
    """Each piece with its end: raw SQL is collected as it was written, with a semicolon or without."""
    for piece in sql:
        yield piece if piece.lstrip().startswith("--") and "\n" not in piece.strip() else f"{piece}\n;"


def _of_operations(migration: Migration) -> Iterator[Finding]:
    done = list(_in_database(migration.operations))
    for operation in done:
        if isinstance(operation, RunPython) and operation.code is not RunPython.noop:
            what = "what Python does to rows cannot be read here: fill in batches by a command"
            yield Finding("unread-python", what, getattr(operation.code, "__name__", ""))
    if not migration.atomic and len(done) > 1:
        what = "atomic = False and more than one operation: an end in the middle leaves half of them"
        yield Finding("half-done", what, "")


def _in_database(operations: Sequence[Operation]) -> Iterator[Operation]:
    for operation in operations:
        if isinstance(operation, SeparateDatabaseAndState):
            yield from _in_database(operation.database_operations)
        else:
            yield operation


def _accepted(migration: Migration, found: list[Finding]) -> Iterator[Finding]:
    """Without what the migration accepts; with what it accepts for nothing, or without a reason."""
    accepted: dict[str, str] = getattr(migration, "accepted", {})
    for one in found:
        if one.rule not in accepted:
            yield one
    for rule, reason in accepted.items():
        if rule not in {one.rule for one in found}:
            known = rule in RULES or rule in MORE_RULES
            yield Finding(rule, "accepted, and not found" if known else "there is no such rule", "")
        elif len(reason.strip()) < SHORTEST_REASON:
            yield Finding(rule, "accepted without a reason that anybody could follow", "")


def read_all(connection: BaseDatabaseWrapper) -> Iterator[tuple[str, list[Finding]]]:
    """Each migration of ours since the last release, in the order in which they run, with what is wrong."""
    loader = MigrationLoader(connection, replace_migrations=False)
    before = released()
    gone = before - set(loader.disk_migrations)
    if gone:
        what = "the last release brought it, and it is gone or has another name"
        yield from ((".".join(key), [Finding("released", what, "")]) for key in sorted(gone))
        return
    last = columns(loader.project_state(sorted(before)))
    state = ProjectState(real_apps=loader.unmigrated_apps)
    plan = loader.graph._generate_plan(loader.graph.leaf_nodes(), at_end=True)
    fresh = [key for key in plan if key[0] in OURS and key not in before]
    # What is not read comes first, while no model is rendered: after that each change costs a hundredfold.
    for key in plan:
        if key not in fresh:
            state = loader.graph.nodes[key].mutate_state(state, preserve=False)
    for app, name in fresh:
        found, state = read(loader.graph.nodes[(app, name)], state, last, connection)
        yield f"{app}.{name}", found
