"""Every page of every role before axe, the checker of WCAG rules: light at a desk, dark on a phone, with mistakes told.

And by keyboard alone: the focus goes through a page in the order of reading, is seen wherever it is, and comes out.
"""

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

from tests.access.world import make_world
from tests.browser.pages import WHO, Window, pages_of
from tests.cast import Cast

pytestmark = [pytest.mark.slow, pytest.mark.django_db(transaction=True)]

LOOKS = {"light": (1280, 800), "dark": (390, 844)}
RULES = {
    "resultTypes": ["violations"],
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
}
MISTAKES = "main form[method=post]:has(input:not([type=hidden])) [type=submit]"
STOPS = 400  # more than any page has
# Where the focus is: its place among all parts, and what a reader with a keyboard could not tell.
FOCUS = """() => {
    const part = document.activeElement;
    if (!part || part === document.body) return null;
    const label = part.closest("label"), box = part.getBoundingClientRect();
    const ringed = [part, label].some((one) => one && getComputedStyle(one).outlineStyle !== "none");
    const [x, y] = [box.left + box.width / 2, box.top + Math.min(box.height / 2, 20)];
    const over = document.elementFromPoint(x, y);
    const wrong = [];
    if (!ringed) wrong.push("no ring");
    if (!over) wrong.push("out of the window");
    else if (over !== part && !part.contains(over) && !over.contains(part) && !label?.contains(over)) {
        wrong.push(`under ${over.tagName} ${over.className}`);
    }
    return { at: [...document.querySelectorAll("*")].indexOf(part), what: part.outerHTML.slice(0, 120), wrong };
}"""


def _broken(page: Page, *looks: str) -> list[str]:
    """In each look, or as it stands. The checker is brought in once for a page."""
    axe = Axe()
    found = []
    for look in looks or ("as it stands",):
        if look in LOOKS:
            width, height = LOOKS[look]
            page.emulate_media(color_scheme=look, reduced_motion="reduce")
            page.set_viewport_size({"width": width, "height": height})
        found += [
            f"{page.url} {look} {rule['id']}: {node['target']} {node['failureSummary']}"
            for rule in axe.run(page, options=RULES).response["violations"]
            for node in rule["nodes"]
        ]
        axe = Axe(axe_script="0")
    return found


def test_axe_finds_nothing_on_any_page(cast: Cast, reference: None, window: Window) -> None:
    world, seen, broken, looked = make_world(cast), set[int](), list[str](), 0
    for who in WHO:
        page = window(None if who == "stranger" else getattr(cast, who), 1280, 800).new_page()
        for _ in pages_of(page, world, who, seen):
            looked += 1
            broken += _broken(page, *LOOKS)

    assert looked > 60
    assert broken == []


def test_axe_finds_nothing_where_mistakes_are_told(cast: Cast, reference: None, window: Window) -> None:
    world, seen, broken, told = make_world(cast), set[int](), list[str](), 0
    page = window(cast.alice, 390, 844).new_page()
    for address in list(pages_of(page, world, "alice", seen)):
        page.goto(address)
        button = page.locator(MISTAKES).first
        if button.count() == 0 or not button.is_visible():
            continue
        page.evaluate("document.querySelectorAll('main form').forEach((form) => { form.noValidate = true; })")
        button.click()
        page.wait_for_load_state()
        if page.locator(".error-summary").count():
            told += 1
            broken += _broken(page)

    assert told > 5
    assert broken == []


@pytest.mark.parametrize("who", ["alice", "dana"])
def test_focus_goes_through_every_page_in_order_and_is_seen(
    cast: Cast, reference: None, window: Window, who: str
) -> None:
    world, seen, wrong = make_world(cast), set[int](), list[str]()
    page = window(getattr(cast, who), 1280, 800).new_page()
    for address in pages_of(page, world, who, seen):
        last = -1
        for _ in range(STOPS):
            page.keyboard.press("Tab")
            focus = page.evaluate(FOCUS)
            if focus is None or focus["at"] < last and focus["what"].startswith('<a class="skip"'):
                break
            if focus["at"] <= last:
                wrong.append(f"{address}: backwards to {focus['what']}")
            wrong += [f"{address}: {what}: {focus['what']}" for what in focus["wrong"]]
            last = focus["at"]
        else:
            wrong.append(f"{address}: no end")

    assert wrong == [], "\n".join(wrong)
