"""Questions to the site that a release and the next one must answer alike, by address alone."""

import re
from html.parser import HTMLParser
from typing import Any

from django.conf import settings
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from tests.flows.forms import send

SILENT = frozenset({"script", "style", "svg", "template", "time"})
NUMBER = re.compile(r"\d+(?:[.,]\d+)*")


class _Words(HTMLParser):
    """The text of the page's main part, without scripts and drawings."""

    def __init__(self) -> None:
        super().__init__()
        self.words: list[str] = []
        self._main = 0
        self._silent = 0

    def handle_starttag(self, tag: str, attrs: Any) -> None:
        self._main += tag == "main"
        self._silent += tag in SILENT

    def handle_endtag(self, tag: str) -> None:
        self._main -= tag == "main"
        self._silent -= tag in SILENT

    def handle_data(self, data: str) -> None:
        if self._main and not self._silent:
            self.words.append(data)


def numbers_of(page: str) -> list[str]:
    """All numbers that somebody reads in the page's main part; words may change from release to release."""
    parser = _Words()
    parser.feed(page)
    return sorted(NUMBER.findall(" ".join(parser.words)))


def browser_with(session: str) -> Client:
    """A browser that was signed in before."""
    browser = Client()
    browser.cookies[settings.SESSION_COOKIE_NAME] = session
    return browser


def program_with(token: str) -> Client:
    return Client(headers={"Authorization": f"Bearer {token}"})


def save_count(browser: Client, *, yard: int, colony: int) -> None:
    """A jar of one colony, by the form of the yard."""
    typed = {f"c{colony}-mites": 7, "method": "alcohol_wash", "bees_how": "nominal", "bees": 300}
    answer = send(browser, reverse("counts:yard-count", args=[yard]), typed)
    assert answer.status_code == 302, answer.content.decode()


def save_treatment(browser: Client, *, yard: int, colony: int) -> None:
    """One round for the whole yard, planned for today."""
    page = reverse("treatments:treatment-add", args=[yard]) + "?way=oxalic_vapour_us"
    today = str(timezone.localdate())
    answer = send(browser, page, {"on_1": today, "dose_1": 1, "withdrawal_days": 0})
    assert answer.status_code == 302, answer.content.decode()
