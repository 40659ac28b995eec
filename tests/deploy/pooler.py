"""PgBouncer in transaction mode before a database of the tests: each statement or transaction may meet another session.

RECOUNT_POOLED=1 puts it between the service and its database in tests/deploy/test_start.py (docs/how-to/grow.md).
"""

import os
import shutil
import socket
import subprocess
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from tests.brokers import answers
from tests.deploy.database import Database
from tests.faults.machinery import wait_until

WANTED = bool(os.environ.get("RECOUNT_POOLED"))
SESSIONS = 2
"""For all processes of the service together, which are far more: none may count on finding its own again."""
MADE = """
[databases]
{name} = host={host} port={port} dbname={name}
[pgbouncer]
listen_addr = *
listen_port = {own}
unix_socket_dir =
auth_type = plain
auth_file = {users}
pool_mode = transaction
default_pool_size = {sessions}
server_reset_query_always = 0
admin_users = {role}
"""


@contextmanager
def open_pooler(folder: Path, database: Database) -> Iterator[int]:
    """The port on which it hands the service's role on to the database, by the password of both."""
    program = shutil.which("pgbouncer") or shutil.which("/usr/sbin/pgbouncer")
    if program is None:
        raise RuntimeError("RECOUNT_POOLED is set, and there is no pgbouncer: apt-get install pgbouncer")
    if database.host.startswith("/"):
        raise RuntimeError(
            "RECOUNT_POOLED is set: DATABASE_URL must name a server that listens on an address"
        )
    with closing(socket.socket()) as probe:
        probe.bind(("127.0.0.1", 0))
        own = int(probe.getsockname()[1])
    users, plan = folder / "users.txt", folder / "pgbouncer.ini"
    users.write_text(f'"{database.role}" "{database.password}"\n')
    plan.write_text(
        MADE.format(
            name=database.name,
            host=database.host,
            port=database.port,
            own=own,
            users=users,
            sessions=SESSIONS,
            role=database.role,
        )
    )
    as_somebody = [] if os.geteuid() else ["--user", "nobody"]  # it refuses to run as root
    if as_somebody:
        for path in (folder, *folder.parents[:2]):
            path.chmod(path.stat().st_mode | 0o011)
        for path in (users, plan):
            path.chmod(0o644)
    with (folder / "pgbouncer.log").open("wb") as log:
        running = subprocess.Popen([program, *as_somebody, str(plan)], stdout=log, stderr=log)
    try:
        wait_until(lambda: running.poll() is not None or answers(own), 20)
        assert running.poll() is None, (folder / "pgbouncer.log").read_text()
        yield own
    finally:
        running.terminate()
        running.wait(20)
