"""Every address and every form, asked oddly by everybody: no page fails, and none tells what is another's.

RECOUNT_FUZZ_PAGES=5000 sends some thousands of requests; the suite some hundreds.
"""

import datetime as dt
import os
import sys
from collections.abc import Iterator
from typing import Any

import pytest
import time_machine
from django.conf import settings as site_settings

from tests.fuzz.pages import SEES, fuzz, make_site

LEAST = int(os.environ.get("RECOUNT_FUZZ_PAGES", "0"))
FEW = 400
READ = 0.04
"""The share of requests of each who is signed in that must show a page, or they asked as strangers."""
NUMBER = int(os.environ.get("RECOUNT_FUZZ_SEED", "20260812"))


@pytest.fixture
def site(reference: None, settings: Any) -> Iterator[Any]:
    settings.ACCOUNT_RATE_LIMITS = False
    rates = dict.fromkeys(site_settings.REST_FRAMEWORK["DEFAULT_THROTTLE_RATES"], "1000000/m")
    settings.REST_FRAMEWORK = site_settings.REST_FRAMEWORK | {"DEFAULT_THROTTLE_RATES": rates}
    with time_machine.travel(dt.datetime(2026, 8, 14, 12, tzinfo=dt.UTC)):
        yield make_site()


@pytest.mark.slow
def test_no_page_fails_and_none_tells_what_is_anothers(site: Any, capsys: Any) -> None:
    tally = fuzz(site, LEAST or FEW, number=NUMBER)

    with capsys.disabled():
        sys.stdout.write(f"\n{tally}\n")
    assert not tally.failures, "\n".join(tally.failures[:40])
    assert set(tally.statuses) == set(SEES)
    assert tally.requests >= LEAST
    signed_in = {who: counts for who, counts in tally.statuses.items() if who != "stranger"}
    # Of some dozen requests each, chance alone may leave a few percent; one page shown means signed in.
    least = {who: READ * counts.total() if LEAST else 0 for who, counts in signed_in.items()}
    assert all(counts[200] > least[who] for who, counts in signed_in.items()), "Few were signed in."
    assert tally.done


def test_a_page_that_fails_is_noticed(site: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(self: Any, value: Any) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr("django.forms.CharField.clean", fails)

    tally = fuzz(site, 150, only="apiaries:yard-add")

    assert any("ZeroDivisionError" in failure and "POST" in failure for failure in tally.failures)


@pytest.mark.owner
def test_a_page_that_tells_is_noticed(site: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    from apiaries.models.places import YardQuerySet

    monkeypatch.setattr(YardQuerySet, "visible_to", lambda self, person: self)

    tally = fuzz(site, 80, only="apiaries:yard-detail")

    assert any("member: GET" in failure and "told Lindenduft" in failure for failure in tally.failures)
