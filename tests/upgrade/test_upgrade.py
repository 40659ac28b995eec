"""The last release's database, upgraded to this one by the page on upgrading: nothing is lost, and both releases go on.

The dump was made by the old release's own code (make_dump.py); all that it says of itself is held against the upgraded
database: rows, columns, pages, figures, and the old release's own statements.
"""

import datetime as dt
from collections import Counter
from collections.abc import Iterator
from io import StringIO
from typing import Any

import psycopg
import pytest
import time_machine
from django.core.management import call_command
from django.db import connection, transaction
from django.test import override_settings

from counts.models import MiteSample
from reports.models import Digest, DigestState
from reports.planner import plan_notices
from tests.plain_role import held, open_role
from tests.upgrade import sums
from tests.upgrade.asked import browser_with, numbers_of, program_with, save_count, save_treatment
from tests.upgrade.recording import move_keys, say_again
from tests.upgrade.restored import Stored, newest, restored, upgrade
from treatments.models import Treatment

pytestmark = pytest.mark.slow

STORED = newest()
EMPTY = {
    "auth_group": "Django's; Recount puts nobody into groups",
    "auth_group_permissions": "the same",
}
"""Tables of the dump without a row: nobody's data can be in them."""
ADDED = {
    "django_migrations": "one row for each migration that ran",
    "django_content_type": "one for each new model",
    "auth_permission": "four for each new model",
}
"""Tables that an upgrade adds rows to."""
CHANGED: dict[tuple[str, str], str] = {}
"""Columns whose values a migration is meant to change, and why."""


@pytest.fixture(scope="module")
def stored(django_db_setup: Any, django_db_blocker: Any, tmp_path_factory: Any) -> Iterator[Stored]:
    """Upgraded once for the file, at the moment and under the key of the dump."""
    name = f"{connection.settings_dict['NAME']}_upgraded"
    moment = dt.datetime.fromisoformat(STORED.manifest["made_at"])
    with django_db_blocker.unblock(), restored(STORED, name):
        assert sums.tables() == STORED.tables
        upgrade(tmp_path_factory.mktemp("var"), STORED.manifest["key"])
        with override_settings(SECRET_KEY=STORED.manifest["key"]), time_machine.travel(moment, tick=True):
            yield STORED


@pytest.fixture(autouse=True)
def rolled_back(stored: Stored) -> Iterator[None]:
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def told(*command: str) -> str:
    out = StringIO()
    call_command(*command, stdout=out)
    return out.getvalue()


def agrees(old: Any, new: Any) -> bool:
    """Whether all that was said is said still; more may be said now."""
    if isinstance(old, dict):
        return isinstance(new, dict) and all(
            name in new and agrees(value, new[name]) for name, value in old.items()
        )
    if isinstance(old, list):
        return (
            isinstance(new, list)
            and len(old) == len(new)
            and all(agrees(*pair) for pair in zip(old, new, strict=True))
        )
    if isinstance(old, float) and isinstance(new, int | float):
        return new == pytest.approx(old)
    return bool(old == new)


def test_dump_has_something_of_everything() -> None:
    assert {name for name, table in STORED.tables.items() if table.rows == 0} == set(EMPTY)
    assert len(STORED.tables) > 80


def test_every_row_and_column_is_accounted_for(stored: Stored) -> None:
    here = sums.columns()
    assert set(stored.tables) <= set(here)
    lost, changed, more = [], set(), set()
    for name, was in stored.tables.items():
        names, key = here[name]
        lost += [(name, column) for column in was.sums if column not in names]
        kept = [column for column in was.sums if column in names]
        found = sums.table(name, kept, key, last=was.last)
        if found.rows != was.rows:
            lost.append((name, f"{was.rows - found.rows} rows"))
        changed |= {(name, column) for column in kept if found.sums[column] != was.sums[column]}
        if sums.table(name, [], key).rows != found.rows:
            more.add(name)
    assert lost == []
    assert changed == set(CHANGED)
    assert more == set(ADDED)


def test_nothing_is_left_to_do(stored: Stored) -> None:
    call_command(
        "migrate", check_unapplied=True, verbosity=0
    )  # these two end the process if there is anything to do
    told("check")
    call_command("makemigrations", check_changes=True, dry_run=True, verbosity=0)
    with connection.cursor() as cursor:
        cursor.execute("SELECT app, name FROM django_migrations")
        assert {tuple(one) for one in stored.manifest["migrations"]} < set(cursor.fetchall())


def test_medicine_records_hold(stored: Stored) -> None:
    links = stored.tables["treatments_medicinelink"].rows
    assert links > 50
    assert f"All {links} links" in told("verify_medicine_records")
    told("begin_medicine_chains")
    assert f"All {links} links" in told("verify_medicine_records")


def test_pages_answer_whoever_was_signed_in(stored: Stored) -> None:
    told_by_old = stored.answers
    browsers = {who: browser_with(session) for who, session in told_by_old["sessions"].items()}
    assert len(told_by_old["pages"]) > 100
    found = {}
    for who, path in told_by_old["pages"]:
        answer = browsers[who].get(path)
        if answer.status_code != 200:
            found[who, path] = answer.status_code
    assert found == {}


def test_numbers_that_somebody_has_seen_are_still_shown(stored: Stored) -> None:
    browsers = {who: browser_with(session) for who, session in stored.answers["sessions"].items()}
    gone = {}
    for one in stored.answers["shown"]:
        now = Counter(numbers_of(browsers[one["who"]].get(one["path"]).content.decode()))
        if missing := Counter(one["numbers"]) - now:
            gone[one["path"]] = missing
    assert gone == {}


@pytest.mark.parametrize("number", range(len(STORED.answers["figures"])))
def test_programs_with_an_old_token_get_the_same_figures(stored: Stored, number: int) -> None:
    one = stored.answers["figures"][number]
    answer = program_with(stored.answers["tokens"][one["who"]]).get(one["path"])
    assert answer.status_code == 200
    assert agrees(one["body"], answer.json())


def test_region_figures_come_out_as_the_old_release_had_them(stored: Stored) -> None:
    """Where a release works them out otherwise, docs/changelog.md says so under "Changes in the numbers"."""
    assert stored.tables["reports_regionmonth"].rows > 100
    told("refresh_figures")  # what was marked and not worked out yet
    assert "; 0 had drifted" in told("refresh_figures", "--all")


def test_counts_and_treatments_are_saved(stored: Stored) -> None:
    alice = browser_with(stored.answers["sessions"]["alice"])
    counts, treatments = MiteSample.objects.count(), Treatment.objects.count()
    save_count(alice, **stored.answers["saves"])
    save_treatment(alice, **stored.answers["saves"])
    assert (MiteSample.objects.count(), Treatment.objects.count()) == (counts + 1, treatments + 1)
    saved = MiteSample.objects.latest("pk")
    assert saved.mites == 7 and saved.rate is not None
    assert "agree" in told("verify_medicine_records")


def test_service_may_run_as_a_role_that_owns_nothing(stored: Stored) -> None:
    with open_role() as role:
        told("grant_roles", role)
        with held(role):
            alice = browser_with(stored.answers["sessions"]["alice"])
            save_count(alice, **stored.answers["saves"])
            for who, path in stored.answers["pages"][:20]:
                assert browser_with(stored.answers["sessions"][who]).get(path).status_code == 200


def test_old_release_reads_and_writes_the_new_schema(stored: Stored) -> None:
    """Expand, migrate, contract: its processes keep running for some minutes after the migration."""
    said = stored.answers["statements"]
    writes = [one for one, _ in said if " INTO " in one or "UPDATE " in one]
    assert any('INSERT INTO "counts_mitesample"' in one for one in writes)
    assert any('INSERT INTO "treatments_dose"' in one for one in writes)
    move_keys()
    wrong = []
    for number, (statement, was) in enumerate(said):
        try:
            found = say_again(statement, was)
        except psycopg.Error as error:
            pytest.fail(f"statement {number}: {error}\n{statement[:2000]}")
        if found != was:
            wrong.append((number, found, was, statement[:500]))
    assert wrong == []


def test_nobody_is_told_twice(stored: Stored) -> None:
    """Whom the old release had written to by the moment of the dump."""
    at = dt.datetime.fromisoformat(stored.manifest["made_at"])
    told_before = set(Digest.objects.filter(state=DigestState.SENT).values_list("person", "on"))
    assert told_before
    plan_notices(at=at)
    due = Digest.objects.filter(state=DigestState.PENDING, next_at__lte=at)
    assert told_before.isdisjoint(due.values_list("person", "on"))
