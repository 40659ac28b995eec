"""The files for containers, units and the proxy: they can be read, and name only what there is."""

import configparser
import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest
import yaml

from config.paths import BASE_DIR
from config.secrets_from_files import SECRETS

FOLDER = BASE_DIR / "docs" / "how-to" / "deploy"
START = (FOLDER / "start.sh").read_text()
WORDS = set(re.findall(r"^([a-z]+)\) ", START, re.MULTILINE))
UNITS = sorted(FOLDER.glob("*.service"))
AS_OWNER = {"backup", "migrate"}
"""Words of units that get the owner's address: no process of the service does."""
ENDS = AS_OWNER
"""Words that come to an end by themselves."""
PAGE = BASE_DIR / "docs" / "reference" / "settings.md"
KNOWN = set(re.findall(r"^\| `([A-Z_]+)` \|", PAGE.read_text(), re.MULTILINE))
KNOWN |= {f"{name}_FILE" for name in SECRETS}
OF_PYTHON = {"PYTHONUNBUFFERED", "PYTHONDONTWRITEBYTECODE"}


class Unit(configparser.RawConfigParser):
    """A unit file: names keep their case, and one may stand several times."""

    def __init__(self, path: Path) -> None:
        super().__init__(strict=False, delimiters=("=",), comment_prefixes=("#", ";"))
        self.read_string(path.read_text())
        self.lines = [line.partition("=") for line in path.read_text().splitlines()]

    def optionxform(self, optionstr: str) -> str:
        return optionstr

    def all(self, name: str) -> list[str]:
        return [value for key, _, value in self.lines if key == name]


@pytest.fixture(scope="module")
def compose() -> dict[str, Any]:
    made: dict[str, Any] = yaml.safe_load((FOLDER / "compose.yaml").read_text())
    return made


OURS = ("migrate", "web", "worker", "beat")


def test_the_script_knows_each_word_that_the_page_says() -> None:
    page = (BASE_DIR / "docs" / "how-to" / "run-it-for-real.md").read_text()
    said = {word for words in re.findall(r"start\.sh (?:(as) \S+ )?([a-z]+)", page) for word in words if word}
    owners = re.findall(r"^\| `recount_owner` \| (.*) \|$", page, re.MULTILINE)[0]
    said |= set(re.findall(r"`([a-z]+)`", owners))

    processes = {"web", "worker", "beat"}
    assert {
        "as",
        "database",
        "files",
        "migrate",
        "grant",
        "check",
        "seal",
        "club",
        "backup",
        "restore",
    } | processes == WORDS
    assert said == WORDS


def test_the_script_is_a_plain_one_and_may_be_run() -> None:
    assert (FOLDER / "start.sh").stat().st_mode & 0o111
    assert subprocess.run(["sh", "-n", str(FOLDER / "start.sh")]).returncode == 0


def test_an_unknown_word_is_refused() -> None:
    done = subprocess.run([str(FOLDER / "start.sh"), "wep"], capture_output=True, text=True)

    assert done.returncode == 2 and done.stderr.startswith("Say one of: start.sh database OWNER ROLE NAME")


def test_as_hands_the_owners_address_to_what_follows_alone(tmp_path: Path) -> None:
    """Whatever stood in DATABASE_URL before: both given would stop the start."""
    asks = tmp_path / "python"
    asks.write_text('#!/bin/sh\necho "[$DATABASE_URL] [$DATABASE_URL_FILE] $*"\n')
    asks.chmod(0o755)
    env = {"PATH": "/usr/bin:/bin", "PYTHON": str(asks), "DATABASE_URL": "postgres://service@/x"}

    done = subprocess.run(
        [str(FOLDER / "start.sh"), "as", "/etc/recount/owner_database_url", "migrate", "recount"],
        cwd="/", env=env, capture_output=True, text=True,
    )  # fmt: skip

    said = [line.partition("] [") for line in done.stdout.splitlines()]
    assert {before for before, _, _ in said} == {"["}, "no address but the file's"
    assert [after for _, _, after in said][1:] == [
        "/etc/recount/owner_database_url] manage.py migrate --no-input",
        "/etc/recount/owner_database_url] manage.py load_reference",
        "/etc/recount/owner_database_url] manage.py grant_roles recount",
    ]


def test_only_who_changes_tables_gets_the_owners_address(compose: dict[str, Any]) -> None:
    for name in OURS:
        one = compose["services"][name]
        owners = one["environment"]["DATABASE_URL_FILE"] == "/run/secrets/owner_database_url"
        assert owners == ("owner_database_url" in one["secrets"]) == (name == "migrate"), name
    assert compose["services"]["migrate"]["command"] == ["migrate", "recount"]
    for path in UNITS:
        unit = Unit(path)
        word = unit["Service"]["ExecStart"].split()[1]
        handed = dict(one.split(":") for one in unit.all("LoadCredential"))
        file = "owner_database_url" if word in AS_OWNER else "database_url"
        assert handed["database_url"] == f"/etc/recount/{file}", path.name


@pytest.mark.parametrize("command", sorted(set(re.findall(r"manage\.py (\w+)", START))))
def test_each_command_in_the_script_exists(command: str) -> None:
    from django.core.management import get_commands

    assert command in get_commands()


@pytest.mark.parametrize("service", OURS)
def test_a_service_of_the_image_is_shut_in(compose: dict[str, Any], service: str) -> None:
    one = compose["services"][service]

    assert one["command"][0] in WORDS and one["command"][0] == service
    assert one["image"] == "recount" and one["read_only"] is True and one["user"] not in ("0", "root")
    assert one["cap_drop"] == ["ALL"] and one["security_opt"] == ["no-new-privileges"]
    assert set(one["environment"]) <= KNOWN
    assert not set(one["environment"]) & {"SECRET_KEY", "DATABASE_URL", "EMAIL_URL"}, "secrets are files"
    for name, value in one["environment"].items():
        if name.endswith("_FILE"):
            assert value.removeprefix("/run/secrets/") in one["secrets"]


def test_the_processes_wait_for_the_migration(compose: dict[str, Any]) -> None:
    for service in ("web", "worker", "beat"):
        waits = compose["services"][service]["depends_on"]
        assert waits["migrate"] == {"condition": "service_completed_successfully"}


@pytest.mark.parametrize("service", ["web", "worker", "db", "broker"])
def test_a_service_that_listens_has_its_health_asked(compose: dict[str, Any], service: str) -> None:
    assert compose["services"][service]["healthcheck"]["test"][0] == "CMD"


def test_all_secrets_and_volumes_are_declared(compose: dict[str, Any]) -> None:
    services = compose["services"].values()
    used = {name for one in services for name in one.get("secrets", [])}
    volumes = {one.split(":")[0] for service in services for one in service.get("volumes", [])}

    assert used == set(compose["secrets"]) and volumes == set(compose["volumes"])
    assert {Path(one["file"]).parts[0] for one in compose["secrets"].values()} == {"secrets"}


def test_the_image_copies_what_there_is_and_runs_as_nobody() -> None:
    lines = (FOLDER / "Containerfile").read_text().splitlines()
    sources = [
        name
        for line in lines
        if line.startswith("COPY ") and "--from" not in line
        for name in line.split()[1:-1]
    ]
    packages = {"apiaries", "config", "counts", "fixtures", "reports", "treatments"}

    assert packages | {"manage.py", "pyproject.toml", "constraints.txt"} <= set(sources)
    assert [name for name in sources if not (BASE_DIR / name).exists()] == []
    assert [line for line in lines if line.startswith("USER ")] == ["USER recount"]
    (first,) = (line for line in lines if line.startswith("CMD "))
    assert re.findall(r'"(\w+)"', first)[0] in WORDS
    named = {name for line in lines if line.startswith("ENV ") for name in re.findall(r"([A-Z_]+)=", line)}
    assert named <= KNOWN | OF_PYTHON


def test_there_is_a_unit_for_each_process() -> None:
    assert [unit.name for unit in UNITS] == [
        "recount-backup.service",
        "recount-beat.service",
        "recount-migrate.service",
        "recount-web.service",
        "recount-worker@.service",
    ]


@pytest.mark.parametrize("path", UNITS, ids=lambda path: path.name)
def test_a_unit_runs_the_script_and_is_shut_in(path: Path) -> None:
    unit = Unit(path)
    service = unit["Service"]
    program, word, *_ = service["ExecStart"].split()

    assert program == "/srv/recount/docs/how-to/deploy/start.sh" and word in WORDS
    assert path.name.startswith(f"recount-{word}")
    assert service["User"] == "recount" and service["NoNewPrivileges"] == "yes"
    assert service["ProtectSystem"] == "strict" and service["CapabilityBoundingSet"] == ""
    names = {one.partition("=")[0] for line in unit.all("Environment") for one in line.split()}
    assert names <= KNOWN and {"DATABASE_URL_FILE", "SECRET_KEY_FILE"} <= names
    handed = {one.partition(":")[0] for one in unit.all("LoadCredential")}
    assert handed == set(re.findall(r"%d/(\w+)", path.read_text()))
    assert (service["Type"] == "oneshot") == (word in ENDS)
    assert (service.get("Restart") == "always") == (word not in ENDS)


@pytest.mark.parametrize("path", UNITS, ids=lambda path: path.name)
def test_the_machines_own_reader_of_units_finds_nothing_odd(path: Path, tmp_path: Path) -> None:
    reader = shutil.which("systemd-analyze")
    if reader is None:
        assert Unit(path).sections()[:2] == ["Unit", "Service"], "no systemd here: read by us alone"
        return
    here = path.read_text().replace("/srv/recount/docs/how-to/deploy", str(FOLDER))
    (tmp_path / path.name).write_text(here.replace("/srv/recount", str(tmp_path)))

    done = subprocess.run(
        [reader, "verify", "--man=no", str(tmp_path / path.name)], capture_output=True, text=True
    )

    ours = [line for line in done.stderr.splitlines() if "recount" in line]
    assert (ours, done.returncode) == ([], 0)


def test_the_timer_wakes_a_unit_of_ours_every_night(tmp_path: Path) -> None:
    (path,) = FOLDER.glob("*.timer")
    timer = Unit(path)
    assert path.with_suffix(".service") in UNITS
    assert timer["Timer"]["OnCalendar"].startswith("*-*-* ") and timer["Timer"]["Persistent"] == "true"
    reader = shutil.which("systemd-analyze")
    if reader is not None:
        for name in (path, path.with_suffix(".service")):
            here = name.read_text().replace("/srv/recount/docs/how-to/deploy", str(FOLDER))
            (tmp_path / name.name).write_text(here.replace("/srv/recount", str(tmp_path)))
        done = subprocess.run(
            [reader, "verify", "--man=no", str(tmp_path / path.name)], capture_output=True, text=True
        )
        assert [line for line in done.stderr.splitlines() if "recount" in line] == []


def test_the_proxy_overwrites_what_a_visitor_claims() -> None:
    proxy = (FOLDER / "proxy.conf").read_text()
    headers = dict(re.findall(r"proxy_set_header (\S+) ([^;]+);", proxy))

    assert headers == {"Host": "$host", "X-Forwarded-Proto": "https", "X-Forwarded-For": "$remote_addr"}
    assert proxy.count("{") == proxy.count("}")
