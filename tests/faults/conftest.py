"""A mail server and a crew of senders, each in processes of their own, on the database of the tests."""

from collections.abc import Iterator
from typing import Any

import pytest

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
