"""What an installation needs, each tried for real: `manage.py check_setup` says the answers.

A trial returns what it found, in a sentence, or raises Mend with what is wrong (BeWise: with what might be better) and
what to do. It writes nothing that
stays: a row of the cache that it takes back, a file that it removes, a message of the broker that it fetches itself.
"""

import datetime as dt
import os
import secrets
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import cast
from zoneinfo import available_timezones

from django.conf import settings
from django.contrib.staticfiles.storage import ManifestFilesMixin, staticfiles_storage
from django.core.cache import cache
from django.core.files.base import File
from django.db import DEFAULT_DB_ALIAS, connection, connections
from django.db import Error as DatabaseError
from django.db.migrations.executor import MigrationExecutor
from django.utils import timezone

from config.catalogues import ROOT, uncompiled
from config.checks import OLDEST_POSTGRESQL
from config.trials_of_services import (
    BeWise,
    Mend,
    broker_takes_messages,
    first_line,
    mail_is_taken,
    mail_server_lets_us_in,
    workers_listen,
)
from config.trials_of_sign_in import second_steps_are_sealed
from reports.replica import MOST_BEHIND, REPLICA, behind

CLOCKS_APART = 5.0  # seconds: more, and mails leave early or late, and codes of a second factor fail
ROLE = """
    SELECT rolname, rolsuper, rolbypassrls, EXISTS (
      SELECT FROM pg_class WHERE oid = to_regclass('counts_mitesample') AND pg_has_role(rolname, relowner, 'USAGE'))
    FROM pg_roles WHERE rolname = current_user"""
RIGHTS = """
    SELECT current_user, count(*), count(*) FILTER (WHERE NOT has_table_privilege(oid, 'SELECT'))
    FROM pg_class WHERE relnamespace = 'public'::regnamespace AND relkind IN ('r', 'p')"""
ROOM = 200 * 1024 * 1024  # bytes free under RECOUNT_VAR


@dataclass(frozen=True)
class Answer:
    """Of one trial. `do` is empty where nothing is to be done; where it is only `wise`, the service works without."""

    name: str
    said: str
    do: str = ""
    wise: bool = False


def answers(*, send_to: str = "") -> Iterator[Answer]:
    """All trials, one after the other; without a database, or a right to read it, those that ask it are left out."""
    reached = True
    for name, trial in (*OF_DATABASE, *OTHERS):
        if not reached and (name, trial) in OF_DATABASE:
            continue
        answer = _answer(name, trial)
        yield answer
        reached = reached and not (trial in (database_answers, rights_are_granted) and answer.do)
    if send_to:
        yield _answer("a mail", lambda: mail_is_taken(send_to))


def _answer(name: str, trial: Callable[[], str]) -> Answer:
    try:
        return Answer(name, trial())
    except Mend as mend:
        return Answer(name, mend.what, mend.do, wise=isinstance(mend, BeWise))


def database_answers() -> str:
    try:
        connection.ensure_connection()
    except DatabaseError as error:
        where = f"{connection.settings_dict['HOST']}:{connection.settings_dict['PORT'] or 5432}"
        raise Mend(
            f"{where} does not let us in: {first_line(error)}",
            "See that PostgreSQL runs there, and that DATABASE_URL holds its address, role and password.",
        ) from None
    version = int(getattr(connection, "pg_version", 0))
    if version < OLDEST_POSTGRESQL:
        raise Mend(f"PostgreSQL {version // 10_000} is too old.", "Move to 15 or newer.")
    return f"PostgreSQL {version // 10_000} answers"


def role_is_plain() -> str:
    """A superuser, and who may bypass row-level security, is held by no lock in the database; nor is an owner.

    One role for everything is a small club's choice to make. A superuser's never is: it may leave the database.
    """
    role, superuser, bypasses, owns = _row(ROLE)
    if superuser or bypasses:
        raise Mend(
            f"The role {role} is {'a superuser' if superuser else 'allowed to bypass row-level security'}.",
            f'As a superuser of the database: ALTER ROLE "{role}" NOSUPERUSER NOBYPASSRLS;',
        )
    if owns:
        raise BeWise(
            f"The role {role} owns the tables: the database keeps no keeper's rows from another, and no medicine record"
            " from a mistake.",
            "Let the service run as a second role that owns nothing: docs/how-to/upgrade.md, From one role to two.",
        )
    return f"the role {role} is a plain one that owns no tables: row-level security holds it"


def rights_are_granted() -> str:
    """Of a role that owns nothing. A release with a new table wants them said again."""
    role, tables, closed = _row(RIGHTS)
    if closed:
        raise Mend(
            f"The role {role} may not read {closed} of {tables} tables.",
            f"Say as the owner: start.sh as FILE grant {role}",
        )
    return f"for all of {tables} tables"


def migrations_are_applied() -> str:
    executor = MigrationExecutor(connection)
    missing = executor.migration_plan(executor.loader.graph.leaf_nodes())
    if missing:
        raise Mend(f"{len(missing)} migrations are not applied.", "Say: manage.py migrate")
    newer = set(executor.loader.applied_migrations) - set(executor.loader.disk_migrations)
    ours = {app for app, _ in executor.loader.disk_migrations}
    ahead = sorted(f"{app}.{name}" for app, name in newer if app in ours)
    if ahead:
        return f"all are applied, and {len(ahead)} of a newer release"
    return "all are applied"


def reference_is_loaded() -> str:
    if "counts_actionlevel" not in connection.introspection.table_names():
        raise Mend("There are no tables.", "Say: manage.py migrate, then manage.py load_reference")
    (levels,) = _row("SELECT count(*) FROM counts_actionlevel")
    if not levels:
        raise Mend("No action levels are loaded.", "Say: manage.py load_reference")
    return f"{levels} action levels"


def clocks_agree() -> str:
    before = time.time()
    zone, there = _row("SELECT current_setting('TimeZone'), extract(epoch FROM clock_timestamp())::float8")
    apart = there - (before + time.time()) / 2
    if zone != "UTC":
        raise Mend(
            f"The database's sessions run on {zone}.", "Unset what forces it: ALTER ROLE … SET TimeZone."
        )
    if abs(apart) > CLOCKS_APART:
        raise Mend(
            f"The database's clock is {abs(apart):.0f} s {'ahead of' if apart > 0 else 'behind'} this machine's.",
            "Let both take their time from the network (NTP).",
        )
    return f"the database's clock and this one are {abs(apart):.1f} s apart"


def cache_is_shared() -> str:
    """Written, read back and removed."""
    key, word = f"check-setup-{secrets.token_hex(8)}", secrets.token_hex(8)
    if "locmem" in settings.CACHES["default"]["BACKEND"] or "dummy" in settings.CACHES["default"]["BACKEND"]:
        raise Mend("Each process has a cache of its own.", "Unset CACHE_URL, or let it name a Redis.")
    try:
        cache.set(key, word, 60)
        kept = cache.get(key)
        cache.delete(key)
    except Exception as error:  # noqa: BLE001 (each kind of cache has errors of its own)
        raise Mend(
            f"The cache does not answer: {first_line(error)}", "Mend CACHE_URL, or unset it."
        ) from None
    if kept != word:
        raise Mend("The cache forgets at once.", "Mend CACHE_URL, or unset it.")
    return "keeps what it is given, for all processes"


def static_files_are_collected() -> str:
    if "Manifest" not in settings.STORAGES["staticfiles"]["BACKEND"]:
        return "served from the sources"
    storage = cast("ManifestFilesMixin", staticfiles_storage)
    do = "Say: manage.py collectstatic --no-input"
    try:
        made = Path(staticfiles_storage.path(storage.stored_name("recount.css")))
    except ValueError:
        raise Mend(f"They are not collected in {settings.STATIC_ROOT}.", do) from None
    if not made.exists():
        raise Mend(f"{made} is missing.", do)
    source = settings.BASE_DIR / "config" / "static" / "recount.css"
    with source.open("rb") as file:
        if made.name != Path(storage.hashed_name("recount.css", File(file))).name:
            raise Mend(f"Those in {settings.STATIC_ROOT} are of another release.", do)
    return f"collected in {settings.STATIC_ROOT}"


def languages_are_compiled() -> str:
    missing = [str(path.relative_to(ROOT)) for path, _ in uncompiled()]
    if missing:
        raise Mend(f"Not compiled: {', '.join(missing)}.", "Say: python -m config.catalogues compile")
    return "compiled"


def zones_are_known() -> str:
    if "Europe/Berlin" not in available_timezones():
        raise Mend("No time zone data found.", "Install the tzdata package.")
    return f"zones known; here it is {dt.datetime.now(dt.UTC):%d %b %Y %H:%M} UTC"


def var_is_writable() -> str:
    do = "Let the service's user write there, or set RECOUNT_VAR."
    try:
        settings.VAR.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=settings.VAR) as file:
            file.write(b"recount")
        free = os.statvfs(settings.VAR)
    except OSError as error:
        raise Mend(f"{settings.VAR} cannot be written: {error.strerror}.", do) from None
    if free.f_bavail * free.f_frsize < ROOM:
        raise Mend(f"{settings.VAR} has less than {ROOM // 1024**2} MB left.", "Make room.")
    return f"{settings.VAR} can be written"


def proxies_are_counted() -> str:
    if not settings.SERVED:
        return "not served"
    if settings.ALLAUTH_TRUSTED_PROXY_COUNT == 0 and settings.SECURE_SSL_REDIRECT:
        raise Mend(
            "TRUSTED_PROXIES is 0, so no proxy's word that a visitor came by TLS is taken: every page redirects.",
            "Set TRUSTED_PROXIES to the number of your proxies, mostly 1.",
        )
    return f"{settings.ALLAUTH_TRUSTED_PROXY_COUNT} before this site, at {settings.SITE_URL}"


def replica_follows() -> str:
    """Only read by region pages, which do without it: still, somebody set it and should hear that it is of no use."""
    if REPLICA not in settings.DATABASES:
        return "none is named, and none is needed"
    do = "See that REPLICA_DATABASE_URL names a standby of this database. Region pages read from the primary till then."
    try:
        since = behind(at=timezone.now())
        (read_only,) = _row("SELECT current_setting('transaction_read_only')", using=REPLICA)
    except DatabaseError as error:
        raise Mend(f"The replica does not answer: {first_line(error)}", do) from None
    if read_only != "on":
        raise Mend(
            "The replica may be written to through this address.",
            "Name the standby itself: a pooler may leave out what its connections ask for when they start.",
        )
    if since is None:
        return "answers; whether it follows is known when the planner has run"
    if since > MOST_BEHIND:
        raise Mend(f"The replica, or the planner, is {since.total_seconds() / 60:.0f} minutes behind.", do)
    return f"the planner's last beat there is {since.total_seconds():.0f} s old; it is read-only"


def _row(query: str, using: str = DEFAULT_DB_ALIAS) -> tuple:
    with connections[using].cursor() as cursor:
        cursor.execute(query)
        return tuple(cursor.fetchone())


OF_DATABASE = [
    ("database", database_answers),
    ("role", role_is_plain),
    ("rights", rights_are_granted),
    ("migrations", migrations_are_applied),
    ("reference data", reference_is_loaded),
    ("second steps", second_steps_are_sealed),
    ("clock", clocks_agree),
    ("cache", cache_is_shared),
    ("replica", replica_follows),
]
OTHERS = [
    ("broker", broker_takes_messages),
    ("workers", workers_listen),
    ("mail", mail_server_lets_us_in),
    ("static files", static_files_are_collected),
    ("languages", languages_are_compiled),
    ("time zones", zones_are_known),
    ("var", var_is_writable),
    ("proxies", proxies_are_counted),
]
