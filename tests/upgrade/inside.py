"""The part of make_dump.py that runs in the checkout of a release, with its code: `fill`, then `ask`.

Between the two the database is dumped. `fill` makes the club and signs people in; `ask` notes how the release
answers and what it says to the database meanwhile. tests/upgrade is taken from the release itself, if it has it.
"""

import datetime as dt
import json
import sys
from pathlib import Path
from typing import Any

import django
import time_machine

django.setup()

from django.conf import settings  # noqa: E402
from django.core.management import call_command  # noqa: E402
from django.urls import reverse  # noqa: E402

from apiaries.models import Person  # noqa: E402
from config.demo.scenario import PASSWORD as DEMO_PASSWORD  # noqa: E402
from reports.figures import refresh_marked  # noqa: E402
from reports.planner import plan_notices  # noqa: E402
from reports.sender import send_due  # noqa: E402
from tests.access.policy import rows  # noqa: E402
from tests.api_asking import Program  # noqa: E402
from tests.cast import PASSWORD  # noqa: E402
from tests.upgrade.asked import (  # noqa: E402
    browser_with,
    numbers_of,
    program_with,
    save_count,
    save_treatment,
)
from tests.upgrade.filling import DEMO_KEEPER, SIGNED_IN, fill, sign_in_by_page  # noqa: E402
from tests.upgrade.recording import Recorder, move_keys, recorded  # noqa: E402
from treatments.models import Treatment  # noqa: E402

EACH = (
    "apiaries:yard-list",
    "reports:today",
    "apiaries:me",
    "reports:region-published",
    "counts:sample-list",
)
"""Asked by all who are signed in; of the other pages, each by one who may see it."""
SHOWN = ("apiaries:yard-detail", "counts:sample-detail", "treatments:medicine-record", "reports:region-month")
"""Their numbers are noted."""
PAPERS = "-pdf"  # slow to set, and read what the pages read
SIDE_EFFECTS = (
    "apiaries:second-step",
    "apiaries:language",
)  # no pages of facts: one redirects, one is a choice


def filled(at: dt.datetime) -> dict[str, Any]:
    """Who is signed in, which pages there are, and of which the numbers count."""
    call_command("migrate", verbosity=0)
    cast, world = fill(at)
    keeper = Person.objects.get(email=DEMO_KEEPER)
    people = {name: getattr(cast, name) for name in SIGNED_IN}
    sessions = {name: sign_in_by_page(person, PASSWORD) for name, person in people.items()}
    sessions["keeper"] = sign_in_by_page(keeper, DEMO_PASSWORD)
    pages, shown = [], []
    for name, words, verb, answers in rows():
        able = [who for who in SIGNED_IN if answers[who] == "200"]
        if verb != "GET" or not able or name in SIDE_EFFECTS or name.endswith(PAPERS):
            continue
        path = reverse(name, kwargs=world.arguments(words))
        for who in able if name in EACH else able[:1]:
            pages.append([who, path])
            shown += [[who, path]] if name in SHOWN else []
    for treatment in Treatment.objects.filter(yard__keeper=keeper, cancelled_at=None).order_by("pk"):
        shown.append(["keeper", reverse("treatments:outcome", args=[treatment.pk])])
    for yard in keeper.yards.order_by("pk"):
        shown.append(["keeper", reverse("apiaries:yard-detail", args=[yard.pk])])
    return {
        "sessions": sessions,
        "tokens": {"keeper": Program(keeper).word, "dana": Program(cast.dana).word},
        "pages": pages,
        "shown": [{"who": who, "path": path} for who, path in shown],
        "figures": [
            {"who": "keeper", "path": "/api/v1/counts/?limit=100"},
            {"who": "keeper", "path": "/api/v1/treatments/?limit=100"},
            {"who": "dana", "path": f"/api/v1/regions/{cast.north.pk}/months/"},
        ],
        "saves": {"yard": cast.alice_yard.pk, "colony": cast.colony.pk},
    }


def asked(told: dict[str, Any], at: dt.datetime) -> dict[str, Any]:
    """The same, with the release's answers and all its statements."""
    recorder = Recorder()
    move_keys()
    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
    with recorded(recorder):
        browsers = {who: browser_with(session) for who, session in told["sessions"].items()}
        for who, path in told["pages"]:
            answer = browsers[who].get(path)
            assert answer.status_code == 200, (who, path, answer.status_code)
            b"".join(answer) if answer.streaming else answer.content
        for one in told["shown"]:
            one["numbers"] = numbers_of(browsers[one["who"]].get(one["path"]).content.decode())
        for one in told["figures"]:
            answer = program_with(told["tokens"][one["who"]]).get(one["path"])
            assert answer.status_code == 200, (one, answer.content)
            one["body"] = answer.json()
        save_count(browsers["alice"], **told["saves"])
        save_treatment(browsers["alice"], **told["saves"])
        plan_notices(at=at)
        send_due(at=at)
        refresh_marked(at=at)
    return told | {"statements": recorder.said}


def main(word: str, moment: str, file: Path) -> None:
    at = dt.datetime.fromisoformat(moment)
    with time_machine.travel(at, tick=True):
        told = filled(at) if word == "fill" else asked(json.loads(file.read_text()), at)
    file.write_text(json.dumps(told))


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2], Path(sys.argv[3]))
