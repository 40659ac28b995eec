"""Each rule for migrations with one that breaks it and one that does the same in peace."""

from collections.abc import Iterator
from typing import Any

import pytest
from django.contrib.postgres.operations import (
    AddConstraintNotValid,
    AddIndexConcurrently,
    ValidateConstraint,
)
from django.core.management import CommandError, call_command
from django.db import connection, models
from django.db.migrations import (
    AddConstraint,
    AddField,
    AddIndex,
    AlterField,
    CreateModel,
    Migration,
    RemoveField,
    RenameField,
    RunPython,
    RunSQL,
    SeparateDatabaseAndState,
)
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.operations.base import Operation

from config import migration_reading
from config.migration_reading import OURS, columns, read, released
from config.migration_rules import RULES


@pytest.fixture(autouse=True)
def database(django_db_setup: Any, django_db_blocker: Any) -> Iterator[None]:
    """Outside a transaction, as the command reads; nothing is written, so nothing has to be emptied."""
    with django_db_blocker.unblock():
        yield


@pytest.fixture(scope="module")
def state(django_db_setup: Any, django_db_blocker: Any) -> Any:
    with django_db_blocker.unblock():
        return MigrationLoader(connection).project_state(sorted(released()))


def rules(state: Any, *operations: Operation, atomic: bool = True, **accepted: str) -> list[str]:
    """The rules that a migration of counts with these operations breaks."""
    kind = type("Migration", (Migration,), {"operations": list(operations), "atomic": atomic})
    migration = kind("9999_tried", "counts")
    if accepted:
        migration.accepted = {rule.replace("_", "-"): reason for rule, reason in accepted.items()}
    found, _ = read(migration, state, columns(state), connection)
    return [one.rule for one in found]


def sql(*texts: str) -> RunSQL:
    return RunSQL(";\n".join(texts))


POSITIVE = models.CheckConstraint(condition=models.Q(mites__gte=0), name="counts_tried")
INDEX = models.Index(fields=["mites"], name="counts_tried")
SAMPLE = 'ALTER TABLE "counts_mitesample" '

# rule: a migration that breaks it, one that does not. The last has atomic = False.
PAIRS: dict[str, list[tuple[list[Operation], list[Operation]]]] = {
    "rewrites-table": [
        (
            [AlterField("mitesample", "mites", models.BigIntegerField(null=True))],
            [AlterField("mitesample", "method", models.CharField(max_length=40))],
        ),
        (
            [sql(SAMPLE + "ADD COLUMN made uuid DEFAULT gen_random_uuid()")],
            [sql(SAMPLE + "ADD COLUMN made timestamptz DEFAULT now()")],
        ),
        (
            [sql(SAMPLE + "ADD COLUMN twice int GENERATED ALWAYS AS (mites * 2) STORED")],
            [sql(SAMPLE + "ADD COLUMN twice int")],
        ),
        ([sql(SAMPLE + "SET UNLOGGED")], [sql(SAMPLE + "SET (fillfactor = 80)")]),
        (
            [sql(SAMPLE + "ALTER COLUMN method TYPE varchar(4)")],
            [sql('ALTER TABLE "apiaries_club" ALTER COLUMN name TYPE varchar(4)')],
        ),
    ],
    "index-stops-writers": [
        ([AddIndex("mitesample", INDEX)], [AddIndexConcurrently("mitesample", INDEX)]),
        (
            [
                AddConstraint(
                    "mitesample", models.UniqueConstraint(fields=["mites", "bees"], name="counts_tried")
                )
            ],
            [sql(SAMPLE + "ADD CONSTRAINT counts_tried UNIQUE USING INDEX counts_made_before")],
        ),
    ],
    "concurrently-in-transaction": [
        (
            [sql("DROP INDEX CONCURRENTLY counts_tried")],
            [sql("DROP INDEX counts_tried")],
        ),
    ],
    "constraint-reads-all": [
        ([AddConstraint("mitesample", POSITIVE)], [AddConstraintNotValid("mitesample", POSITIVE)]),
        (
            [sql(SAMPLE + "ADD CONSTRAINT a FOREIGN KEY (yard_id) REFERENCES apiaries_yard (id)")],
            [sql(SAMPLE + "ADD CONSTRAINT a FOREIGN KEY (yard_id) REFERENCES apiaries_yard (id) NOT VALID")],
        ),
        (
            [AddField("mitesample", "tries", models.PositiveIntegerField(null=True))],
            [AddField("mitesample", "tries", models.IntegerField(null=True))],
        ),
        (
            [sql(SAMPLE + "ADD COLUMN a int DEFAULT 1 REFERENCES apiaries_yard")],
            [sql(SAMPLE + "ADD COLUMN a int REFERENCES apiaries_yard")],
        ),
    ],
    "validated-too-early": [
        (
            [AddConstraintNotValid("mitesample", POSITIVE), ValidateConstraint("mitesample", "counts_tried")],
            [sql(SAMPLE + "VALIDATE CONSTRAINT counts_made_before")],
        ),
    ],
    "not-null-reads-all": [
        (
            [sql(SAMPLE + "ALTER COLUMN bees SET NOT NULL")],
            [sql('ALTER TABLE "apiaries_club" ALTER COLUMN bees SET NOT NULL')],
        ),
    ],
    "fills-in-one-go": [
        (
            [sql("UPDATE counts_mitesample SET mites = 0 WHERE mites IS NULL")],
            [sql("UPDATE counts_actionlevel SET note = 'UPDATE counts_mitesample SET mites = 0'")],
        ),
        (
            [sql("DO $body$ BEGIN UPDATE counts_mitesample SET mites = 0; END $body$")],
            [
                sql(
                    "CREATE FUNCTION f() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN DELETE FROM counts_mitesample; "
                    "RETURN NEW; END $$"
                )
            ],
        ),
    ],
    "unread-python": [
        (
            [RunPython(lambda apps, editor: None)],
            [RunPython(RunPython.noop)],
        ),
    ],
    "old-code-breaks": [
        (
            [RemoveField("mitesample", "note")],
            [SeparateDatabaseAndState(state_operations=[RemoveField("mitesample", "note")])],
        ),
        (
            [RenameField("mitesample", "note", "remark")],
            [AddField("mitesample", "remark", models.TextField(db_default=""))],
        ),
        (
            [AddField("mitesample", "remark", models.TextField(default=""))],
            [AddField("mitesample", "remark", models.TextField(null=True))],
        ),
        (
            [sql("DROP TABLE counts_actionlevel")],
            [sql("DROP TABLE counts_made_since")],
        ),
    ],
    "locks-by-hand": [
        ([sql("SET LOCAL lock_timeout = 0")], [sql("SET LOCAL statement_timeout = 60000")]),
        ([sql("LOCK TABLE counts_mitesample")], [sql("LOCK TABLE counts_actionlevel")]),
    ],
    "half-done": [
        ([sql("SELECT 1"), sql("SELECT 2")], [sql("SELECT 1")]),
    ],
    "unread": [
        ([AddIndexConcurrently("mitesample", INDEX)], [AddIndexConcurrently("mitesample", INDEX)]),
    ],
}
NOT_ATOMIC = {"half-done": (False, False), "index-stops-writers": (True, False), "unread": (True, False)}


@pytest.mark.parametrize(
    "rule, number", [(rule, number) for rule, pairs in PAIRS.items() for number in range(len(pairs))]
)
def test_rule_finds_what_stops_people_and_lets_the_other_pass(state: Any, rule: str, number: int) -> None:
    breaking, peaceful = PAIRS[rule][number]
    atomic = NOT_ATOMIC.get(rule, (True, True))

    assert rule in rules(state, *breaking, atomic=atomic[0])
    assert rules(state, *peaceful, atomic=atomic[1]) == []


def test_every_rule_has_its_pair() -> None:
    assert set(PAIRS) == {*RULES, *migration_reading.MORE_RULES}


def test_table_made_since_the_release_is_empty_and_may_be_changed_at_will(state: Any) -> None:
    made = CreateModel(
        "Tried", [("id", models.BigAutoField(primary_key=True)), ("mites", models.IntegerField())]
    )

    assert rules(state, made, AddIndex("tried", INDEX), sql("UPDATE counts_tried SET mites = 1")) == []


def test_accepting_needs_a_reason_and_something_to_accept(state: Any) -> None:
    fill = sql("UPDATE counts_mitesample SET mites = 0")

    assert rules(state, fill, fills_in_one_go="one row of the demo, by its number") == []
    assert rules(state, fill, fills_in_one_go="it is fine") == ["fills-in-one-go"]
    assert rules(state, sql("SELECT 1"), fills_in_one_go="one row of the demo, by its number") == [
        "fills-in-one-go"
    ]
    assert rules(state, sql("SELECT 1"), no_such="a rule that nobody ever wrote") == ["no-such"]


def test_command_passes_what_is_there() -> None:
    call_command("check_migrations")


def test_command_names_what_is_to_mend(monkeypatch: pytest.MonkeyPatch, capsys: Any) -> None:
    held = {key for key in released() if key[1] != "0004_sample_exposure"}
    monkeypatch.setattr(migration_reading, "released", lambda: frozenset(held))

    with pytest.raises(CommandError, match="write-a-migration.md"):
        call_command("check_migrations")

    printed = capsys.readouterr().out
    assert "counts.0004_sample_exposure: fills-in-one-go" in printed
    assert "UPDATE counts_mitesample s SET exposure" in printed


def test_command_names_a_released_migration_that_is_gone(
    monkeypatch: pytest.MonkeyPatch, capsys: Any
) -> None:
    monkeypatch.setattr(migration_reading, "released", lambda: released() | {("counts", "0099_gone")})

    with pytest.raises(CommandError):
        call_command("check_migrations")

    assert "counts.0099_gone: released: the last release brought it" in capsys.readouterr().out


def test_released_migrations_are_of_our_apps() -> None:
    assert {app for app, _ in released()} == set(OURS)
