"""A real Chromium on a real server. Without Chromium these tests are skipped; with CI=true that is a failure."""

import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.db import connection
from playwright.sync_api import Browser, BrowserContext, Playwright, sync_playwright

from apiaries.models import Person

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
FLAGS = [
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-sync",
]

# Playwright keeps an event loop in this thread; Django would refuse its ORM there although nothing is async.
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"


_running: list[tuple[Playwright, Browser]] = []


@pytest.fixture(scope="session")
def contexts_end(django_db_setup: Any, django_db_blocker: Any) -> Iterator[None]:
    """Django keeps a connection for each context, and Playwright makes contexts; open ones would keep the database."""
    yield
    with django_db_blocker.unblock(), connection.cursor() as cursor:
        cursor.execute(
            "SELECT pg_terminate_backend(pid) FROM pg_stat_activity"
            " WHERE datname = current_database() AND pid <> pg_backend_pid()"
        )


@pytest.fixture
def browser(contexts_end: None) -> Browser:
    """Chromium, started once for the tests here that follow each other."""
    if CHROMIUM is None:
        reason = "no Chromium: apt-get install chromium"
        if os.environ.get("CI") == "true":
            pytest.fail(reason)
        pytest.skip(reason)
    if not _running:
        flags = FLAGS + (["--no-sandbox"] if os.geteuid() == 0 else [])
        playwright = sync_playwright().start()
        _running.append((playwright, playwright.chromium.launch(executable_path=CHROMIUM, args=flags)))
    return _running[0][1]


@pytest.hookimpl(trylast=True)
def pytest_runtest_teardown(item: pytest.Item, nextitem: pytest.Item | None) -> None:
    """Left open while other tests run, it takes a tenth of a core for nothing."""
    if _running and (nextitem is None or Path(__file__).parent not in nextitem.path.parents):
        playwright, running = _running.pop()
        running.close()
        playwright.stop()


@pytest.fixture
def window(
    browser: Browser, live_server: Any, client_for: Callable[[Person | None], Any]
) -> Iterator[Callable[[Person | None, int, int], BrowserContext]]:
    """Opens a window of a size in which that person is signed in."""
    opened: list[BrowserContext] = []

    def make(person: Person | None, width: int, height: int) -> BrowserContext:
        context = browser.new_context(
            base_url=live_server.url, viewport={"width": width, "height": height}, has_touch=width < 800
        )
        if person is not None:
            session = client_for(person).cookies[settings.SESSION_COOKIE_NAME].value
            context.add_cookies(
                [{"name": settings.SESSION_COOKIE_NAME, "value": session, "url": live_server.url}]
            )
        opened.append(context)
        return context

    yield make
    for context in opened:
        context.close()
