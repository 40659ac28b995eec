"""Members at work while everything dies: phones that send what waits, keepers who fill in the form of a treatment.

Each writes down what the service said it has kept; that is what must be there afterwards.
"""

import datetime as dt
import http.client
import json
import random
import threading
import time
import uuid
from dataclasses import dataclass, field
from http.cookies import SimpleCookie
from typing import Any
from urllib.parse import urlencode

from tests.flows.forms import fields_of

PATIENCE = 20.0  # seconds until an answer is given up, as the phone does
LOST = 0.1  # so often a phone that got no answer is dropped into the water: its counts may be there or not
CAUGHT_UP = 240.0  # seconds that a client goes on after the last kill to hand over what waits


@dataclass(frozen=True)
class Answer:
    status: int
    place: str
    text: str


@dataclass
class Browser:
    """Cookies, and web processes that it asks in turn as a proxy does."""

    host: str
    ports: list[int]
    cookies: dict[str, str]
    asked: int = 0

    @property
    def token(self) -> str:
        return next((value for name, value in self.cookies.items() if "csrf" in name), "")

    def ask(self, method: str, url: str, body: str | None = None, kind: str = "") -> Answer | None:
        """The answer; None where none came, whatever the reason."""
        self.asked += 1
        line = http.client.HTTPConnection(
            "127.0.0.1", self.ports[self.asked % len(self.ports)], timeout=PATIENCE
        )
        headers = {
            "Host": self.host,
            "X-Forwarded-Proto": "https",
            "X-Forwarded-For": "192.0.2.7",
            "Referer": f"https://{self.host}{url}",
            "Cookie": "; ".join(f"{name}={value}" for name, value in self.cookies.items()),
            "X-CSRFToken": self.token,
            "Content-Type": kind,
        }
        try:
            line.request(method, url, body, headers)
            answer = line.getresponse()
            text = answer.read().decode()
        except (OSError, http.client.HTTPException):
            return None
        finally:
            line.close()
        for given in answer.headers.get_all("Set-Cookie") or []:
            for name, morsel in SimpleCookie(given).items():
                self.cookies[name] = morsel.value
        return Answer(answer.status, answer.headers.get("Location") or "", text)


@dataclass
class Client(threading.Thread):
    """Works until told to stop, then hands over what waits."""

    who: dict[str, Any]
    browser: Browser
    seed: int
    stopped: threading.Event
    acknowledged: dict[str, tuple[Any, ...]] = field(default_factory=dict)
    given_up: dict[str, tuple[Any, ...]] = field(default_factory=dict)
    waits: list[float] = field(default_factory=list)
    """Seconds from the first try of each send to its answer."""
    tries: int = 0
    unanswered: int = 0
    odd: list[str] = field(default_factory=list)
    """Answers that there should be none of."""

    def __post_init__(self) -> None:
        super().__init__(daemon=True)
        self.chance = random.Random(self.seed)

    def __hash__(self) -> int:
        return id(self)

    def run(self) -> None:
        try:
            self.work()
        except Exception as error:  # noqa: BLE001  (a client that dies of a fault of its own must be seen)
            self.odd.append(repr(error))

    def work(self) -> None:
        raise NotImplementedError

    def heard(self, answer: Answer | None) -> Answer | None:
        self.tries += 1
        if answer is None or answer.status >= 500:
            self.unanswered += 1
            return None
        return answer

    def renewed(self) -> None:
        """Any page brings another token."""
        self.browser.ask("GET", f"/yards/{self.who['yard']}/")

    def breathe(self) -> None:
        time.sleep(self.chance.uniform(0.1, 0.6))


class Phone(Client):
    """Notes a few counts, and sends what waits until the answer names each key."""

    def work(self) -> None:
        self.renewed()
        yard, today = self.who["yard"], dt.datetime.now(dt.UTC).date()
        places = [(colony, day) for day in range(1, 390) for colony in self.who["colonies"]]
        waiting: list[dict[str, Any]] = []
        since, until = time.monotonic(), 0.0
        while waiting or not self.stopped.is_set():
            if self.stopped.is_set():
                until = until or time.monotonic() + CAUGHT_UP
                if time.monotonic() > until:
                    self.odd.append(f"{len(waiting)} counts were never acknowledged")
                    return
            elif places and len(waiting) < 20:
                for _ in range(min(self.chance.randint(1, 4), len(places))):
                    colony, day = places.pop()
                    waiting.append(self._noted(colony, today - dt.timedelta(days=day)))
            before = time.monotonic()
            left = self._sent(yard, waiting)
            if left is None and self.chance.random() < LOST and not self.stopped.is_set():
                self.given_up |= {one["key"]: _content(one) for one in waiting}
                left, since = [], before
            elif left is not None:
                self.waits.append(time.monotonic() - since)
            waiting, since = (waiting, since) if left is None else (left, time.monotonic())
            self.breathe()
            if left is not None:
                since = time.monotonic()

    def _noted(self, colony: int, on: dt.date) -> dict[str, Any]:
        facts = {"method": "alcohol_wash", "bees_how": "half_cup", "brood": "unknown"}
        when = {"at": f"{on}T10:00:00Z", "day_by_clock": False, "sampled_on": on.isoformat()}
        mites = str(self.chance.randint(0, 9))
        return {"key": str(uuid.uuid4()), "v": 1, "colony": colony, "mites": mites} | facts | when

    def _sent(self, yard: int, waiting: list[dict[str, Any]]) -> list[dict[str, Any]] | None:
        """What waits on; None without an answer."""
        body = {
            "person": self.who["person"],
            "sent_at": dt.datetime.now(dt.UTC).isoformat(),
            "entries": waiting[:50],
        }
        url = f"/yards/{yard}/counts/send/"
        answer = self.heard(self.browser.ask("POST", url, json.dumps(body), "application/json"))
        if answer is None:
            return None
        if answer.status != 200:
            if answer.status == 403:
                self.renewed()
            elif answer.status != 429:
                self.odd.append(f"{url}: {answer.status} {answer.text[:200]}")
            return None
        told = {one["key"]: one for one in json.loads(answer.text)["answers"]}
        for one in waiting:
            got = told.get(one["key"])
            if got and got["state"] in ("saved", "here"):
                self.acknowledged[one["key"]] = _content(one)
            elif got:
                self.odd.append(f"a count was refused: {got}")
        return [one for one in waiting if one["key"] not in told]


def _content(one: dict[str, Any]) -> tuple[int, int, str]:
    return one["colony"], int(one["mites"]), one["sampled_on"]


class Keeper(Client):
    """Opens the form of a treatment, fills it in, and presses the button until the service says that it is kept."""

    def work(self) -> None:
        days = iter(range(1, 380))
        while not self.stopped.is_set():
            url = f"/yards/{self.who['yard']}/treatments/new/?way=oxalic_vapour_us"
            page = self.heard(self.browser.ask("GET", url))
            if page is None or page.status != 200:
                if page is not None:
                    self.odd.append(f"{url}: {page.status}")
                self.breathe()
                continue
            back = next(days, None)
            if back is None:  # treatments of each day that may be told are there
                return
            on = dt.datetime.now(dt.UTC).date() - dt.timedelta(days=back)
            action, fields = fields_of(page.text)
            fields |= {"on_1": [str(on)], "dose_1": ["1"], "withdrawal_days": ["0"]}
            self._pressed(action or url, fields)
            self.breathe()

    def _pressed(self, url: str, fields: dict[str, list[str]]) -> None:
        since = time.monotonic()
        until = 0.0
        while True:
            data = urlencode(fields, doseq=True)
            answer = self.heard(self.browser.ask("POST", url, data, "application/x-www-form-urlencoded"))
            if answer is not None and answer.status == 302 and "/account/" not in answer.place:
                self.acknowledged[fields["entry_key"][0]] = ()
                self.waits.append(time.monotonic() - since)
                return
            if answer is not None:
                self.odd.append(f"{url}: {answer.status} {answer.place} {_errors(answer.text)}")
                self.given_up[fields["entry_key"][0]] = ()
                return
            if self.stopped.is_set():
                until = until or time.monotonic() + CAUGHT_UP
                if time.monotonic() > until:
                    self.odd.append("a treatment was never acknowledged")
                    return
            self.breathe()


def _errors(page: str) -> str:
    place = page.find("error")
    return page[max(0, place - 100) : place + 500] if place >= 0 else page[:200]
