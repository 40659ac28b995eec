"""How long the server takes for a batch of fifty counts from a phone: 500 entries over ten days, a yard of 50 colonies.

Run on request: .venv/bin/python -m pytest -s -q tests/bench/bench_entries.py
Through the address that phones send to, each batch in its own transaction on a real database; the first batch, which
reads code and tables in, is sent before the clock starts.
"""

import datetime as dt
import time
import uuid
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from apiaries.actions import add_numbered_colonies, add_yard
from counts.models import MiteSample
from tests.cast import STARTED, Cast

COLONIES, DAYS = 50, 12
BAR = 0.5  # seconds, 95 % of the batches


@pytest.mark.django_db(transaction=True)
def test_batches_of_fifty(reference: None, cast: Cast, client_for: Any) -> None:
    yard = add_yard(keeper=cast.alice, region=cast.north, name="Big yard", by=cast.alice)
    colonies = add_numbered_colonies(yard=yard, first=1, last=COLONIES, started_on=STARTED, by=cast.alice)
    client, first = client_for(cast.alice), dt.date.today() - dt.timedelta(days=20)  # noqa: DTZ011
    seconds, questions = [], 0
    for day in range(DAYS):
        on = first + dt.timedelta(days=day)
        entries = [entry(colony.pk, on, mites=(number + day) % 4) for number, colony in enumerate(colonies)]
        body = {"person": cast.alice.pk, "sent_at": dt.datetime.now(dt.UTC).isoformat(), "entries": entries}
        url = f"/yards/{yard.pk}/counts/send/"
        if day == DAYS - 1:  # counted, not timed
            with CaptureQueriesContext(connection) as asked:
                answer = client.post(url, body, content_type="application/json")
            questions = len(asked)
        else:
            since = time.perf_counter()
            answer = client.post(url, body, content_type="application/json")
            seconds.append(time.perf_counter() - since)
        assert answer.status_code == 200
        assert {one["state"] for one in answer.json()["answers"]} == {"saved"}
    assert MiteSample.objects.count() == COLONIES * DAYS
    seconds = sorted(seconds[1:])
    at_95 = seconds[int(0.95 * len(seconds))]
    print(
        f"\na batch of 50: median {seconds[len(seconds) // 2] * 1000:.0f} ms, at 95 % {at_95 * 1000:.0f} ms "
        f"(bar {BAR * 1000:.0f}), {questions} questions to the database"
    )


def entry(colony: int, on: dt.date, *, mites: int) -> dict[str, Any]:
    """A wash as the count page writes it."""
    facts = {"method": "alcohol_wash", "bees_how": "half_cup", "brood": "unknown"}
    when = {"at": f"{on}T10:00:00Z", "day_by_clock": False, "sampled_on": on.isoformat()}
    return {"key": str(uuid.uuid4()), "v": 1, "colony": colony, "mites": str(mites)} | facts | when
