"""Every page that somebody can open, one after the other in one window."""

from collections.abc import Callable, Iterator
from typing import Any

from django.urls import reverse
from playwright.sync_api import BrowserContext, Page

from apiaries.models import Person
from tests.access.policy import rows

Window = Callable[[Person | None, int, int], BrowserContext]
WHO = ("stranger", "alice", "dana", "ines", "adam")
NO_PAGES = (
    "chart",
    "region-map",
    "healthz",
    "livez",
    "metrics",
    "readyz",
    "-pdf",
    "-csv",
    "worker",
    "script-words",
    "security-txt",
    "calendar-feed",
    "take-file",
    "record-chain",
)  # pictures, answers to machines, files to keep
API_PAGE = "api:docs"
"""The one address of the interface for programs that is a page of ours; the others answer programs."""
# What a page says is made of, and what stands around it, both without words: pages of one make are looked at once.
MAKES = """() => {
    const main = document.querySelector("main");
    const make = (part) =>
        [part.tagName, part.className.baseVal ?? part.className, part.type ?? "", part.getAttributeNames().join()];
    const made = (parts) => parts.map((part) => make(part).join()).join(" ");
    const all = [...document.querySelectorAll("body *")];
    return [made(all.filter((part) => main.contains(part))), made(all.filter((part) => !main.contains(part)))];
}"""


def addresses(world: Any, who: str) -> list[str]:
    """Of the pages that answer this person."""
    pages = [row for row in rows() if row[2] == "GET" and row[3][who] == "200"]
    return [
        reverse(name, kwargs=world.arguments(words))
        for name, words, *_ in pages
        if not any(part in name for part in NO_PAGES) and (not name.startswith("api:") or name == API_PAGE)
    ]


def pages_of(page: Page, world: Any, who: str, seen: set[int]) -> Iterator[str]:
    """Go to each; its address, unless what it says and what stands around it were `seen` before, together or not."""
    for address in addresses(world, who):
        page.goto(address)
        new = {hash((part, make)) for part, make in enumerate(page.evaluate(MAKES))} - seen
        if new:
            seen |= new
            yield address
