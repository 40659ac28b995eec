"""Region pages read their figures from a replica that may be behind, and nothing else does."""

import datetime as dt
import socket
from collections.abc import Iterator
from copy import deepcopy
from typing import Any

import pytest
from django.core.exceptions import MiddlewareNotUsed
from django.db import connection, connections, router
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from apiaries.models import Yard
from config import trials
from config.trials_of_services import Mend
from counts.models import MiteSample
from reports import replica
from reports.figures import refresh_marked
from reports.models import Heartbeat, RegionEdition, RegionMonth
from tests.reports.counting import AT, count

PAGE = "/regions/"
ASKED = {"year": 2026}
WAS = "as_it_was"
COPIED = [*sorted(replica.FIGURES), "reports_heartbeat"]


def beat(at: dt.datetime) -> None:
    Heartbeat.objects.update_or_create(name="planner", defaults={"at": at})


@pytest.fixture
def behind(
    transactional_db: Any, reference: None, counted_north: Any, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Any]:
    """A replica that stopped when North's figures had been worked out: the same database, with these tables as they
    were. Another count came after that and is worked in."""
    refresh_marked(at=AT)
    beat(timezone.now())
    with connection.cursor() as cursor:
        cursor.execute(f"DROP SCHEMA IF EXISTS {WAS} CASCADE")  # of a run that was killed
        cursor.execute(f"CREATE SCHEMA {WAS}")
        for table in COPIED:
            cursor.execute(f"CREATE TABLE {WAS}.{table} AS TABLE public.{table}")
    for yard in counted_north:
        count(yard.colonies.first(), dt.date(2026, 8, 12), 30)
    refresh_marked(at=AT + dt.timedelta(hours=1))

    entry = deepcopy(connection.settings_dict)
    entry["OPTIONS"] = entry["OPTIONS"] | {
        "options": f"-c search_path={WAS},public -c default_transaction_read_only=on"
    }
    connections.databases[replica.REPLICA] = entry
    settings.DATABASE_ROUTERS = ["reports.replica.Router"]
    replica._looked.clear()
    line = connections[replica.REPLICA]

    def connect() -> None:
        # As Django's own, which in tests asks a list that was made before this one.
        if line.connection is None:
            with line.wrap_database_errors:
                line.connect()

    monkeypatch.setattr(line, "ensure_connection", connect)
    yield line
    line.close()
    del connections.databases[replica.REPLICA]
    del connections[replica.REPLICA]
    replica._looked.clear()
    with connection.cursor() as cursor:
        cursor.execute(f"DROP SCHEMA {WAS} CASCADE")


@pytest.fixture
def unused_tcp() -> int:
    """A port where nobody listens."""
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


def tables(captured: CaptureQueriesContext) -> set[str]:
    words = " ".join(query["sql"] for query in captured.captured_queries)
    return {word for word in words.replace('"', " ").split() if word.startswith(("reports_", "apiaries_"))}


@pytest.mark.parametrize("page", [PAGE, "/regions/chart.svg", "/regions/map.svg?day=2026-08-01"])
@pytest.mark.owner
def test_a_region_page_shows_the_figures_of_the_replica(
    page: str, behind: Any, client_for: Any, cast: Any
) -> None:
    client = client_for(cast.dana)

    with CaptureQueriesContext(behind) as there, CaptureQueriesContext(connection) as here:
        client.get(page, ASKED)

    assert "reports_regionedition" in tables(there)
    assert not tables(there) - set(COPIED), "only figures"
    asked = [query["sql"] for query in here.captured_queries]
    assert any("session_brings_along" in sql for sql in asked), "gates are asked of the primary"
    assert not tables(here) & {"reports_regionmonthmark", "reports_areamonth", "reports_regionedition"}


@pytest.mark.owner
def test_its_as_of_is_that_of_the_replica(behind: Any, client_for: Any, cast: Any) -> None:
    client = client_for(cast.dana)
    older = client.get(PAGE, ASKED).content.decode()
    client.cookies[replica.WROTE] = "1"
    newer = client.get(PAGE, ASKED).content.decode()

    edition = RegionEdition.objects.get(region=cast.north)
    zone = timezone.get_fixed_timezone(120)  # Dana's, in summer
    was = edition.worked_out_at - dt.timedelta(hours=1)
    assert (
        f"{was.astimezone(zone):%H:%M}" in older
        and f"{edition.worked_out_at.astimezone(zone):%H:%M}" in newer
    )
    assert older != newer


@pytest.mark.owner
def test_whoever_changed_something_reads_from_the_primary_for_a_while(
    behind: Any, client_for: Any, cast: Any
) -> None:
    client = client_for(cast.dana)

    client.post("/regions/published/open/")
    cookie = client.cookies[replica.WROTE]
    with CaptureQueriesContext(behind) as there:
        client.get(PAGE, ASKED)

    assert cookie["max-age"] == replica.PINNED_FOR and cookie["httponly"] and cookie["samesite"] == "Lax"
    assert not there.captured_queries


@pytest.mark.owner
def test_a_replica_too_far_behind_is_left_alone(behind: Any, client_for: Any, cast: Any) -> None:
    late = timezone.now() - replica.MOST_BEHIND - dt.timedelta(seconds=5)
    with connection.cursor() as cursor:
        cursor.execute(f"UPDATE {WAS}.reports_heartbeat SET at = %s", [late])

    with CaptureQueriesContext(behind) as there, CaptureQueriesContext(connection) as here:
        assert client_for(cast.dana).get(PAGE, ASKED).status_code == 200

    assert tables(there) == {"reports_heartbeat"}
    assert "reports_regionedition" in tables(here)


@pytest.mark.owner
def test_a_replica_without_any_beat_is_left_alone(behind: Any) -> None:
    with connection.cursor() as cursor:
        cursor.execute(f"DELETE FROM {WAS}.reports_heartbeat")

    assert not replica._is_well()
    assert replica.behind(at=timezone.now()) is None


@pytest.mark.owner
def test_a_replica_that_is_gone_costs_no_page(
    behind: Any, client_for: Any, cast: Any, monkeypatch: pytest.MonkeyPatch, unused_tcp: int
) -> None:
    behind.close()
    monkeypatch.setitem(behind.settings_dict, "HOST", "127.0.0.1")
    monkeypatch.setitem(behind.settings_dict, "PORT", unused_tcp)

    assert client_for(cast.dana).get(PAGE, ASKED).status_code == 200
    assert replica._looked[replica.REPLICA][1] is False


@pytest.mark.owner
def test_a_replica_that_ends_in_the_middle_costs_no_page(behind: Any, client_for: Any, cast: Any) -> None:
    client = client_for(cast.dana)
    assert replica._is_well()
    with connection.cursor() as cursor:
        cursor.execute(f"ALTER TABLE {WAS}.reports_regionmonth RENAME TO gone_with_the_wind")
        cursor.execute(
            f"CREATE VIEW {WAS}.reports_regionmonth AS SELECT r.* FROM public.reports_regionmonth r,"
            " LATERAL (SELECT pg_terminate_backend(pg_backend_pid())) AS ended"
        )

    with CaptureQueriesContext(connection) as here:
        assert client.get(PAGE, ASKED).status_code == 200

    assert "reports_regionmonth" in tables(here)
    assert not replica._is_well(), "and it is not asked again at once"


@pytest.mark.owner
def test_check_setup_says_whether_it_follows(behind: Any) -> None:
    assert trials.replica_follows().endswith("s old; it is read-only")

    with connection.cursor() as cursor:
        cursor.execute(f"UPDATE {WAS}.reports_heartbeat SET at = at - interval '7 minutes'")
    with pytest.raises(Mend, match="7 minutes behind"):
        trials.replica_follows()

    with connection.cursor() as cursor:
        cursor.execute(f"DELETE FROM {WAS}.reports_heartbeat")
    assert "is known when" in trials.replica_follows()

    with connection.cursor() as cursor:
        cursor.execute(f"ALTER TABLE {WAS}.reports_heartbeat DROP COLUMN at")
    with pytest.raises(Mend, match="does not answer: column"):
        trials.replica_follows()


@pytest.mark.owner
def test_check_setup_minds_a_replica_that_may_be_written_to(behind: Any) -> None:
    with behind.cursor() as cursor:
        cursor.execute("SET default_transaction_read_only = off")

    with pytest.raises(Mend, match="may be written to"):
        trials.replica_follows()


@pytest.mark.owner
def test_nothing_is_ever_written_there(behind: Any, cast: Any) -> None:
    reading = replica._reading.set(True)
    try:
        row = RegionEdition.objects.get(region=cast.north)
        assert row._state.db == replica.REPLICA
        assert row.region._state.db == "default", "what stands beside a figure is read from the primary"
        row.save()
        assert row._state.db == "default"
        assert Yard.objects.all().db == MiteSample.objects.all().db == "default"
    finally:
        replica._reading.reset(reading)
    assert RegionMonth.objects.all().db == "default", "outside such a page nothing is read there"
    assert not router.allow_migrate(replica.REPLICA, "reports")


def test_without_a_replica_check_setup_asks_for_none() -> None:
    assert trials.replica_follows() == "none is named, and none is needed"


def test_without_a_replica_nothing_is_remembered(client_for: Any, cast: Any) -> None:
    with pytest.raises(MiddlewareNotUsed):
        replica.remember_writes(lambda request: None)  # type: ignore[arg-type, return-value]
