"""A mail server and a crew of senders, each in processes of their own, on the database of the tests."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from config.embedded import EmbeddedServer, ensure_server
from tests.faults.cluster import open_cluster
from tests.faults.machinery import FIGURE, Crew, Figure, Sink, open_crew, open_sink
from tests.processes import environment


@pytest.fixture(scope="session")
def sink_process(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Sink]:
    with open_sink(tmp_path_factory.mktemp("sink")) as sink:
        yield sink


@pytest.fixture(scope="session")
def crew_process(
    django_db_setup: Any, django_db_blocker: Any, sink_process: Sink, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Crew]:
    with django_db_blocker.unblock():
        surroundings = environment(EMAIL_URL=sink_process.url)
    with open_crew(tmp_path_factory.mktemp("crew"), surroundings) as crew:
        yield crew


@pytest.fixture(scope="session")
def cluster(django_db_setup: Any) -> Iterator[Path]:
    with open_cluster() as home:
        yield home


@pytest.fixture
def server(cluster: Path) -> EmbeddedServer:
    """A PostgreSQL of the fault tests' own, running again whatever the test before did to it."""
    return ensure_server(cluster)


@pytest.fixture
def sink(sink_process: Sink) -> Sink:
    """The mail server with an empty mailbox, taking everything."""
    sink_process.begin()
    return sink_process


@pytest.fixture
def crew(crew_process: Crew, transactional_db: Any) -> Iterator[Crew]:
    """The forker of senders; none of them outlives the test."""
    yield crew_process
    crew_process.end()


@pytest.fixture
def figures(request: pytest.FixtureRequest) -> Iterator[list[Figure]]:
    """Where a test puts what it measured; printed at the end of the run (tests/conftest.py)."""
    found: list[Figure] = []
    yield found
    request.node.user_properties.extend((FIGURE, figure.row) for figure in found)
