"""Fills forms the way a browser does: opens the page, keeps what the form already holds, types the rest, sends it."""

from collections.abc import Mapping
from html.parser import HTMLParser
from typing import Any

from django.test import Client


class _Fields(HTMLParser):
    """What the last form of the page's main part would send untouched."""

    def __init__(self) -> None:
        super().__init__()
        self.forms: list[dict[str, list[str]]] = []
        self.actions: list[str] = []
        self._select: str | None = None
        self._textarea: str | None = None
        self._in_main = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        have = dict(attrs)
        self._in_main = self._in_main or tag == "main"
        if tag == "form" and self._in_main:
            self.forms.append({})
            self.actions.append(have.get("action") or "")
        name = have.get("name")
        if not self.forms or not name:
            if tag == "option" and self._select and "selected" in have:
                self.forms[-1][self._select] = [have.get("value") or ""]
            return
        if tag == "input" and have.get("type") in ("radio", "checkbox"):
            if "checked" in have:
                self.forms[-1].setdefault(name, []).append(
                    "on" if "value" not in have else have["value"] or ""
                )
        elif tag == "input":
            self.forms[-1][name] = [have.get("value") or ""]
        elif tag == "select":
            self._select = name
        elif tag == "textarea":
            self._textarea = name
            self.forms[-1][name] = [""]

    def handle_endtag(self, tag: str) -> None:
        if tag == "select":
            self._select = None
        if tag == "textarea":
            self._textarea = None
        if tag == "main":
            self._in_main = False

    def handle_data(self, data: str) -> None:
        if self._textarea:
            self.forms[-1][self._textarea][0] += data


def fields_of(page: str) -> tuple[str, dict[str, list[str]]]:
    """Where the page's biggest form goes, and what it would send untouched."""
    parser = _Fields()
    parser.feed(page)
    assert parser.forms, "there is no form on the page"
    biggest = max(range(len(parser.forms)), key=lambda index: len(parser.forms[index]))
    return parser.actions[biggest], parser.forms[biggest]


def send(client: Client, url: str, typed: Mapping[str, Any]) -> Any:
    """Open the form at `url`, type into it, send it; the answer, not followed. A name the form lacks is an error."""
    page = client.get(url)
    assert page.status_code == 200, (url, page.status_code)
    action, fields = fields_of(page.content.decode())
    names = page.content.decode()
    unknown = [name for name in typed if f'name="{name}"' not in names]
    assert not unknown, f"no such fields at {url}: {unknown}"
    return client.post(action or url, fields | dict(typed))
