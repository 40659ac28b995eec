"""Short ways to count on a phone in a real browser."""

import datetime as dt
import re
from collections.abc import Callable
from typing import Any

from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import BrowserContext, Page, expect

from apiaries.actions import add_numbered_colonies
from apiaries.models import Colony, Person
from counts.actions import NewCount, record_sample
from counts.models import MiteSample
from counts.samples import BeesBy, Method
from tests.cast import STARTED, Cast

Window = Callable[[Person | None, int, int], BrowserContext]
PHONE, DESK = (390, 844), (1280, 800)
KEPT = "This page is kept on this phone"


def address(cast: Cast) -> str:
    return reverse("counts:yard-count", args=[cast.alice_yard.pk])


def sending(cast: Cast) -> str:
    return f"**{reverse('counts:yard-entries', args=[cast.alice_yard.pk])}"


def colonies(cast: Cast, number: int) -> None:
    """So many colonies in Alice's yard, which begins with six."""
    add_numbered_colonies(yard=cast.alice_yard, first=7, last=number, started_on=STARTED, by=cast.alice)


def counted_before(cast: Cast, mites: int = 2) -> MiteSample:
    """A wash of last month, so that method and measure are remembered."""
    on = timezone.now().date() - dt.timedelta(days=40)
    new = NewCount(cast.colony, Method.ALCOHOL_WASH, on, mites, bees=300, bees_by=BeesBy.VOLUME)
    return record_sample(count=new, at=timezone.now() - dt.timedelta(days=39), by=cast.alice)


def opened(
    window: Window, cast: Cast, size: tuple[int, int] = PHONE, person: Person | None = None, url: str = ""
) -> Page:
    """The page of the yard, one colony at a time, once it is kept for no network."""
    page = window(person or cast.alice, *size).new_page()
    page.set_default_timeout(15_000)
    return begun(page, url or address(cast))


def begun(page: Page, url: str, *, kept: bool = True) -> Page:
    page.goto(url)
    page.locator("form[data-ready]").wait_for()
    if kept:
        expect(page.locator("[data-kept]")).to_contain_text(KEPT, timeout=30_000)
    one = page.get_by_role("button", name="One by one")
    if one.is_visible():
        one.click()
    return page


def colony(page: Page, name: object) -> None:
    expect(page.locator("[data-colony]")).to_have_text(f"Colony {name}")


def box(page: Page) -> Any:
    return page.locator("#id_one-mites, #id_mites")


def enter(page: Page, mites: object) -> None:
    """Type the mites and save; waits until the count is on the phone and the page has moved on."""
    box(page).fill(str(mites))
    page.wait_for_timeout(550)  # a second tap within half a second does nothing
    page.get_by_role("button", name=re.compile("^Save")).first.click()
    expect(box(page)).to_have_value("")


def waits(page: Page, number: int) -> None:
    words = f"{number} count{'s' if number > 1 else ''} waiting to send" if number else "All saved"
    expect(page.locator("[data-sent]")).to_contain_text(words)


def kept() -> list[tuple[str, int]]:
    """The counts that stand, by colony."""
    rows = MiteSample.objects.standing().values_list("colony__name", "mites")
    return sorted(rows, key=lambda row: (int(row[0]), row[1]))


def queued(page: Page) -> list[dict[str, Any]]:
    """What lies in the queue, read without any code of ours."""
    return page.evaluate(
        """() => new Promise((resolve, reject) => {
            const request = indexedDB.open("recount");
            request.onerror = () => reject(request.error);
            request.onsuccess = () => {
                const all = request.result.transaction("entries").objectStore("entries").getAll();
                all.onsuccess = () => { request.result.close(); resolve(all.result); };
            };
        })"""
    )


def today(cast: Cast) -> dt.date:
    return cast.alice_yard.local_date(timezone.now())


def noted(page: Page, cast: Cast, *several: Colony, **more: Any) -> list[str]:
    """Counts put into the queue as the page itself does, one of each colony; their keys."""
    facts = {
        "v": 1,
        "at": timezone.now().isoformat(),
        "method": "alcohol_wash",
        "bees_how": "half_cup",
        "mites": "1",
        "brood": "unknown",
        "sampled_on": today(cast).isoformat(),
        "day_by_clock": True,
    } | more
    entries = [{"colony": one.pk, "label": f"Colony {one.name}: {facts['mites']} mites"} for one in several]
    return page.evaluate(
        """async ([entries, facts]) => {
            const data = JSON.parse(document.getElementById("counting-data").textContent);
            const keys = [];
            for (const { label, colony } of entries) {
                keys.push(await window.recount.queue.add({
                    person: data.person, url: data.url, kind: "count", page: location.pathname,
                    label, body: { ...facts, colony },
                }));
            }
            return keys;
        }""",
        [entries, facts],
    )
