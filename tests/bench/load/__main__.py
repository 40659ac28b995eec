"""The site under load, behind gunicorn as a real service runs it. Say: make bench-load

On each database of LOAD_ON (default "demo,100000": the demo, and an invented country of so many counts), in one run:
U, the answers a second of a bare Django view that reads one row of the same database behind the same gunicorn, then a
yard's page, saving a count, the page of regions, and the mix of a Sunday evening, in rounds (LOAD_ROUNDS, LOAD_SECONDS
for each), so that whatever else the machine does slows all of them. Then the mix at 70 % of what it bore, for
LOAD_MINUTES, with the memory of the workers (docs/reference/load.md).
Ends with 1 if a bar is missed.
"""

import json
import os
import random
import re
import secrets
import subprocess
import sys
import tempfile
import threading
from collections.abc import Iterator, Sequence
from itertools import cycle
from pathlib import Path
from statistics import median
from typing import Any
from uuid import uuid4

import psycopg

from config.paths import VAR
from tests.bench.databases import invented_country, made, manage, ready
from tests.bench.load.asker import Ask, ask_for, request
from tests.bench.load.judging import ANEW, PLAIN, Found, bars, summary
from tests.bench.load.serving import BARE, PLAIN_SITE, SITE, Server, as_served, served
from tests.bench.load.world import CSRF, SURE

WHERE = os.environ.get("LOAD_ON", "demo,100000").split(",")
ROUNDS = int(os.environ.get("LOAD_ROUNDS", "5"))
SECONDS = float(os.environ.get("LOAD_SECONDS", "5"))
MINUTES = float(os.environ.get("LOAD_MINUTES", "1"))
ONLY = [one for one in os.environ.get("LOAD_ONLY", "").split(",") if one]
"""Words of what to measure beside U, such as yard or saving; nothing else is judged then."""
KEPT_YARDS = 40
"""So many pages are asked for again and again while nothing on them changes; the others only once in a round."""
USERS, STEADY_USERS, STEADY = 16, 48, 0.7
MIX_WARM_UP = 2.0
LOOK_EVERY = 2.0  # seconds between looks at the memory


def main() -> int:
    ready()
    print(f"Load of the machine before: {os.getloadavg()}; {os.cpu_count()} cores", flush=True)
    missed = []
    for where in WHERE:
        url = (
            made("test_recount_load_demo", ("make_demo",))
            if where == "demo"
            else invented_country(int(where))
        )
        found = measured(where, url)
        print("\n".join([*summary(found), ""]), flush=True)
        missed += [f"{where}: {bar}" for bar, held in bars(found).items() if not held]
    for bar in missed:
        print(f"MISSED: {bar}")
    return 1 if missed else 0


def measured(where: str, url: str) -> Found:
    """All of it on one database."""
    with tempfile.TemporaryDirectory(prefix="recount-load-") as place:
        var = Path(place)
        files = VAR / "load"  # kept: collecting and packing all static files takes a while
        surroundings = as_served(url, files, secrets.token_urlsafe(50))
        manage(url, "refresh_figures")
        told = {"env": surroundings, "check": True, "stdout": subprocess.PIPE}
        python = [sys.executable, "-W", "ignore"]
        subprocess.run([*python, "manage.py", "collectstatic", "--no-input"], **told)
        ran = subprocess.run([*python, "-m", "tests.bench.load.world"], **told)
        world: dict[str, Any] = json.loads(ran.stdout)
        world["evenings"].reverse()  # the newest day is taken from the end first
        with (
            served(BARE, surroundings, var / "bare.log") as bare,
            served(PLAIN_SITE, surroundings, var / "plain.log") as plain,
            served(SITE, surroundings, var / "site.log") as site,
        ):
            found = Found(where if where == "demo" else f"an invented country of {int(where):,} counts")
            _rounds(found, site, bare, plain, world, var, url)
            if not ONLY and MINUTES:
                _steady(found, site, world, var)
            found.errors += _logged(var / "site.log")
        return found


def _rounds(
    found: Found, site: Server, bare: Server, plain: Server, world: dict[str, Any], var: Path, url: str
) -> None:
    yards = _yards_of(world)
    kinds = {
        "yardstick": (bare, _rows(bare.port, world)),
        "yard page": (site, _yards(site.port, world, yards[:KEPT_YARDS])),
        ANEW: (site, _yards(site.port, world, yards[KEPT_YARDS:])),
        PLAIN: (plain, _saves(plain.port, world)),
        "saving a count": (site, _saves(site.port, world)),
        "region page, warm": (site, _regions(site.port, world)),
    }
    kinds = {
        name: one
        for name, one in kinds.items()
        if name == "yardstick" or not ONLY or any(word in name for word in ONLY)
    }
    for server, asks in kinds.values():  # each worker reads and keeps what it needs
        found.errors += ask_for(2.0, server.port, asks).errors
    for _ in range(ROUNDS):
        for name, (server, asks) in kinds.items():
            if name == ANEW:
                _forget_pages(url)
            elif name == "yard page":  # the round before has forgotten them
                found.errors += ask_for(120.0, server.port, asks, at_most=KEPT_YARDS).errors
            before = server.cpu_seconds()
            asked = ask_for(SECONDS, server.port, asks)
            _note(found, name, asked.rate, (server.cpu_seconds() - before) / max(asked.answers, 1))
            found.errors += [f"{name}: {error}" for error in asked.errors]
        if not ONLY or "mix" in ONLY:
            before = site.cpu_seconds()
            said = _mix(site, world, var, users=USERS, rate=None, seconds=SECONDS * 2)
            # The second before the first that counts is computed for too.
            share = said["seconds"] / (said["seconds"] + MIX_WARM_UP)
            _note(
                found, "mix", said["rate"], (site.cpu_seconds() - before) * share / max(said["requests"], 1)
            )
            found.errors += said["wrong"]


def _note(found: Found, name: str, rate: float, cpu_seconds: float) -> None:
    found.rates.setdefault(name, []).append(rate)
    found.cpu_ms.setdefault(name, []).append(cpu_seconds * 1000)


def _steady(found: Found, site: Server, world: dict[str, Any], var: Path) -> None:
    """The mix at a part of what it bore, and the memory meanwhile."""
    over = threading.Event()

    def look() -> None:
        while not over.wait(LOOK_EVERY):
            found.memory.append(site.memory())

    looking = threading.Thread(target=look)
    looking.start()
    try:
        rate = STEADY * median(found.rates["mix"])
        said = _mix(site, world, var, users=STEADY_USERS, rate=rate, seconds=MINUTES * 60)
    finally:
        over.set()
        looking.join()
    found.steady_rate, found.p99_ms, found.minutes = said["rate"], said["p99_ms"], MINUTES
    found.pages = said["pages"]
    found.errors += said["wrong"]


def _mix(
    site: Server, world: dict[str, Any], var: Path, *, users: int, rate: float | None, seconds: float
) -> dict[str, Any]:
    """What locust measured, in a process of its own; the evenings that it used are over."""
    plan = {"world": world, "address": site.address, "users": users, "rate": rate, "seconds": seconds}
    (var / "plan.json").write_text(json.dumps(plan | {"warm_up": MIX_WARM_UP}))
    command = [sys.executable, "-W", "ignore", "-m", "tests.bench.load.journeys", str(var / "plan.json")]
    ran = subprocess.run(command, check=True, stdout=subprocess.PIPE)
    said: dict[str, Any] = json.loads(ran.stdout.splitlines()[-1])
    over = {(yard, day) for yard, day in said["evenings_over"]}
    world["evenings"] = [one for one in world["evenings"] if (one["yard"], one["day"]) not in over]
    return said | {
        "wrong": [f"mix: {one}" for one in said["errors"] + said["exceptions"]],
        "seconds": seconds,
    }


def _logged(log: Path) -> list[str]:
    """Mistakes that the site wrote down."""
    text = log.read_text(errors="replace")
    return (
        ["the site's log has a traceback: " + text[text.index("Traceback") :][:2000]]
        if "Traceback" in text
        else []
    )


def _rows(port: int, world: dict[str, Any]) -> Iterator[Ask]:
    yards = [yard for person in world["people"] for yard in person["yards"]]
    chance = random.Random(1)
    while True:
        yard = chance.choice(yards)
        yield Ask(
            request("GET", f"/{yard['pk']}/", port, cookies={}), 200, re.compile(b'"pk": %d,' % yard["pk"])
        )


def _yards_of(world: dict[str, Any]) -> list[tuple[dict[str, Any], dict[str, Any]]]:
    """Keepers and their yards, mixed."""
    yards = [(person, yard) for person in world["people"] for yard in person["yards"]]
    random.Random(2).shuffle(yards)
    return yards


def _forget_pages(url: str) -> None:
    """A row of each yard's page is written anew, so that each of them is drawn anew when it is asked for."""
    with psycopg.connect(url, autocommit=True) as line:
        line.execute("UPDATE apiaries_region SET name = name")


def _yards(
    port: int, world: dict[str, Any], yards: Sequence[tuple[dict[str, Any], dict[str, Any]]]
) -> Iterator[Ask]:
    """One after the other: none is asked for twice before all others were."""
    for person, yard in cycle(yards):
        wire = request("GET", f"/yards/{yard['pk']}/", port, cookies=_cookies(world, person))
        yield Ask(wire, 200, re.compile(b"<h1[^>]*>\\s*" + re.escape(yard["name"].encode())))


def _regions(port: int, world: dict[str, Any]) -> Iterator[Ask]:
    path = f"/regions/?kind=wash&year={world['year']}&region=all"
    ask = Ask(
        request("GET", path, port, cookies=_cookies(world, world["coordinator"])),
        200,
        re.compile(re.escape(world["region"]["name"].encode())),
    )
    while True:
        yield ask


def _saves(port: int, world: dict[str, Any]) -> Iterator[Ask]:
    """Counts of colonies that had none on that day, a yard after the other."""
    while world["evenings"]:
        evening = world["evenings"].pop()
        person = world["people"][evening["person"]]
        colony = evening["colonies"][0]
        form = {
            "entry_key": str(uuid4()),
            "method": "alcohol_wash",
            "bees_how": "half_cup",
            "mites": str(colony["mites"]),
            "brood": "unknown",
            "sampled_on": evening["day"],
        }
        path, cookies = f"/colonies/{colony['pk']}/counts/new/", _cookies(world, person)

        def further(
            body: bytes, path: str = path, form: dict[str, str] = form, cookies: dict[str, str] = cookies
        ) -> bytes | None:
            sure = SURE.search(body.decode())  # asked about: it was so
            if sure is None:
                return None
            return request("POST", path, port, cookies=cookies, form=form | {"sure": sure[1]})

        wire = request("POST", path, port, cookies=cookies, form=form)
        yield Ask(wire, 302, re.compile(rb"(?i)\nlocation: /counts/\d+/"), further)


def _cookies(world: dict[str, Any], person: dict[str, Any]) -> dict[str, str]:
    return {world["session"]: person["cookie"], world["csrf"]: CSRF}


if __name__ == "__main__":
    sys.exit(main())
