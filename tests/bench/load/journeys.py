"""A Sunday evening, by locust: members log, coordinators look at regions, calendars and programs ask, sheets arrive.

A process of its own, because locust makes all waiting its own: `python -m tests.bench.load.journeys PLAN` reads the
plan from a file (world, address, users, requests a second or none for as many as are answered, seconds) and prints
what it measured as JSON. Whatever is answered otherwise than it should be is an error.
"""

import json
import random
import re
import sys
import time
import uuid
from pathlib import Path
from typing import Any

import gevent
from locust import FastHttpUser, events, task
from locust.env import Environment

from tests.bench.load.asker import about
from tests.bench.load.serving import FORWARDED
from tests.bench.load.world import BEES, CSRF, SURE

PLAN: dict[str, Any] = {}
WASH = {"method": "alcohol_wash", "brood": "unknown", "note": "", "sure": ""}
ENTRY_KEY = re.compile(r'name="entry_key" value="([0-9a-f-]{36})"')


class Somebody(FastHttpUser):
    """What all have in common: cookies, the proxy's headers, the pace, and a look at every answer."""

    abstract = True
    network_timeout = connection_timeout = 30.0

    def on_start(self) -> None:
        self.world: dict[str, Any] = PLAN["world"]
        self.cookies: dict[str, str] = {}
        self.chance = random.Random(id(self))
        self.due = time.monotonic() + self.chance.random() * PLAN["pause"]

    def sign_in(self, person: dict[str, Any]) -> dict[str, Any]:
        self.cookies = {self.world["session"]: person["cookie"], self.world["csrf"]: CSRF}
        return person

    def ask(
        self, method: str, path: str, name: str, says: str, *, status: tuple[int, ...] = (200,), **more: Any
    ) -> Any:
        """The answer, which must have one of these statuses and these words in its body or address."""
        gevent.sleep(max(0.0, self.due - time.monotonic()))
        self.due = max(self.due + PLAN["pause"], time.monotonic() - 1)
        headers = FORWARDED | {"Accept-Encoding": "gzip"} | more.pop("headers", {})
        if self.cookies:
            headers["Cookie"] = "; ".join(f"{key}={value}" for key, value in self.cookies.items())
        if method == "POST":
            headers.setdefault("Origin", self.host.replace("http:", "https:"))
            headers.setdefault("X-CSRFToken", CSRF)
        with self.client.request(
            method, path, name=name, headers=headers, catch_response=True, allow_redirects=False, **more
        ) as answer:
            body = answer.text or ""
            where = answer.headers.get("Location", "") if answer.headers else ""
            if answer.status_code not in status:
                answer.failure(f"{answer.status_code} {where} {body[:300]}")
            elif says not in body and says not in where:
                answer.failure(f"{answer.status_code} without {says!r}: {where} {body[:2000]}")
            else:
                answer.success()
        for one in answer.headers.get_all("Set-Cookie", []) if answer.headers else []:
            cookie = one.partition(";")[0].partition("=")
            if cookie[0] != self.world["csrf"]:
                self.cookies[cookie[0]] = cookie[2]
        return answer

    def evening(self) -> dict[str, Any]:
        """A yard and a day on which it was not counted yet."""
        if not self.world["evenings"]:
            raise RuntimeError("All evenings are over: more colonies are needed for so long a run.")
        return self.world["evenings"].pop()


class Member(Somebody):
    """Looks what is due, opens the yard, logs."""

    weight = 12

    @task(6)
    def logs_by_form(self) -> None:
        """One count on the form of one colony, then what it says."""
        evening = self.evening()
        self.sign_in(self.world["people"][evening["person"]])
        yard, colony = evening["yard"], evening["colonies"][0]
        self.ask("GET", "/", "today", "<h1")
        self.ask("GET", f"/yards/{yard}/", "yard", "<h1")
        page = self.ask("GET", f"/colonies/{colony['pk']}/counts/new/", "count form", "entry_key")
        form = WASH | {"mites": str(colony["mites"]), "bees_how": "half_cup", "csrfmiddlewaretoken": CSRF}
        form |= {"entry_key": ENTRY_KEY.search(page.text)[1], "sampled_on": evening["day"]}
        saved = self.ask(
            "POST",
            f"/colonies/{colony['pk']}/counts/new/",
            "save a count",
            "count",
            status=(200, 302),
            data=form,
        )
        if saved.status_code == 200 and (sure := SURE.search(saved.text)):  # asked about: it was so
            form["sure"] = sure[1]
            saved = self.ask(
                "POST",
                f"/colonies/{colony['pk']}/counts/new/",
                "save a count",
                "/counts/",
                status=(302,),
                data=form,
            )
        if "Location" not in saved.headers:
            self.refused("save a count", saved.text)
            return
        self.ask("GET", saved.headers["Location"], "what a count says", "<h1")
        self.ask("GET", f"/yards/{yard}/", "yard", "<h1")

    @task(6)
    def logs_by_phone(self) -> None:
        """All colonies of a yard on a phone, in some batches, as the network lets them through."""
        evening = self.evening()
        person = self.sign_in(self.world["people"][evening["person"]])
        yard = evening["yard"]
        self.ask("GET", f"/yards/{yard}/counts/new/", "yard's count page", "<h1")
        waiting = list(evening["colonies"])
        while waiting:
            batch = [waiting.pop() for _ in range(min(len(waiting), self.chance.choice([1, 1, 2, 5])))]
            body = {"person": person["pk"], "entries": [_entry(one, evening["day"]) for one in batch]}
            sent = self.ask("POST", f"/yards/{yard}/counts/send/", "phone's batch", "answers", json=body)
            answers = sent.json()["answers"]
            sure = {one["key"]: one["sure"] for one in answers if one["sure"]}
            if sure:  # asked about: it was so
                body["entries"] = [
                    one | {"sure": sure[one["key"]]} for one in body["entries"] if one["key"] in sure
                ]
                sent = self.ask("POST", f"/yards/{yard}/counts/send/", "phone's batch", "answers", json=body)
                answers = [one for one in answers if not one["sure"]] + sent.json()["answers"]
            states = [one["state"] for one in answers]
            if states != ["saved"] * len(batch):
                self.refused("phone's batch", sent.text)
        self.ask("GET", f"/yards/{yard}/", "yard", "<h1")

    @task(4)
    def looks_around(self) -> None:
        """Leafs through what is there."""
        person = self.sign_in(self.chance.choice(self.world["people"]))
        yard = self.chance.choice(person["yards"])
        self.ask("GET", "/", "today", "<h1")
        self.ask("GET", "/yards/", "yards", "<h1")
        self.ask("GET", f"/yards/{yard['pk']}/", "yard", yard["name"])
        self.ask("GET", f"/yards/{yard['pk']}/season.svg", "season as a chart", "<svg")
        self.ask("GET", "/counts/", "counts", "<h1")

    def refused(self, name: str, text: str) -> None:
        self.environment.events.request.fire(
            request_type="POST",
            name=name,
            response_time=0,
            response_length=0,
            exception=RuntimeError(about(text.encode()).decode()),
        )


class Coordinator(Somebody):
    """Looks at the regions, with their pictures."""

    weight = 2

    @task
    def looks_at_regions(self) -> None:
        self.sign_in(self.world["coordinator"])
        region, newest = self.world["region"], self.world["year"]
        year = self.chance.choice([newest, newest, *self.world["years"]])
        asked = f"?kind=wash&year={year}&region=all"
        self.ask("GET", f"/regions/{asked}", "regions", region["name"])
        self.ask("GET", f"/regions/chart.svg{asked}", "regions' chart", "<svg")
        self.ask(
            "GET", f"/regions/?kind=wash&year={year}&region={region['pk']}", "one region", region["name"]
        )
        self.ask("GET", "/members/", "members", "<h1")


class CalendarProgram(Somebody):
    """Asks for a feed; the second time it has it already."""

    weight = 2

    @task
    def asks_twice(self) -> None:
        person = self.chance.choice(self.world["people"])
        path = f"/calendar/{person['feed']}.ics"
        feed = self.ask("GET", path, "calendar feed", "BEGIN:VCALENDAR")
        known = {"If-None-Match": feed.headers.get("ETag", "")}
        self.ask("GET", path, "calendar feed again", "", status=(200, 304), headers=known)


class Program(Somebody):
    """Reads and logs by the interface for programs."""

    weight = 3

    @task
    def logs(self) -> None:
        person = self.chance.choice([one for one in self.world["people"] if "token" in one])
        signed = {"Authorization": f"Bearer {person['token']}"}
        self.ask("GET", "/api/v1/yards/", "api yards", "items", headers=signed)
        self.ask("GET", "/api/v1/counts/", "api counts", "items", headers=signed)
        # Others take evenings while this one waits for an answer: looked for and taken without waiting.
        own = [one for one in self.world["evenings"] if self.world["people"][one["person"]] is person]
        if not own:
            return
        self.world["evenings"].remove(own[-1])
        colony = own[-1]["colonies"][0]
        count = {"method": "alcohol_wash", "sampled_on": own[-1]["day"], "colony": colony["pk"]}
        count |= {"mites": colony["mites"], "bees_by": "volume", "measure": "half_cup"}
        headers = signed | {"Idempotency-Key": _new_key()}
        saved = self.ask(
            "POST", "/api/v1/counts/", "api save", "", status=(201, 422), json=count, headers=headers
        )
        if saved.status_code == 422:  # asked about: it was so
            keys = [one["key"] for one in saved.json().get("questions", [])]
            self.ask(
                "POST", "/api/v1/counts/", "api save", "estimate", status=(201,), headers=headers,
                json=count | {"confirmed": keys},
            )  # fmt: skip
        self.ask("GET", f"/api/v1/yards/{own[-1]['yard']}/estimate/", "api estimate", "{", headers=signed)


class Sender(Somebody):
    """Brings in a sheet of a yard."""

    weight = 1

    @task
    def brings_in(self) -> None:
        evening = self.evening()
        person = self.sign_in(self.world["people"][evening["person"]])
        name = next(one["name"] for one in person["yards"] if one["pk"] == evening["yard"])
        rows = ["Yard,Hive,Date,Method,Mites,Bees"]
        rows += [
            f"{name},{one['name']},{evening['day']},alcohol wash,{one['mites']},{BEES}"
            for one in evening["colonies"]
        ]
        file = ("sheet.csv", "\n".join([*rows, f"# {uuid.uuid4()}"]).encode(), "text/csv")
        self.ask("GET", "/imports/new/", "sheet's form", "<h1")
        body, kind = _multipart({"csrfmiddlewaretoken": CSRF}, file)
        sent = self.ask(
            "POST", "/imports/new/", "send a sheet", "/imports/", status=(302,), data=body,
            headers={"Content-Type": kind},
        )  # fmt: skip
        where = "/imports/" + sent.headers["Location"].split("/")[2] + "/"
        self.ask("GET", where, "sheet", "<h1")
        self.ask("POST", f"{where}bring-in/", "bring a sheet in", where, status=(302,), data={"x": "1"})
        self.ask("GET", where, "sheet", "<h1")


def _entry(colony: dict[str, Any], day: str) -> dict[str, Any]:
    """A count as a phone sends it."""
    at = f"{day}T18:30:00.000Z"
    told = WASH | {"v": 1, "key": str(uuid.uuid4()), "colony": colony["pk"], "bees_how": "half_cup"}
    return told | {"mites": str(colony["mites"]), "sampled_on": day, "day_by_clock": True, "at": at}


def _new_key() -> str:
    """A UUID of version 7 (RFC 9562)."""
    chance = uuid.uuid4().int & ((1 << 76) - 1)
    return str(uuid.UUID(int=time.time_ns() // 1_000_000 << 80 | 7 << 76 | chance))


def _multipart(fields: dict[str, str], file: tuple[str, bytes, str]) -> tuple[bytes, str]:
    edge = uuid.uuid4().hex
    parts = [
        f'--{edge}\r\nContent-Disposition: form-data; name="{key}"\r\n\r\n{value}\r\n'.encode()
        for key, value in fields.items()
    ]
    name, data, kind = file
    head = f'--{edge}\r\nContent-Disposition: form-data; name="file"; filename="{name}"\r\n'
    parts += [f"{head}Content-Type: {kind}\r\n\r\n".encode(), data, f"\r\n--{edge}--\r\n".encode()]
    return b"".join(parts), f"multipart/form-data; boundary={edge}"


USERS = [Member, Coordinator, CalendarProgram, Program, Sender]


def run(plan: dict[str, Any]) -> dict[str, Any]:
    """The users at it for so many seconds."""
    PLAN.update(plan)
    evenings = [(one["yard"], one["day"]) for one in plan["world"]["evenings"]]
    PLAN["pause"] = plan["users"] / plan["rate"] if plan["rate"] else 0.0
    environment = Environment(user_classes=USERS, host=plan["address"], events=events)
    runner = environment.create_local_runner()
    runner.start(plan["users"], spawn_rate=100)
    gevent.sleep(plan["warm_up"])
    environment.stats.reset_all()
    begun = time.monotonic()
    gevent.sleep(plan["seconds"])
    seconds, total = time.monotonic() - begun, environment.stats.total
    found = {
        "rate": total.num_requests / seconds,
        "requests": total.num_requests,
        "p50_ms": total.get_response_time_percentile(0.5),
        "p99_ms": total.get_response_time_percentile(0.99),
        "errors": [
            f"{one.occurrences} × {one.name}: {one.error}" for one in environment.stats.errors.values()
        ],
        "exceptions": [
            f"{one['count']} × {one['msg']}: {one['traceback']}" for one in runner.exceptions.values()
        ],
        "pages": {
            f"{one.name}": {
                "requests": one.num_requests,
                "p50_ms": one.get_response_time_percentile(0.5),
                "p99_ms": one.get_response_time_percentile(0.99),
            }
            for one in environment.stats.entries.values()
        },
    }
    runner.quit()  # whoever is at it takes no further evening
    left = {(one["yard"], one["day"]) for one in PLAN["world"]["evenings"]}
    return found | {"evenings_over": [evening for evening in evenings if evening not in left]}


if __name__ == "__main__":
    print(json.dumps(run(json.loads(Path(sys.argv[1]).read_text()))))
