"""Odd questions to every address and odd answers in every form, as everybody who may come; nothing written stays."""

import json
import random
import traceback
from collections import Counter, defaultdict
from dataclasses import dataclass, field
from http.cookies import SimpleCookie
from typing import Any
from urllib.parse import quote, urlencode, urlsplit

from django.apps import apps
from django.conf import settings as django_settings
from django.db import transaction
from django.test import Client
from django.urls import reverse
from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st

from apiaries.actions import add_numbered_colonies, add_region, add_yard, end_membership, set_operator
from apiaries.models import Colony, Person
from apiaries.permissions import Role
from tests.access.odd import ODD
from tests.access.policy import rows
from tests.access.world import AT, World, make_world
from tests.cast import STARTED, Cast, join, make_cast, make_person
from tests.counts.counting import kept
from tests.fuzz.forms import Form, forms_of

SECRETS = {"alice": "Lindenduft", "charlie": "Rapsgold", "zoe": "Heidekraut", "emma": "Akazienblatt"}
"""A word in the yard's name and the counts' notes of each keeper."""
SEES = {
    "stranger": (), "member": ("charlie",), "helper": ("alice",), "keeper": ("alice",), "coordinator": (),
    "inspector": ("alice",), "inspector elsewhere": ("charlie", "emma"), "administrator": (),
    "of another club": ("zoe",), "operator": (), "ended member": ("emma",),
}  # fmt: skip
"""Whose words each may read, written by hand."""
SIGNED = {"member": "charlie", "helper": "bob", "keeper": "alice", "coordinator": "dana", "inspector": "ines",
          "inspector elsewhere": "ivan", "administrator": "adam", "of another club": "zoe"}  # fmt: skip
MORE = ("{% now 'Y' %}", "${7*7}", "../../../etc/passwd", "%00", "\ufeff", "0000-00-00", "9999-12-31T23:59",
        "-9223372036854775809", "1e400", "\u0661\u0662", "\u202e\u2066abc", "a" * 10_000, "'; DROP TABLE x; --",
        "[1,2]", '{"a": 1}', "true", "12:99", "99:00", "\ud7ff\U0010ffff")  # fmt: skip
ASKED = ("page", "yard", "year", "kind", "region", "part", "from", "to", "q", "next", "way", "month", "season", "level",
         "order", "theme", "size", "keeper", "colony", "method", "on", "format", "a[]", "__proto__")  # fmt: skip
RAW = (
    "a=%ff%fe",
    "=&&=&%",
    "page=1&page=2&page=x",
    "%c0%ae=%c0%af",
    "yard=%00",
    "x=" + "y" * 9_000,
    ";;",
    "year[]=2026",
)
HEADERS: tuple[dict[str, str], ...] = (
    {}, {}, {"HTTP_HX_REQUEST": "true"}, {"HTTP_ACCEPT_LANGUAGE": "\u00ff;q=x, tlh"}, {"HTTP_RANGE": "bytes=9-1"},
    {"HTTP_REFERER": "http://[::1"}, {"HTTP_IF_NONE_MATCH": '"', "HTTP_IF_MODIFIED_SINCE": "31 Feb"},
    {"HTTP_ACCEPT": "application/*;q=1e9"}, {"HTTP_X_FORWARDED_FOR": "x, ::, 999.1.1.1"},
    {"HTTP_COOKIE": "a=\u00ff; ="},
)  # fmt: skip
PHONE = {"v": 1, "key": "0192f3a0-7c00-7000-8000-000000000001", "method": "alcohol_wash", "bees_how": "half_cup",
         "mites": "9", "brood": "unknown", "sampled_on": "2026-08-12", "day_by_clock": True, "hive": 1,
         "step": "started", "at": "2026-08-12T10:00:00Z", "remark": "", "undo": None}  # fmt: skip
BY_PHONE = ("counts:yard-entries", "reports:visit-entries", "treatments:round-marks")
"""Addresses that take what a phone kept, as JSON."""

ON_EVERY_PAGE = ("account_logout", "apiaries:language")

Odd = st.one_of(
    st.sampled_from(ODD + MORE),
    st.text(max_size=40),
    st.integers().map(str),
    st.floats().map(str),
    st.dates().map(str),
)


@dataclass
class Asker:
    """Somebody's browser, and the words that are not for them."""

    name: str
    client: Client
    secrets: tuple[str, ...]


@dataclass
class Tally:
    """What came of all requests: by who asked and status, and whatever went wrong."""

    statuses: dict[str, Counter[int]] = field(default_factory=lambda: defaultdict(Counter))
    failures: list[str] = field(default_factory=list)
    forms: int = 0
    done: int = 0
    """Forms posted, and those of them that led on to another page: they were really reached."""

    @property
    def requests(self) -> int:
        return sum(sum(counts.values()) for counts in self.statuses.values())

    def __str__(self) -> str:
        lines = [
            f"{who:20} {sum(counts.values()):6}  "
            + ", ".join(f"{status}: {number}" for status, number in sorted(counts.items()))
            for who, counts in self.statuses.items()
        ]
        end = f"{self.requests} requests, {self.forms} forms, {self.done} done; {len(self.failures)} failures"
        return "\n".join([*lines, end])


def make_site() -> tuple[World, list[Asker], list[str]]:
    """The world of the table, a secret in what every keeper wrote, everybody's browser, and keys of everything."""
    cast = make_cast()
    world = make_world(cast)
    emma, olga = (join(cast.club, make_person(name), Role.MEMBER) for name in ("Emma", "Olga"))
    set_operator(person=olga, is_operator=True, by=None)
    for name, person in (("zoe", cast.zoe), ("emma", emma)):
        region = (
            cast.south if name == "emma" else add_region(club=person.membership.club, name="Far", by=person)
        )
        yard = add_yard(keeper=person, region=region, name="Far yard", by=person)
        add_numbered_colonies(yard=yard, first=1, last=2, started_on=STARTED, by=person)
    people = {name: getattr(cast, name) for name in ("alice", "charlie", "zoe")} | {"emma": emma}
    for name, word in SECRETS.items():
        _hide(people[name], word)
    end_membership(membership=emma.memberships.get(), at=AT, by=cast.adam)
    return world, _askers(cast, emma, olga), _keys()


def _hide(keeper: Person, word: str) -> None:
    for yard in keeper.yards.all():
        yard.name = f"{word} {yard.name}"
        yard.save(update_fields=["name"])
    for colony in Colony.objects.filter(yard__keeper=keeper).order_by("pk")[:2]:
        kept(colony, keeper, 4, note=f"note {word}")


def _askers(cast: Cast, emma: Person, olga: Person) -> list[Asker]:
    people = {name: getattr(cast, who) for name, who in SIGNED.items()} | {
        "operator": olga,
        "ended member": emma,
    }
    askers = []
    for name, seen in SEES.items():
        client = Client()
        if name in people:
            client.force_login(people[name], backend=django_settings.AUTHENTICATION_BACKENDS[0])
        secrets = tuple(word for whose, word in SECRETS.items() if whose not in seen)
        askers.append(Asker(name, client, secrets))
    return askers


def _keys() -> list[str]:
    """Keys of everything there is, whoever's, and of nothing."""
    models = [
        model
        for label in ("apiaries", "counts", "treatments", "reports")
        for model in apps.get_app_config(label).get_models()
    ]
    keys = {
        str(key)
        for model in models
        for key in model._default_manager.values_list("pk", flat=True).order_by("pk")[:6]
    }
    return sorted(keys | {"0", "-1", str(10**9), str(2**63), str(2**70)})


def fuzz(
    site: tuple[World, list[Asker], list[str]], least: int, *, number: int = 20260812, only: str = ""
) -> Tally:
    """At least so many requests, spread over all pairs of address and person. `only`: the address to ask alone."""
    world, askers, keys = site
    tally = Tally()
    places = [(name, words) for name, words, *_ in rows() if not only or name == only]
    pairs = [(asker, place) for place in dict.fromkeys(places) for asker in askers]
    random.Random(number).shuffle(pairs)
    turns = iter(range(least))
    read: dict[tuple[str, str], list[Form]] = {}

    @seed(number)
    @settings(max_examples=least, phases=[Phase.generate], database=None, deadline=None,
              suppress_health_check=list(HealthCheck))  # fmt: skip
    @given(st.lists(Odd, min_size=5, max_size=5), st.integers(0, 2**32))
    def one(odd: list[str], chance: int) -> None:
        turn = next(turns, None)
        if turn is None:
            return
        asker, (name, words) = pairs[turn % len(pairs)]
        url = reverse(name, kwargs=world.arguments(words))
        _Asking(asker, name, url, odd, keys, random.Random(f"{turn} {chance}"), tally, read).ask(
            turn // len(pairs)
        )

    one()
    return tally


@dataclass
class _Asking:
    """One turn of one person at one address."""

    asker: Asker
    name: str
    url: str
    odd: list[str]
    keys: list[str]
    dice: random.Random
    tally: Tally
    read: dict[tuple[str, str], list[Form]]

    def ask(self, round_: int) -> None:
        """Now and then the address itself is spoilt; mostly its forms are filled in."""
        if self.dice.random() < 0.25:
            self.dice.choice((self._question, self._path, self._method, self._raw))()
        elif self.name in BY_PHONE:
            self._by_phone()
        else:
            self._form(meant=self.dice.random() < 0.25)

    def _question(self) -> None:
        names = {name for form in self._forms() if form.verb == "GET" for name in form.boxes} or set(ASKED)
        some = self.dice.sample(sorted(names | set(ASKED[:4])), 2)
        query = [
            (name, self.dice.choice(self.odd + self.keys))
            for name in some
            for _ in range(self.dice.randint(1, 2))
        ]
        self._send("GET", f"{self.url}?{urlencode([(name, _sendable(value)) for name, value in query])}")

    def _raw(self) -> None:
        self._send(
            self.dice.choice(("GET", "POST")),
            f"{self.url}?{self.dice.choice(RAW)}",
            raw=self.dice.choice(RAW),
        )

    def _path(self) -> None:
        """One part of the address becomes something else."""
        parts = self.url.split("/")
        places = [place for place, part in enumerate(parts) if part] or [0]
        keys = [place for place in places if any(sign.isdigit() for sign in parts[place])]
        odd = self.dice.choice(
            [*(_sendable(value) for value in self.odd), *self.keys, b"\xff\xfe", b"..%2f", b"\0"]
        )
        parts[self.dice.choice(keys or places)] = quote(odd[:3000], safe="")
        self._send(self.dice.choice(("GET", "POST")), "/".join(parts))

    def _method(self) -> None:
        self._send(self.dice.choice(("HEAD", "OPTIONS", "PUT", "DELETE", "PATCH", "TRACE")), self.url)

    def _by_phone(self) -> None:
        entry: dict[str, Any] = dict(PHONE)
        for name in self.dice.sample(sorted([*PHONE, "colony", "corrects", "board_days"]), 2):
            entry[name] = self.dice.choice(
                [*self.odd, self.dice.choice(self.keys), None, 1.5, -(2**70), [], {}, [[]], True]
            )
        body: Any = {"entries": [entry] * self.dice.choice((1, 1, 2, 300))}
        if self.dice.random() < 0.2:
            body = self.dice.choice(
                ([], None, {"entries": {}}, {"entries": [None, 1, "x"]}, {"entries": "x"}, 7)
            )
        data = json.dumps(body, default=str)
        if self.dice.random() < 0.1:
            data = self.dice.choice((data[:-2], "[" * 3_000, '{"entries": NaN}', "\0", ""))
        self._send("POST", self.url, json=data)

    def _form(self, *, meant: bool) -> None:
        forms = self._forms()
        own = [form for form in forms if urlsplit(form.action).path not in self._everywhere()]
        form = self.dice.choice(own or [Form(self.url, "POST")])
        data = form.meant() if meant or not form.boxes else form.spoilt(self.odd, self.keys, self.dice)
        if form.verb == "GET":
            query = urlencode([(name, _sendable(value)) for name, values in data.items() for value in values])
            self._send("GET", f"{urlsplit(form.action).path}?{query}")
            return
        self.tally.forms += 1
        status, where = self._send("POST", form.action, data=data)
        self.tally.done += status == 302 and not where.startswith(reverse("account_login"))

    def _everywhere(self) -> tuple[str, ...]:
        """Where forms lead that stand on every page; at their own address they are filled in too."""
        return tuple(path for path in map(reverse, ON_EVERY_PAGE) if path != self.url)

    def _forms(self) -> list[Form]:
        """Of the page as it is for them, read once: whatever they did was undone."""
        place = (self.asker.name, self.url)
        if place not in self.read:
            self.read[place] = []
            way = "?way=formic_gel_strip_us" if self.name == "treatments:treatment-add" else ""
            html = self._send("GET", self.url + way, plain=True)[1]
            self.read[place] = forms_of(self.url + way, html)
        return self.read[place]

    def hidden(self) -> tuple[str, ...]:
        """Words that are not for them; the secret address of a calendar tells its yards to whoever has it."""
        return () if self.name == "reports:calendar-feed" else self.asker.secrets

    def _send(
        self, verb: str, url: str, *, data: Any = None, raw: str = "", json: str = "", plain: bool = False
    ) -> tuple[int, str]:
        """Status, and where it leads (or the page itself, if `plain`); nothing stays, cookies neither."""
        client, cookies = (
            self.asker.client,
            SimpleCookie(self.asker.client.cookies.output(header="", sep=";")),
        )
        more: dict[str, Any] = {} if plain else dict(self.dice.choice(HEADERS))
        if data is not None:
            more |= {"data": data}
        elif verb not in ("GET", "HEAD", "TRACE"):
            kind = "application/json" if json else "application/x-www-form-urlencoded"
            more |= {"data": json or raw, "content_type": kind}
        what = f"{self.asker.name}: {verb} {url[:300]} {ascii(data or json or raw)[:1500]}"
        try:
            with transaction.atomic():
                response = getattr(client, verb.lower())(url, **more)
                body = b"".join(response.streaming_content) if response.streaming else response.content
                transaction.set_rollback(True)
        except Exception:  # noqa: BLE001 - whatever a page fails with, it is a finding
            self.tally.statuses[self.asker.name][500] += 1
            self.tally.failures.append(f"{what}: {traceback.format_exc(limit=-4)}")
            return 500, ""
        finally:
            client.cookies = cookies
        self.tally.statuses[self.asker.name][response.status_code] += 1
        text = body.decode(errors="replace")
        if response.status_code >= 500:
            self.tally.failures.append(f"{what}: answered {response.status_code}")
        self.tally.failures += [
            f"{what}: told {word}" for word in self.hidden() if word in f"{response.headers} {text}"
        ]
        return response.status_code, text if plain else response.headers.get("Location", "")


def _sendable(value: str) -> bytes:
    return value.encode("utf-8", errors="surrogatepass")
