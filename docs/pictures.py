"""Takes the pictures of the documents from the demo club, with a real browser. Say: make pictures

Loads the demo if it is not there, serves it on a free port, signs in as the invented people and writes PNG files to
docs/pictures/. Needs Chromium (Debian and Ubuntu: apt-get install chromium). Pictures differ from day to day, because
the demo is always lived up to today.
"""

from __future__ import annotations

import os
import re
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.error import URLError
from urllib.request import urlopen

from playwright.sync_api import Browser, Page, ViewportSize, sync_playwright

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent
PICTURES = HERE / "pictures"
LARGEST = 200_000
"""Bytes of one picture: a page with four of them must open on a phone."""
DATE = r"^\d{1,2} [A-Z][a-z]{2,8} \d{4}$"  # counts are listed by their day, the newest first
PHONE, DESK = ViewportSize(width=390, height=844), ViewportSize(width=1280, height=800)
# A first look only: whatever the surroundings name for real use is left out.
REAL = (
    "DATABASE_URL",
    "CELERY_BROKER_URL",
    "EMAIL_URL",
    "CACHE_URL",
    "SECRET_KEY",
    "ALLOWED_HOSTS",
    "SITE_URL",
)

Cookies = list[Any]  # as the browser gives and takes them

sys.path.insert(0, str(ROOT))
from config.demo.scenario import PASSWORD  # noqa: E402


@dataclass(frozen=True)
class Picture:
    """One picture: its file, who looks, in which window, and the way from the first page, link by link.

    A step is a path (begins with "/") or a pattern that the words of a link match. `at` is what to scroll to. `eyes`
    are those of somebody who sees colours otherwise, as the browser simulates them.
    """

    name: str
    who: str
    window: ViewportSize
    way: tuple[str, ...]
    at: str = ""
    eyes: str = ""


ALL_REGIONS, MAP = "h2:has-text('Every region')", "h2:has-text('map of a month')"
EYES = ("deuteranopia", "protanopia", "tritanopia", "achromatopsia")

SHOWN = (
    Picture("today-phone", "keeper", PHONE, ("/",)),
    Picture("today", "keeper", DESK, ("/",)),
    Picture("yard", "keeper", DESK, ("/yards/", "^Long Meadow")),
    Picture("add-a-count-phone", "keeper", PHONE, ("/yards/", "^Home yard", "^(Colony )?1$", "Add a count")),
    Picture("what-this-count-says", "keeper", DESK, ("/yards/", "^Home yard", "^2$", DATE)),
    Picture("what-this-count-says-phone", "keeper", PHONE, ("/yards/", "^Home yard", "^2$", DATE)),
    Picture("did-it-work", "keeper", DESK, ("/yards/", "^Long Meadow", "^Formic acid", "Did it work")),
    Picture("did-it-work-phone", "keeper", PHONE, ("/yards/", "^Quarry edge", "^Hop", "Did it work")),
    Picture("which-colonies-phone", "keeper", PHONE, ("/yards/", "^Quarry edge", "Which colonies")),
    Picture("what-is-possible-phone", "keeper", PHONE, ("/yards/", "^Home yard", "^Plan a treatment day")),
    Picture(
        "days-sheet",
        "keeper",
        DESK,
        ("/yards/", "^Long Meadow", "^Oxalic acid", "^Sheet of the day"),
        at="h2",
    ),
    Picture("records", "keeper", DESK, ("/records/",)),
    Picture("region-by-month", "coordinator", DESK, ("/regions/",), at=ALL_REGIONS),
    Picture("region-chart", "coordinator", DESK, ("/regions/",), at="h2:has-text('as a chart')"),
    Picture("region-by-month-phone", "coordinator", PHONE, ("/regions/",), at=ALL_REGIONS),
    Picture("one-region", "coordinator", DESK, ("/regions/", "^Lakeshore$"), at="h2"),
    Picture("region-map", "coordinator", DESK, ("/regions/",), at=MAP),
    Picture("region-map-phone", "coordinator", PHONE, ("/regions/",), at=".map-chart"),
    Picture("region-published", "keeper", DESK, ("/regions/published/",), at="h2:has-text('as a chart')"),
    *(Picture(f"region-{eyes}", "coordinator", DESK, ("/regions/",), ALL_REGIONS, eyes) for eyes in EYES),
    *(Picture(f"map-{eyes}", "coordinator", DESK, ("/regions/",), MAP, eyes) for eyes in EYES),
)


def manage(*words: str) -> None:
    """Run a command of the site; its words are shown."""
    subprocess.run([sys.executable, "manage.py", *words], cwd=ROOT, env=first_look(), check=True)


def first_look(**more: str) -> dict[str, str]:
    """The surroundings without what is for real use."""
    return {name: value for name, value in os.environ.items() if name not in REAL} | more


def free_port() -> int:
    """A port that nobody uses now."""
    with closing(socket.socket()) as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def served() -> Iterator[str]:
    """The demo's address while it is served; its log is shown if it does not start."""
    port = free_port()
    command = [sys.executable, "-m", "gunicorn", "config.wsgi", "--bind", f"127.0.0.1:{port}"]
    with tempfile.TemporaryFile() as log:
        web = subprocess.Popen(
            [*command, "--no-control-socket"],
            cwd=ROOT,
            env=first_look(PORT=str(port)),
            stdout=log,
            stderr=log,
        )
        try:
            wait_for(f"http://127.0.0.1:{port}/account/login/", web)
            yield f"http://127.0.0.1:{port}"
        except TimeoutError:
            log.seek(0)
            sys.stderr.write(log.read().decode(errors="replace"))
            raise
        finally:
            web.terminate()
            web.wait(timeout=30)


def wait_for(address: str, web: subprocess.Popen[bytes], seconds: float = 60) -> None:
    """Return once the address answers; TimeoutError if it does not, or the server ended."""
    until = time.monotonic() + seconds
    while time.monotonic() < until and web.poll() is None:
        try:
            with urlopen(address, timeout=5):  # noqa: S310  (our own address)
                return
        except (URLError, ConnectionError):
            time.sleep(0.2)
    raise TimeoutError(f"{address} does not answer")


def signed_in(browser: Browser, base: str, who: str) -> Cookies:
    """The cookies of one of the demo's people, got as a person would: by typing."""
    context = browser.new_context(base_url=base)
    page = context.new_page()
    page.goto("/account/login/")
    page.fill("input[name=login]", f"{who}@example.org")
    page.fill("input[name=password]", PASSWORD)
    page.locator("form:has(input[name=password])").first.locator("[type=submit]").first.click()
    page.wait_for_url(lambda url: "/account/login" not in url)
    page.goto("/help/")  # the greeting after a sign-in is shown once; not on a picture
    cookies = list(context.cookies())
    context.close()
    return cookies


def follow(page: Page, step: str) -> None:
    """One step of the way to a picture."""
    address = step if step.startswith("/") else address_of_link(page, step)
    answer = page.goto(address)
    if answer is None or answer.status != 200:
        raise LookupError(f"{address} answers {answer.status if answer else 'nothing'}")


def address_of_link(page: Page, words: str) -> str:
    """Where the first link whose words match leads to."""
    link = page.locator("main").get_by_role("link", name=re.compile(words))
    if link.count() == 0:
        raise LookupError(f"no link {words!r} on {page.url}")
    return str(link.first.evaluate("link => link.href"))


def take(browser: Browser, base: str, picture: Picture, cookies: Cookies) -> Path:
    """Take one picture; the file's path."""
    context = browser.new_context(
        base_url=base, viewport=picture.window, color_scheme="light", locale="en-GB", reduced_motion="reduce"
    )
    context.add_cookies(cookies)
    page = context.new_page()
    try:
        for step in picture.way:
            follow(page, step)
        page.wait_for_load_state("networkidle")
        if picture.eyes:
            browser_itself = context.new_cdp_session(page)
            browser_itself.send("Emulation.setEmulatedVisionDeficiency", {"type": picture.eyes})
        if picture.at:
            page.locator(picture.at).first.evaluate("part => part.scrollIntoView(true)")
        path = PICTURES / f"{picture.name}.png"
        page.screenshot(path=path)
        return path
    finally:
        context.close()


def take_all(names: list[str]) -> int:
    """Take the pictures named, or all; how many could not be taken."""
    chromium = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if chromium is None:
        sys.exit("No Chromium was found. On Debian and Ubuntu: apt-get install chromium")
    PICTURES.mkdir(exist_ok=True)
    missed = 0
    flags = ["--disable-gpu", *(["--no-sandbox"] if os.geteuid() == 0 else [])]
    with served() as base, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=flags)
        cookies: dict[str, Cookies] = {}
        for picture in SHOWN:
            if names and picture.name not in names:
                continue
            if picture.who not in cookies:
                cookies[picture.who] = signed_in(browser, base, picture.who)
            try:
                path = take(browser, base, picture, cookies[picture.who])
            except LookupError as error:
                missed += 1
                print(f"{picture.name}: not taken: {error}", file=sys.stderr)
                continue
            size = path.stat().st_size
            too_big = size > LARGEST
            missed += too_big
            print(f"{path.relative_to(ROOT)}  {size / 1000:.0f} kB" + ("  TOO BIG" if too_big else ""))
        browser.close()
    return missed


def main(names: list[str]) -> int:
    """0 if every picture was taken; names of pictures take only those."""
    manage("migrate", "--verbosity", "0")
    manage("collectstatic", "--no-input", "--verbosity", "0")
    manage("load_reference", "--verbosity", "0")
    manage("load_demo")
    missed = take_all(names)
    # Stops the embedded database, unless a running demo uses it too.
    subprocess.run(
        [sys.executable, "-m", "config.embedded", "stop"], cwd=ROOT, env=first_look(), capture_output=True
    )
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
