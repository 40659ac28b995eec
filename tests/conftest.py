"""What every test may ask for."""

import gc
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.conf import settings
from django.core.cache.backends.dummy import DummyCache
from django.core.management import call_command
from django.core.management.commands import flush
from django.db import connections
from django.test import Client
from django.test.utils import setup_databases
from django.utils import translation
from xdist.scheduler import LoadScopeScheduling

from apiaries.models import Person
from apiaries.second_lock import reader_is_the_service
from counts import adding
from counts.models import ActionLevel, EstimateBasis
from tests import held
from tests.cast import Cast
from tests.copied import cast_again
from tests.databases import outside, with_tables
from tests.dropping import drop_database
from tests.emptying import empty
from tests.faults.machinery import FIGURE, TABLE
from tests.plain_role import open_role
from treatments.models import Application

# One Redis and one RabbitMQ, and kills that need a core: one after the other.
ALONE = ("tests/deploy/", "tests/faults/", "tests/config/test_brokers.py")
WHOLE_FILES = (
    "tests/browser/",
    "tests/config/",
    "tests/flows/",
    "tests/upgrade/",
)  # clubs and servers that are made once for a file
FIGURES: list[str] = []

gc.disable()  # until all tests are found: they stay, and there is no rubbish among them to look for


def pytest_collection_finish() -> None:
    """What is there by now stays to the end. Looking through it for rubbish took half a second each time."""
    gc.enable()
    gc.collect()
    gc.freeze()


class Together(LoadScopeScheduling):
    """Says what stays in one process when several run the tests; what is not named goes wherever there is room."""

    def _split_scope(self, nodeid: str) -> str:
        if nodeid.startswith(ALONE):
            return "alone"
        return nodeid.split("::")[0] if nodeid.startswith(WHOLE_FILES) else nodeid


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Together:
    return Together(config, log)


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Where processes share the tests, what takes seconds goes first: else one works on while the others are done."""
    if held.WANTED:
        owners = [item for item in items if item.get_closest_marker("owner")]
        config.hook.pytest_deselected(items=owners)
        items[:] = [item for item in items if item not in owners]
    if hasattr(config, "workerinput"):
        items.sort(key=lambda item: item.get_closest_marker("slow") is None)


def pytest_runtest_logreport(report: pytest.TestReport) -> None:
    if report.when == "teardown":
        FIGURES.extend(str(row) for name, row in report.user_properties if name == FIGURE)


def pytest_terminal_summary(terminalreporter: Any) -> None:
    if FIGURES:
        terminalreporter.section("faults")
        for line in (*TABLE, *FIGURES):
            terminalreporter.write_line(line)


@pytest.fixture(scope="session")
def django_db_setup(
    django_test_environment: None,
    django_db_blocker: Any,
    django_db_keepdb: bool,
    django_db_createdb: bool,
    django_db_modify_db_settings: None,
) -> Iterator[None]:
    """pytest-django's, but a copy of tables that are there, and there also for tests that ask for no `db`."""
    with django_db_blocker.unblock():
        connections["default"].settings_dict["TEST"]["TEMPLATE"] = with_tables()
        setup_databases(
            verbosity=0,
            interactive=False,
            aliases={"default"},
            keepdb=django_db_keepdb and not django_db_createdb,
        )
    yield
    if not django_db_keepdb:
        connections["default"].close()
        with outside() as server:
            drop_database(server, connections["default"].settings_dict["NAME"])


@pytest.fixture(autouse=True, scope="session")
def tests_may_empty() -> Iterator[None]:
    """Tests with real transactions empty all tables after themselves: they own them, the application does not."""
    cut_off = flush.Command.handle

    def handle(self: flush.Command, **options: Any) -> Any:
        connection = connections[options["database"]]
        adding.forget()
        with connection.cursor() as cursor:
            cursor.execute("RESET ROLE")
            if options["reset_sequences"] or not empty(connection):
                cursor.execute("ALTER TABLE treatments_medicinelink DISABLE TRIGGER USER")
                try:
                    cut_off(self, **options)
                finally:
                    cursor.execute("ALTER TABLE treatments_medicinelink ENABLE TRIGGER USER")
            # Another test's rows may get the same keys, and would find what was kept under them.
            cursor.execute("DELETE FROM config_cache")
            if held.WANTED:
                cursor.execute(f"SET ROLE {held.ROLE}")

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(flush.Command, "handle", handle)
        yield


@pytest.fixture(autouse=True, scope="session")
def unhurried_probes() -> Iterator[None]:
    """A busy machine is no broken one: tests that put up with silence say how little of it."""
    from config import readiness

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(readiness, "PATIENCE", 60.0)
        yield


@pytest.fixture(autouse=True, scope="session")
def kept_pages_are_true() -> Iterator[Callable[[str, Callable[[], str]], str]]:
    """Whenever a test asks for a page that is kept, it is drawn anew too and must be the same. Gives what is served.

    Nothing is kept in the process then: what is there would not be asked about again.
    """
    from apiaries import kept_pages
    from reports import views  # noqa: F401  (keeps parts of a page by `kept` as it is, whichever test comes first)

    as_served = kept_pages.kept

    def kept(name: str, draw: Callable[[], str]) -> str:
        before, now = kept_pages.cache.get(name), draw()
        if before is not None and before != now:
            raise AssertionError(f"A kept page is not what would be drawn now:\n{before}\n---\n{now}")
        kept_pages.cache.set(name, now, kept_pages.KEPT_FOR)
        return now

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(kept_pages, "kept", kept)
        patch.setattr(kept_pages, "here", lambda: DummyCache("process", {}))
        yield as_served


@pytest.fixture(autouse=True, scope="session")
def shared_cache_is_not_counted() -> Iterator[Callable[[], bool]]:
    """What happens one time in a thousand would fail tests that count queries. Gives what decides when served."""
    from config import shared_cache

    as_served = shared_cache.happens_to_count
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(shared_cache, "happens_to_count", lambda: False)
        yield as_served


@pytest.fixture(autouse=True, scope="session")
def under_the_second_lock(request: pytest.FixtureRequest) -> Iterator[None]:
    """With RECOUNT_HELD=1: see tests.held."""
    if not held.WANTED:
        yield
        return
    request.getfixturevalue("django_db_setup")
    blocker = request.getfixturevalue("django_db_blocker")
    with blocker.unblock():
        held.hold_all(connections["default"])
    yield
    with blocker.unblock():
        held.let_go(connections["default"])


@pytest.fixture(autouse=True)
def own_words() -> Iterator[None]:
    """A request in German leaves its language to the thread, which the next test would find."""
    if held.WANTED:
        reader_is_the_service()
    yield
    if held.WANTED:
        reader_is_the_service()  # for what the next file makes before its first test
    translation.deactivate()


@pytest.fixture
def cast(db: Any) -> Cast:
    """The cast in a fresh club (see tests.cast for who is who)."""
    return cast_again()


@pytest.fixture
def role(db: Any) -> Iterator[str]:
    """The name of a plain role that owns nothing and may do nothing yet; it goes with the test."""
    with open_role() as name:
        yield name


@pytest.fixture
def client_for() -> Callable[[Person | None], Client]:
    """A browser in which that person is signed in; None for a stranger."""

    def make(person: Person | None) -> Client:
        client = Client()
        if person is not None:
            client.force_login(person, backend=settings.AUTHENTICATION_BACKENDS[0])
        return client

    return make


@pytest.fixture
def reference(db: Any) -> None:
    """Action levels and ways of treating, loaded as an installation loads them.

    Only the first test that asks loads them; the others get copies of its rows, which takes three queries and not
    some hundreds.
    """
    if not COPIES:
        call_command("load_reference", verbosity=0)
        COPIES.update(
            {model: list(model.objects.all()) for model in (ActionLevel, Application, EstimateBasis)}
        )
        return
    for model, rows in COPIES.items():
        model.objects.bulk_create(rows, ignore_conflicts=True)


COPIES: dict[Any, list[Any]] = {}
