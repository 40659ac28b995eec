"""The chaos hour in small: kills of every service, in a random order, while members work; in full by `make chaos`."""

from pathlib import Path

import pytest

from config.embedded import EmbeddedServer
from tests.chaos.kills import FEW
from tests.chaos.run import run
from tests.chaos.services import Size
from tests.faults.cluster import database_of_its_own
from tests.faults.machinery import Figure

pytestmark = [pytest.mark.slow]

SMALL = Size(
    seconds=0, pauses=(0.05, 0.3), hosts=1, phones=2, keepers=1, wave=20, waves=1, beat=1.0, smart=0.5,
    restart=0.1, slow=0.4, kinds=FEW, served=False,
)  # fmt: skip


def test_every_service_killed_under_load_loses_and_doubles_nothing(
    server: EmbeddedServer, figures: list[Figure], tmp_path: Path
) -> None:
    found = run(tmp_path, server, database_of_its_own(server), size=SMALL)

    note = (
        f"{sum(found.kills.values())} kills; counts there {found.counts_there} of {found.counts} acknowledged"
    )
    lost = found.mails_due - found.mails_received
    mails = found.mails_due, found.mails_received, found.mails_doubled, lost, found.tries
    figures.append(Figure("chaos in small", *mails, note))
    assert found.differences == [], "\n".join(found.lines())
    assert found.kills.keys() == set(FEW) and all(found.kills.values())
    assert found.counts_there == found.counts > 0
    assert found.treatments_there == found.treatments > 0
    assert found.mails_received == found.mails_due == SMALL.wave
    assert found.unanswered[1] > 0, "nobody noticed"
    assert found.figures > 0 and found.links > 0
