"""What the second lock costs: pages and a saved count, asked by a role that it holds, beside one that it does not.

    DATABASE_URL=postgres://SUPERUSER@127.0.0.1/postgres python -m tests.bench.bench_lock

On an invented country (LOCK_ON counts, 100000 if not said otherwise), with the settings of a served site, in one
process and in turns (LOCK_ROUNDS), so that whatever else the machine does slows both. All of it is taken back.
What is counted is work, not waiting: statements, and seconds of the processor in this process and, where the database's
own can be read (/proc, on the same machine), in that. LOCK_SHOW=1 tells the statements that cost the database most.
"""

import os
import secrets
import subprocess
import sys
import time
from collections import defaultdict
from collections.abc import Callable
from pathlib import Path
from statistics import median
from typing import Any
from uuid import uuid4

from tests.bench.databases import invented_country, ready
from tests.bench.load.serving import FORWARDED, as_served
from tests.bench.load.world import BEES, make_world, signed_in

SIZE = int(os.environ.get("LOCK_ON", "100000"))
ROUNDS = int(os.environ.get("LOCK_ROUNDS", "15"))
ONLY = os.environ.get("LOCK_ONLY", "")
"""Words of what to measure; all of it if empty."""
SHOW = bool(os.environ.get("LOCK_SHOW"))
ROLE = "recount_bench_lock"
REGIONS = 5
"""Of the inspector: those with the most yards."""
Cost = tuple[float, float, float]


def main() -> int:
    ready()
    url = invented_country(SIZE)
    from config.paths import VAR

    surroundings = as_served(url, VAR / "load", secrets.token_urlsafe(50)) | {"LOG_LEVEL": "WARNING"}
    python = [sys.executable, "-W", "ignore"]
    subprocess.run(
        [*python, "manage.py", "collectstatic", "--no-input", "-v", "0"], env=surroundings, check=True
    )
    return subprocess.run([*python, "-m", __spec__.name, "--served"], env=surroundings).returncode


def served() -> int:
    import django

    django.setup()
    from django.db import connection, transaction

    with transaction.atomic():
        asked = _questions()
        with connection.cursor() as cursor:
            cursor.execute(f"CREATE ROLE {ROLE}")
        from config.grants import grant

        grant(ROLE)
        costs: dict[tuple[str, bool], list[Cost]] = defaultdict(list)
        slow: dict[str, float] = defaultdict(float)
        for turn in range(-2, ROUNDS):  # two to warm up
            for name, ask in asked.items():
                for held in (False, True):
                    cost = _cost(ask, held, slow if SHOW and held and turn >= 0 else None)
                    if turn >= 0:
                        costs[name, held].append(cost)
        transaction.set_rollback(True)
    print(f"{'held : not held':<24} {'statements':>12} {'this process':>22} {'the database':>22}")
    for name in asked:
        parts = []
        for column in range(3):
            free, held = (median(cost[column] for cost in costs[name, one]) for one in (False, True))
            unit = f"{held:.0f} : {free:.0f}" if not column else f"{held:6.1f} : {free:5.1f} ms"
            parts.append(f"{unit} = {held / free if free else 0:4.2f}")
        print(f"{name:<24} {'   '.join(parts)}")
    for text, seconds in sorted(slow.items(), key=lambda one: -one[1])[:12]:
        print(f"{seconds * 1000 / ROUNDS:7.1f} ms  {text}")
    return 0


def _questions() -> dict[str, Callable[[], Any]]:
    """What is asked, by name."""
    from allauth.mfa.models import Authenticator
    from django.db.models import Count
    from django.utils import timezone

    from apiaries.models import Membership, Region, Yard
    from apiaries.permissions import Role
    from tests.cast import join, make_person

    world = make_world(at=timezone.now())
    keeper = world["people"][0]
    club = Membership.objects.get(person=keeper["pk"]).club
    regions = Region.objects.annotate(size=Count("yards")).order_by("-size")[:REGIONS]
    inspector = join(club, make_person("Ines"), Role.INSPECTOR, *regions)
    Authenticator.objects.create(user=inspector, type=Authenticator.Type.TOTP, data={"secret": ""})
    seen = Yard.objects.filter(region__in=regions, closed_on=None)
    print(f"{Yard.objects.count()} yards; the inspector enters {seen.count()}; load {os.getloadavg()[0]:.0f}")
    evenings = iter(world["evenings"])

    def save() -> int:
        evening = next(evenings)
        colony = evening["colonies"][0]
        form = {"entry_key": str(uuid4()), "method": "alcohol_wash", "bees_how": "half_cup", "bees": BEES}
        form |= {"mites": colony["mites"], "brood": "unknown", "sampled_on": evening["day"]}
        by = world["people"][evening["person"]]["cookie"]
        return _asked("post", f"/colonies/{colony['pk']}/counts/new/", by, form)

    region = f"/regions/?kind=wash&year={world['year']}&region=all"
    pages = {
        "a keeper's yard": (f"/yards/{keeper['yards'][0]['pk']}/", keeper["cookie"]),
        "an inspector's yard": (f"/yards/{seen.first().pk}/", signed_in(inspector)),
        "an inspector's yards": ("/yards/", signed_in(inspector)),
        "regions by month, warm": (region, world["coordinator"]["cookie"]),
    }
    asked: dict[str, Callable[[], Any]] = {
        name: lambda page=page: _asked("get", *page) for name, page in pages.items()
    }
    asked["saving a count"] = save
    return {name: ask for name, ask in asked.items() if ONLY in name}


def _asked(method: str, path: str, cookie: str, form: dict[str, Any] | None = None) -> int:
    from django.conf import settings
    from django.test import Client

    client = Client(headers=FORWARDED | {"Host": "127.0.0.1"})
    client.cookies[settings.SESSION_COOKIE_NAME] = cookie
    return int(getattr(client, method)(path, form, secure=True).status_code)


def _cost(ask: Callable[[], int], held: bool, slow: dict[str, float] | None) -> Cost:
    """Statements, and ms of the processor here and in the database, of one question as either role."""
    from django.db import connection

    number = 0

    def count(execute: Any, sql: Any, params: Any, many: bool, context: Any) -> Any:
        nonlocal number
        number += 1
        before = theirs.seconds()
        result = execute(sql, params, many, context)
        if slow is not None:
            slow[" ".join(str(sql).split())[:300]] += theirs.seconds() - before
        return result

    with connection.cursor() as cursor:
        theirs = Backend(connection.connection.info.backend_pid)
        if held:
            cursor.execute(f"SET LOCAL ROLE {ROLE}")
        connection.recount_held = held  # type: ignore[attr-defined]
        with connection.execute_wrapper(count):
            begun = time.process_time(), theirs.seconds()
            status = ask()
            used = time.process_time() - begun[0], theirs.seconds() - begun[1]
        connection.recount_held = False  # type: ignore[attr-defined]
        cursor.execute("RESET ROLE")
    assert status in (200, 302), status
    return number, used[0] * 1000, used[1] * 1000


class Backend:
    """The process of the database that works for this connection."""

    def __init__(self, pid: int) -> None:
        self.file = Path(f"/proc/{pid}/schedstat")

    def seconds(self) -> float:
        """Of the processor, so far; 0 where that cannot be read."""
        return int(self.file.read_text().split()[0]) / 1e9 if self.file.exists() else 0.0


if __name__ == "__main__":
    sys.exit(served() if "--served" in sys.argv else main())
