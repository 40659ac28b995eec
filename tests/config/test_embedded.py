"""The embedded PostgreSQL, with real servers in folders of their own."""

import os
import pwd
import shutil
import signal
import socket
import stat
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from threading import Thread

import psycopg
import pytest

from config.embedded import EmbeddedServer, Stop, database_url, ensure_server, release_lease, stop_server
from config.embedded_place import ACCOUNT, OUTSIDE, PORT, SOCKET_PATH_MAX, EmbeddedError, forget, place_of
from config.embedded_process import all_of, is_ours, postmaster_of

PLAIN = (True, False, False, False, False, False)
ROLE = "SELECT rolcanlogin, rolsuper, rolcreatedb, rolcreaterole, rolreplication, rolbypassrls FROM pg_roles"


@pytest.fixture(scope="module")
def make_home() -> Iterator[Callable[[str], Path]]:
    """Makes homes that another account can reach, and ends and removes their servers afterwards."""
    base = Path(tempfile.mkdtemp(prefix="rc", dir="/tmp"))
    base.chmod(0o755)
    homes: list[Path] = []

    def make(name: str) -> Path:
        homes.append(base / name / "postgres")
        return homes[-1]

    yield make
    for home in homes:
        if (home / "server.json").exists():
            stop_server(home, force=True)
            forget(place_of(home))
    shutil.rmtree(base)


@pytest.fixture(scope="module")
def home(make_home: Callable[[str], Path]) -> Path:
    return make_home("var")


@pytest.fixture
def server(home: Path) -> EmbeddedServer:
    return ensure_server(home)


def pid_of(server: EmbeddedServer) -> int:
    running = postmaster_of(server.place.data)
    assert running and running.ready
    return running.pid


def run_python(code: str, var: Path) -> subprocess.Popen[str]:
    """A process of its own that runs the code; DATABASE_URL is unset and var is its folder."""
    environment = {name: value for name, value in os.environ.items() if name != "DATABASE_URL"}
    return subprocess.Popen(
        [sys.executable, "-c", code],
        env=environment | {"RECOUNT_VAR": str(var)},
        stdout=subprocess.PIPE,
        stdin=subprocess.PIPE,
        text=True,
    )


def wait_until(true: Callable[[], bool], seconds: float = 20) -> None:
    until = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < until, "waited in vain"
        time.sleep(0.05)


def test_application_role_is_plain_and_owns_its_database(server: EmbeddedServer) -> None:
    with server.connect() as connection:
        roles = connection.execute(f"{ROLE} WHERE rolname = current_user").fetchall()
        owner = connection.execute("SELECT datdba::regrole::text FROM pg_database WHERE datname = 'recount'")

        assert roles == [PLAIN]
        assert owner.fetchone() == ("recount",)
        with pytest.raises(psycopg.errors.InsufficientPrivilege):
            connection.execute("SET session_replication_role = replica")


def test_test_role_makes_databases_and_stays_out_of_the_clubs(server: EmbeddedServer) -> None:
    with server.connect("recount_test", "postgres") as connection:
        roles = connection.execute(f"{ROLE} WHERE rolname = current_user").fetchall()
        connection.execute("CREATE DATABASE scratch")
        connection.execute("DROP DATABASE scratch")

    assert roles == [(True, False, True, False, False, False)]
    with pytest.raises(psycopg.OperationalError, match="permission denied for database"):
        server.connect("recount_test", "recount")


def test_cluster_has_checksums_utf8_and_one_order_everywhere(server: EmbeddedServer) -> None:
    with server.connect() as connection:
        shown = connection.execute(
            "SELECT current_setting('data_checksums'), current_setting('server_encoding'), datlocprovider, datlocale "
            "FROM pg_database WHERE datname = 'recount'"
        ).fetchone()

    assert shown == ("on", "UTF8", "b", "C.UTF-8")


def test_nobody_else_gets_in(server: EmbeddedServer) -> None:
    place = server.place
    with server.connect() as connection:
        assert connection.execute("SHOW listen_addresses").fetchone() == ("",)
    for folder in (place.data, place.run, place.log.parent):
        found = folder.stat()
        assert (stat.S_IMODE(found.st_mode), found.st_uid) == (0o700, place.uid)
    assert stat.S_IMODE((place.home / "server.json").stat().st_mode) == 0o600
    with pytest.raises(psycopg.OperationalError, match="password authentication failed"):
        psycopg.connect(host=str(place.run), user="recount", password="guess", dbname="recount")


def test_server_runs_as_an_ordinary_account(server: EmbeddedServer) -> None:
    expected = pwd.getpwnam(ACCOUNT).pw_uid if os.geteuid() == 0 else os.geteuid()

    assert expected != 0
    assert Path(f"/proc/{pid_of(server)}").stat().st_uid == expected == server.place.uid


def test_second_start_finds_the_same_server(server: EmbeddedServer, home: Path) -> None:
    before = pid_of(server)

    assert pid_of(ensure_server(home)) == before


def test_urls_reach_the_server_through_the_settings_reader(server: EmbeddedServer, home: Path) -> None:
    import environ

    read = environ.Env.db_url_config(server.test_url)

    assert (read["HOST"], read["NAME"], read["USER"]) == (
        str(server.place.run),
        "recount_test",
        "recount_test",
    )
    with psycopg.connect(server.psql_url) as connection:
        assert connection.execute("SELECT current_user").fetchone() == ("recount",)


def test_database_url_starts_nothing_and_prefers_the_given_one(
    make_home: Callable[[str], Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    home = make_home("idle")
    monkeypatch.delenv("DATABASE_URL", raising=False)

    assert database_url(home.parent).startswith("postgres://recount:")
    assert database_url(home.parent, testing=True).startswith("postgres://recount_test:")
    assert not place_of(home).data.exists()
    monkeypatch.setenv("DATABASE_URL", "postgres://elsewhere/club")
    assert database_url(home.parent) == "postgres://elsewhere/club"


def test_committed_rows_outlive_a_kill_of_the_whole_tree(server: EmbeddedServer, home: Path) -> None:
    with server.connect() as connection:
        connection.execute("CREATE TABLE IF NOT EXISTS kept (n int)")
        connection.execute("INSERT INTO kept SELECT generate_series(1, 50000)")
        before = connection.execute("SELECT count(*) FROM kept").fetchone()
    killed = all_of(server.place.data)

    for pid in killed:
        os.kill(pid, signal.SIGKILL)
    wait_until(lambda: not any(is_ours(pid, server.place.data) for pid in killed))
    again = ensure_server(home)

    assert pid_of(again) not in killed
    with again.connect() as connection:
        assert connection.execute("SELECT count(*) FROM kept").fetchone() == before


def test_orphan_of_a_killed_postmaster_is_ended_and_named(
    server: EmbeddedServer, home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    busy = server.connect()
    orphan = busy.info.backend_pid
    Thread(target=run_for_ever, args=[busy], daemon=True).start()
    with server.connect() as connection:
        wait_until(lambda: is_active(connection, orphan))
    os.kill(pid_of(server), signal.SIGKILL)
    wait_until(lambda: all_of(server.place.data) == [orphan])

    again = ensure_server(home)

    assert pid_of(again)
    assert not is_ours(orphan, server.place.data)
    assert f"Ended process {orphan}" in capsys.readouterr().err


def run_for_ever(connection: psycopg.Connection) -> None:
    """A statement that never looks up, so that its backend does not notice the end of its postmaster."""
    with pytest.raises(psycopg.OperationalError):
        connection.execute("SELECT count(*) FROM generate_series(1, 100000000000) AS n WHERE n < 0")


def is_active(connection: psycopg.Connection, pid: int) -> bool:
    row = connection.execute("SELECT state FROM pg_stat_activity WHERE pid = %s", [pid]).fetchone()
    return row == ("active",)


def test_two_first_starts_at_once_make_one_server(make_home: Callable[[str], Path]) -> None:
    home = make_home("race")
    code = "from config.embedded import *; s = start_if_embedded(); print(s.psql_url, postmaster_of(s.place.data).pid)"

    both = [run_python(code, home.parent) for _ in range(2)]
    said = [process.communicate(timeout=60)[0] for process in both]

    assert [process.returncode for process in both] == [0, 0]
    assert said[0] == said[1] != ""
    assert pid_of(ensure_server(home)) == int(said[0].split()[1])
    assert stop_server(home) is Stop.STOPPED


def test_a_pid_file_that_names_another_server_does_not_harm_it(
    server: EmbeddedServer, make_home: Callable[[str], Path]
) -> None:
    bystander = pid_of(server)
    home = make_home("other")
    other = ensure_server(home)
    assert stop_server(home) is Stop.STOPPED
    forged = [str(bystander), str(other.place.data), "1", str(PORT), str(other.place.run), "", "", "ready"]
    (other.place.data / "postmaster.pid").write_text("\n".join(forged))
    os.chown(other.place.data / "postmaster.pid", other.place.uid, other.place.gid)

    assert stop_server(home) is Stop.NOT_RUNNING
    assert pid_of(ensure_server(home)) != bystander
    assert stop_server(home) is Stop.STOPPED
    assert pid_of(server) == bystander


def test_stop_is_refused_while_another_process_uses_the_server(server: EmbeddedServer, home: Path) -> None:
    user = run_python(
        "from config.embedded import *; start_if_embedded(); print('in', flush=True); input()", home.parent
    )
    assert user.stdout and user.stdout.readline() == "in\n"

    assert stop_server(home) is Stop.IN_USE
    assert pid_of(server)

    user.communicate("\n", timeout=20)
    assert stop_server(home) is Stop.STOPPED
    assert all_of(server.place.data) == []


def test_long_and_odd_paths_get_a_short_private_socket_folder(make_home: Callable[[str], Path]) -> None:
    home = make_home("a club's season, " + "very " * 20 + "long")

    server = ensure_server(home)

    assert len(str(server.place.run / f".s.PGSQL.{PORT}")) <= SOCKET_PATH_MAX
    assert stat.S_IMODE(server.place.run.stat().st_mode) == 0o700
    with server.connect() as connection:
        assert connection.execute("SELECT 1").fetchone() == (1,)
    assert stop_server(home) is Stop.STOPPED


def test_a_squatted_socket_folder_is_left_alone(make_home: Callable[[str], Path]) -> None:
    home = make_home("squatted " + "long " * 25)
    first = ensure_server(home).place
    stop_server(home)
    first.run.chmod(0o777)

    second = ensure_server(home).place

    assert second.run != first.run
    assert (second.data, second.passwords) == (first.data, first.passwords)
    stop_server(home)
    first.run.rmdir()


def test_a_closed_checkout_is_served_from_outside_for_root_only(make_home: Callable[[str], Path]) -> None:
    home = make_home("closed/checkout")
    home.parent.parent.mkdir(parents=True)
    home.parent.parent.chmod(0o700)

    place = ensure_server(home).place

    assert (OUTSIDE in place.data.parents) == (os.geteuid() == 0)
    assert stat.S_IMODE(home.parent.parent.stat().st_mode) == 0o700, "nobody's folder is opened"
    stop_server(home)


def test_a_start_that_cannot_succeed_says_why(make_home: Callable[[str], Path]) -> None:
    home = make_home("broken")
    place = ensure_server(home).place
    stop_server(home)
    with (place.data / "postgresql.conf").open("a") as file:
        file.write("no_such_setting = 1\n")

    with pytest.raises(EmbeddedError, match="no_such_setting"):
        ensure_server(home)
    release_lease(home)


def test_half_made_data_is_made_again(make_home: Callable[[str], Path]) -> None:
    home = make_home("half")
    partial = place_of(home).data.with_name("data.partial")
    partial.mkdir()
    (partial / "PG_VERSION").write_text("18\n")

    assert pid_of(ensure_server(home))
    stop_server(home)


def test_server_listens_on_no_network_address(server: EmbeddedServer) -> None:
    inodes = {os.readlink(link) for link in Path(f"/proc/{pid_of(server)}/fd").iterdir()}
    with socket.socket(socket.AF_UNIX) as probe:
        probe.connect(str(server.place.run / f".s.PGSQL.{PORT}"))

    rows = (
        Path("/proc/net/tcp").read_text().splitlines()[1:]
        + Path("/proc/net/tcp6").read_text().splitlines()[1:]
    )
    assert not inodes & {f"socket:[{row.split()[9]}]" for row in rows}
