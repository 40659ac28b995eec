"""The documented start, by the letter: a fresh database with its owner and a plain role beside it, as which two web
hosts, three worker hosts and two beats run.

A keeper signs in by a mailed code, counts and treats through both web hosts, recount mails go out by all workers; one
worker host is cut off in the middle and comes back: nothing is lost and nothing comes twice.
"""

import json
import os
import re
import secrets
import shutil
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import closing, contextmanager, nullcontext
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import psycopg
import pytest
from celery import Celery
from django.db import connection

from config.paths import BASE_DIR
from tests.brokers import missing, url_of
from tests.deploy import pooler
from tests.deploy.database import Database, open_database
from tests.deploy.hosts import START, Host, open_hosts
from tests.deploy.pooler import open_pooler
from tests.deploy.visitor import SITE, Visitor
from tests.faults.machinery import Sink, open_sink, wait_until
from tests.faults.workers import open_own_redis
from tests.flows.forms import send
from tests.plain_role import is_superuser

pytestmark = pytest.mark.slow

KEEPERS = 8
MADE = """
import json
from allauth.account.models import EmailAddress
from django.utils import timezone
from apiaries.models import Colony
from tests.faults.people import due_now
people = due_now({number}, name="{name}")
EmailAddress.objects.create(user=people[0], email=people[0].email, primary=True, verified=True)
colony = Colony.objects.get(yard__keeper=people[0])
today = str(colony.yard.local_date(timezone.now()))
print(json.dumps([[person.email for person in people], colony.yard_id, colony.pk, today]))
"""


def _settings(var: Path, database: str, broker: str, mail: str) -> dict[str, str]:
    """The environment of a process of the service: these settings, and nothing of the tests or of the owner."""
    _secret(var.with_name(f"{var.name}_database_url"), database)
    plain = {name: os.environ[name] for name in ("PATH", "HOME", "LANG") if name in os.environ}
    return plain | {
        "PYTHON": sys.executable,
        "DATABASE_URL_FILE": str(var.with_name(f"{var.name}_database_url")),
        "CELERY_BROKER_URL": broker,
        "EMAIL_URL": mail,
        "SECRET_KEY_FILE": str(var.parent / "secret_key"),
        "SECOND_STEP_KEY_FILE": str(var.parent / "second_step_key"),
        "ALLOWED_HOSTS": SITE,
        "MAIL_FROM": f"recount@{SITE}",
        "TRUSTED_PROXIES": "1",
        "RECOUNT_VAR": str(var),
    }


def _secret(path: Path, value: str) -> Path:
    path.write_text(value)
    path.chmod(0o600)
    return path


def _run(environment: dict[str, str], *words: str, told: str = "") -> str:
    done = subprocess.run(
        [str(START), *words], env=environment, input=told, capture_output=True, text=True, timeout=900
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def _shell(environment: dict[str, str], script: str) -> Any:
    done = subprocess.run(
        [sys.executable, "manage.py", "shell", "-v", "0", "-c", script],
        env=environment,
        cwd=BASE_DIR,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout.splitlines()[-1])


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("service")
    for name in ("secret_key", "second_step_key"):
        _secret(folder / name, secrets.token_urlsafe(50))
    return folder


@pytest.fixture(scope="module")
def database(django_db_setup: Any, django_db_blocker: Any) -> Iterator[Database]:
    with django_db_blocker.unblock():
        settings, mighty = connection.settings_dict, is_superuser()
        connection.close()
    with open_database(f"recount_start_{os.getpid()}", settings, mighty=mighty) as made:
        yield made


@pytest.fixture(scope="module")
def set_up(database: Database, folder: Path) -> dict[str, str]:
    """The environment of a host on which everything was set up, in the order of the page."""
    ends = ("redis://127.0.0.1:1/0", "smtp://127.0.0.1:1")
    environment = _settings(folder / "var", database.url(database.role), *ends)
    owners = _secret(folder / "owner_database_url", database.url(database.owner))
    _run(environment, "files")
    said = _run(environment, "as", str(owners), "migrate", database.role)
    assert f"{database.role} may use " in said
    zone = ("--time-zone", "Europe/Berlin")
    said = _run(
        environment, "club", "Elm Valley", *zone, "--administrator", "ada@example.org", "--region", "North"
    )
    assert f"https://{SITE}/account/login/" in said
    return environment


@contextmanager
def _own_place_on(name: str, folder: Path) -> Iterator[tuple[str, int]]:
    """A broker's URL, with {} where its host and port go, and its port on this machine; nobody else uses that place."""
    if name == "redis":
        with open_own_redis(folder) as redis:
            yield "redis://{}/0", redis.port
        return
    url_of(name)
    place = f"recount-start-{os.getpid()}"
    if os.geteuid() or not shutil.which("rabbitmqctl"):
        missing("a virtual host of RabbitMQ for the test alone needs rabbitmqctl, as root")
    rabbit = ["rabbitmqctl", "--quiet"]
    subprocess.run([*rabbit, "add_vhost", place], check=True)
    try:
        subprocess.run([*rabbit, "set_permissions", "-p", place, "guest", ".*", ".*", ".*"], check=True)
        yield f"amqp://guest:guest@{{}}/{place}", 5672
    finally:
        subprocess.run([*rabbit, "delete_vhost", place], check=True)


@dataclass
class Service:
    """Everything that runs."""

    hosts: dict[str, Host]
    visitor: Visitor
    broker: str
    logs: dict[str, Path]

    def wake(self, times: int) -> None:
        """What the schedule sends each quarter of an hour."""
        app = Celery("test", broker=self.broker, set_as_current=False)
        with closing(app):
            for _ in range(times):
                app.send_task("reports.tasks.wake_notices", queue="recount")

    def done_by(self, worker: str) -> int:
        return self.logs[worker].read_text().count(" succeeded in ")


@contextmanager
def _open_service(folder: Path, database: Database, sink: Sink, broker: tuple[str, int]) -> Iterator[Service]:
    pattern, broker_port = broker
    with (
        open_pooler(folder, database) if pooler.WANTED else nullcontext(0) as pooled,
        open_hosts(["web1", "web2", "work1", "work2", "work3"], folder) as hosts,
    ):
        environments = {}
        for name, host in hosts.items():
            place = "" if database.host.startswith("/") else host.line_to(pooled or database.port)
            place = database.url(database.role, place)
            lines = (pattern.format(host.line_to(broker_port)), f"smtp://{host.line_to(sink.port)}")
            environments[name] = _settings(folder.parent / name, place, *lines)
            environments[name]["DATABASE_POOLED"] = "yes" if pooled else "no"
            (folder.parent / name).mkdir(exist_ok=True)
            if not (folder.parent / name / "static").exists():
                (folder.parent / name / "static").symlink_to(folder.parent / "var" / "static")
        visitor = Visitor([])
        logs = {}
        for number, name in enumerate(("web1", "web2")):
            port = 18_000 + os.getpid() % 1000 + number
            bind = f"{hosts[name].address}:{port}"
            logs[name] = hosts[name].start(environments[name], "web", "--bind", bind, "--workers", "1")
            visitor.hosts.append((hosts[name].address, port))
        for name in ("work1", "work2", "work3"):
            logs[name] = hosts[name].start(environments[name], "worker", "--concurrency", "1")
        for name in ("work1", "work2"):
            logs[f"beat of {name}"] = hosts[name].start(environments[name], "beat")
        wait_until(
            lambda: all(" ready." in logs[name].read_text() for name in ("work1", "work2", "work3")), 90
        )
        wait_until(lambda: all("Listening at" in logs[name].read_text() for name in ("web1", "web2")), 60)
        yield Service(hosts, visitor, pattern.format(f"127.0.0.1:{broker_port}"), logs)


def _signs_in(visitor: Visitor, email: str, sink: Sink) -> None:
    answer = send(visitor, "/account/login/code/", {"email": email})
    assert answer.status_code == 302, answer.content.decode()
    text = wait_until(lambda: next((mail["text"] for mail in sink.taken if mail["to"] == email), ""), 60)
    found = re.search(r"^\s*([A-Z0-9]{3,4}-?[A-Z0-9]{3,4})\s*$", text, re.MULTILINE)
    assert found, text
    answer = send(visitor, answer["Location"], {"code": found[1]})
    assert answer.status_code == 302, answer.content.decode()
    assert not answer["Location"].startswith("/account/"), answer["Location"]


@pytest.mark.parametrize("broker", ["redis", "rabbitmq"])
def test_the_documented_start_carries_the_loop_and_loses_nothing(
    broker: str, set_up: dict[str, str], database: Database, folder: Path, tmp_path: Path
) -> None:
    made = MADE.format(number=KEEPERS, name=broker.title())
    emails, yard, colony, today = _shell(set_up, made)
    place = folder / broker
    place.mkdir()
    with (
        open_sink(tmp_path) as sink,
        _own_place_on(broker, tmp_path) as own,
        _open_service(place, database, sink, own) as service,
    ):
        visitor = service.visitor
        _signs_in(visitor, emails[0], sink)
        jar = {f"c{colony}-mites": 9, "method": "alcohol_wash", "bees_how": "nominal", "bees": 300}
        before = database.number("SELECT count(*) FROM counts_mitesample")
        assert send(visitor, f"/yards/{yard}/counts/new/", jar).status_code == 302
        assert database.number("SELECT count(*) FROM counts_mitesample") == before + 1
        treated = {"on_1": today, "dose_1": 1, "withdrawal_days": 0}
        treating = f"/yards/{yard}/treatments/new/?way=oxalic_vapour_us"

        owed = emails[1:]  # the first has counted, so that recount is done
        sink.order(slow=0.7)
        begun = len(sink.taken)
        service.wake(6)
        wait_until(lambda: len(sink.taken) >= begun + 2, 120)
        at_work = database.at_work()
        if pooler.WANTED:  # a session of it has the name of whom it served last
            assert database.sessions() <= pooler.SESSIONS
        else:
            assert {"recount gunicorn", "recount celery"} <= set(at_work), "both are asked for"
        assert set().union(*at_work.values()) == {database.role}, "nobody is the owner"
        service.hosts["work3"].cut()
        service.wake(6)
        assert send(visitor, treating, treated).status_code == 302
        until = time.monotonic() + 5
        wait_until(lambda: time.monotonic() > until)
        service.hosts["work3"].mend()
        wait_until(lambda: {mail["to"] for mail in sink.taken[begun:]} >= set(owed), 240)

        worked = service.done_by("work3")
        wait_until(lambda: service.wake(1) or service.done_by("work3") > worked, 120, every=0.5)
        for name in ("beat of work1", "beat of work2"):
            wait_until(lambda name=name: "Sending due task" in service.logs[name].read_text(), 60)

    assert Counter(mail["to"] for mail in sink.taken[begun:]) == Counter(owed), "each one mail"
    assert set(sink.copies().values()) == {1}, "none came twice"
    assert database.number(f"SELECT count(*) FROM treatments_treatment WHERE yard_id = {yard}") == 2
    assert database.number("SELECT count(*) FROM reports_digest WHERE state <> 'sent'") == 0


HELD = """
import json
from apiaries.models import Yard
from tests.faults.people import due_now
print(json.dumps([[one.pk, Yard.objects.get(keeper=one).pk] for one in due_now(2, name="Held")]))
"""
REFUSED = [
    "UPDATE treatments_medicinelink SET what = 'voided'",
    "DELETE FROM treatments_medicinelink",
    "ALTER TABLE treatments_medicinelink DISABLE TRIGGER ALL",
    "ALTER TABLE counts_mitesample DISABLE ROW LEVEL SECURITY",
    "TRUNCATE counts_mitesample",
    "CREATE TABLE of_mine (n int)",
]


def test_the_role_of_the_service_is_held_by_the_database(
    set_up: dict[str, str], database: Database, folder: Path
) -> None:
    """What it may not, asked past the program, and what the program says of it."""
    people = _shell(set_up, HELD)
    with database.connect(database.role) as line:
        for statement in REFUSED:
            with pytest.raises(psycopg.errors.InsufficientPrivilege):
                line.execute(statement)
        assert line.execute("SELECT count(*) FROM apiaries_yard").fetchone() == (0,)
        for person, yard in people:
            with line.transaction():
                line.execute("SELECT set_config('recount.reader', %s, true)", [str(person)])
                for asked in ("id FROM apiaries_yard", "DISTINCT yard_id FROM treatments_treatment"):
                    assert line.execute(f"SELECT {asked}").fetchall() == [(yard,)]
    refused = subprocess.run(
        [str(START), "migrate", database.role], env=set_up, capture_output=True, text=True
    )
    assert refused.returncode == 1 and "as the role that owns" in refused.stderr, refused.stderr
    checked = subprocess.run([str(START), "check"], env=set_up, capture_output=True, text=True)
    assert f"ok         role: the role {database.role} is a plain one" in checked.stdout, checked.stdout
