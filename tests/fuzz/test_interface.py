"""The interface answers odd questions of every kind of person without failing, as described, and tells no secrets.

`make fuzz` asks some thousands; the suite some hundreds.
"""

import os
import sys
from typing import Any

import pytest
from django.conf import settings as site
from django.core.signals import request_finished, request_started
from django.db import close_old_connections

from counts.models import MiteSample, MiteSampleQuerySet
from tests.fuzz import cases
from tests.fuzz.asked import make_askers
from tests.fuzz.cases import fuzz

LEAST = int(os.environ.get("RECOUNT_FUZZ", "0"))
"""Cases at least; as many for each operation and asker as that takes."""
ANSWERED = 0.3
"""The share of cases that must be answered with what they ask for, or the questions were too odd to find anything."""
FEW = 2


@pytest.fixture
def askers(reference: None, settings: Any) -> Any:
    settings.ALLOWED_HOSTS = ["*"]
    rates = dict.fromkeys(site.REST_FRAMEWORK["DEFAULT_THROTTLE_RATES"], "1000000/m")
    settings.REST_FRAMEWORK = site.REST_FRAMEWORK | {"DEFAULT_THROTTLE_RATES": rates}
    yield make_askers()
    for signal in (request_started, request_finished):
        signal.connect(close_old_connections)


@pytest.mark.slow
def test_odd_questions_of_everybody(askers: Any, capsys: Any) -> None:
    number = len(cases.operations()) * len(askers)
    each = -(-LEAST // number) or FEW

    tally = fuzz(list(askers.values()), each)

    with capsys.disabled():
        sys.stdout.write(f"\n{tally}\n")
    assert not tally.failures, "\n".join(tally.failures[:40])
    assert tally.cases >= LEAST
    assert tally.answered >= ANSWERED


def _counts_alone(operation: Any) -> bool:
    return bool(operation.label == "GET /api/v1/counts/")


@pytest.mark.owner
def test_a_leak_is_noticed(askers: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(MiteSampleQuerySet, "visible_to", lambda self, person: self)

    tally = fuzz([askers["member"]], 8, among=_counts_alone)

    assert any("told 7" in failure for failure in tally.failures)
    assert any("told Rapsgold" in failure for failure in tally.failures)


@pytest.mark.owner
def test_a_server_error_and_an_odd_answer_are_noticed(askers: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    from counts.api import views

    def fails(*_: Any) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(views, "counts_told", fails)
    failed = fuzz([askers["member"]], 4, among=_counts_alone)
    monkeypatch.setattr(views.CountViewSet, "as_listed", lambda self, things: [{"id": "one"}])
    odd = fuzz([askers["member"]], 4, among=_counts_alone)

    assert any("Server error" in failure for failure in failed.failures)
    assert any("Response violates schema" in failure for failure in odd.failures)


@pytest.mark.owner
def test_writing_elsewhere_is_noticed(askers: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    from apiaries.models.places import ColonyQuerySet

    monkeypatch.setattr(ColonyQuerySet, "recordable_by", lambda self, person: self)

    tally = fuzz([askers["administrator"]], 12, among=lambda one: one.label == "POST /api/v1/counts/")

    assert any("wrote in a yard of somebody else" in failure for failure in tally.failures)
    assert MiteSample.objects.filter(sampled_on="2026-09-12").count() == 0, "What was written stays nowhere."
