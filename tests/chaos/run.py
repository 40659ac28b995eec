"""The whole of it: start everything, work and kill, let it drain, and reckon up."""

import json
import random
import subprocess
import sys
import threading
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from config.embedded import EmbeddedServer
from config.paths import BASE_DIR
from tests.chaos.clients import Browser, Client, Keeper, Phone
from tests.chaos.kills import Kind, kill_for
from tests.chaos.services import Everything, Size, open_everything

AWAY = 120.0  # seconds: nothing that is killed needs as long to be back, on however busy a machine
HUNG = 300.0  # seconds after which what must come to an end has hung
COLONIES = 30
"""In each yard: with a phone's days enough for twenty minutes at 40 counts a second."""


@dataclass
class Inside:
    """The process that knows the project, seen from outside."""

    process: subprocess.Popen[str]
    lock: threading.Lock = field(default_factory=threading.Lock)

    def ask(self, job: str, **wishes: Any) -> Any:
        assert self.process.stdin and self.process.stdout
        with self.lock:
            self.process.stdin.write(json.dumps({"job": job, "wishes": wishes}) + "\n")
            self.process.stdin.flush()
            line = self.process.stdout.readline()
        assert line, "the process that knows the project has ended"
        return json.loads(line)


@dataclass
class Reckoning:
    """What was killed, what should be there, what is, and every difference."""

    kills: Counter[Kind]
    counts: int = 0
    counts_unsure: int = 0
    counts_unsure_there: int = 0
    counts_there: int = 0
    treatments: int = 0
    treatments_there: int = 0
    mails_due: int = 0
    mails_received: int = 0
    mails_doubled: int = 0
    most_copies: int = 0
    tries: int = 0
    unsure_tries: int = 0
    unanswered: tuple[int, int] = (0, 0)
    longest_wait: float = 0.0
    figures: int = 0
    links: int = 0
    drained_in: float = 0.0
    outages: dict[str, list[float]] = field(default_factory=dict)
    differences: list[str] = field(default_factory=list)

    def lines(self) -> list[str]:
        killed = sum(self.kills.values())
        asked, without = self.unanswered
        out = [f"kills                  {killed}"]
        out += [f"  {kind}: {number}" for kind, number in sorted(self.kills.items(), key=str)]
        out += [
            f"counts                 acknowledged {self.counts}, there {self.counts_there}"
            f" (+ {self.counts_unsure_there} of {self.counts_unsure} whose phone was lost before an answer)",
            f"treatments             acknowledged {self.treatments}, there {self.treatments_there}",
            f"mails                  due {self.mails_due}, received {self.mails_received},"
            f" doubled {self.mails_doubled} (most copies of one {self.most_copies});"
            f" {self.tries} tries, {self.unsure_tries} of them cut off",
            f"asked                  {asked} times, {without} without an answer or with 5xx;"
            f" the longest wait of a client {self.longest_wait:.1f} s",
            f"checked                {self.figures} months of regions, {self.links} links of medicine records",
            f"drained                {self.drained_in:.1f} s after the last kill",
        ]
        out += [
            f"outages                {name}: {len(times)}, together {sum(times):.1f} s, longest {max(times):.1f} s"
            for name, times in sorted(self.outages.items())
            if times
        ]
        out += [
            f"differences            {len(self.differences)}",
            *(f"  {one}" for one in self.differences[:40]),
        ]
        return out


def run(
    folder: Path, server: EmbeddedServer, database: str, *, size: Size, broker: str = "redis", seed: int = 1
) -> Reckoning:
    """One run on a database that has its tables; `database`: its URL."""
    with open_everything(folder, server, database, broker, size) as everything:
        wait_until(lambda: all(one.up for one in everything.services if one.name == "database"))
        inside = Inside(
            subprocess.Popen(
                [sys.executable, "-m", "tests.chaos.inside"],
                cwd=BASE_DIR,
                env=everything.environment,
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                text=True,
            )
        )
        try:
            return _run(everything, inside, size, random.Random(seed))
        finally:
            assert inside.process.stdin
            inside.process.stdin.close()
            inside.process.wait(30)
            assert inside.process.stdout
            inside.process.stdout.close()


def _run(everything: Everything, inside: Inside, size: Size, chance: random.Random) -> Reckoning:
    who = inside.ask("make", phones=size.phones, keepers=size.keepers, colonies=COLONIES)
    wait_until(lambda: all(one.up for one in everything.services))
    stopped = threading.Event()
    clients: list[Client] = []
    for number, one in enumerate(who):
        kind = Phone if number < size.phones else Keeper
        browser = Browser(everything.host, everything.web_ports, one["cookies"])
        clients.append(kind(one, browser, chance.randrange(2**32), stopped))
    due: list[str] = []
    waves = threading.Thread(target=_owe, args=(inside, size, stopped, due), daemon=True)
    for thread in (*clients, waves):
        thread.start()
    # Nobody is killed before all of it is at work.
    wait_until(lambda: all(one.acknowledged for one in clients) and everything.mailbox.stat().st_size)
    kills = kill_for(everything.services, size.kinds, seconds=size.seconds, pauses=size.pauses, chance=chance)
    ended = time.monotonic()
    stopped.set()
    for thread in (*clients, waves):
        thread.join(HUNG)
    found = Reckoning(kills)
    _drain(everything, inside, found)
    found.drained_in = time.monotonic() - ended
    found.outages = {one.name: one.outages for one in everything.services}
    _reckon(inside.ask("reckon"), everything.mailbox, clients, due, found)
    found.differences += [
        f"{name} was away for {max(times):.0f} s"
        for name, times in found.outages.items()
        if max(times, default=0) > AWAY
    ]
    return found


def _owe(inside: Inside, size: Size, stopped: threading.Event, due: list[str]) -> None:
    """All the while more keepers are owed a mail."""
    for number in range(size.waves):
        due += inside.ask("wave", name=f"Wave{number}of", number=size.wave)
        if stopped.wait(size.seconds / size.waves):
            break


def _drain(everything: Everything, inside: Inside, found: Reckoning) -> None:
    """Until everything is up and nothing waits; what does not come to an end is a difference."""
    try:
        wait_until(lambda: all(one.up for one in everything.services))
        wait_until(lambda: not any(inside.ask("unfinished").values()), every=0.5)
        wait_until(lambda: not any(inside.ask("locks").values()), 60, every=0.3)
    except TimeoutError:
        down = [one.name for one in everything.services if not one.up]
        left = inside.ask("unfinished") | inside.ask("locks")
        found.differences.append(f"it does not come to rest: down {down}, left {left}")


def _reckon(
    there: dict[str, Any], mailbox: Path, clients: list[Client], due: list[str], found: Reckoning
) -> None:
    phones = [one for one in clients if isinstance(one, Phone)]
    keepers = [one for one in clients if isinstance(one, Keeper)]
    _reckon_counts(there, phones, found)
    _reckon_mails(there, mailbox, due, found)
    acknowledged = {key for one in keepers for key in one.acknowledged}
    kept = Counter(there["treatments"])
    found.treatments, found.treatments_there = len(acknowledged), sum(kept[key] for key in acknowledged)
    unknown = set(kept) - acknowledged - {key for one in keepers for key in one.given_up}
    found.differences += [f"treatment {key} is not there" for key in acknowledged - set(kept)]
    found.differences += [f"treatment {key} is nobody's" for key in unknown]
    found.differences += [odd for one in clients for odd in one.odd]
    for what in ("drifts", "outlooks", "chains"):
        found.differences += [f"{what}: {one}" for one in there[what]]
    found.figures, found.links = there["region months"], there["links"]
    found.unanswered = sum(one.tries for one in clients), sum(one.unanswered for one in clients)
    found.longest_wait = max((wait for one in clients for wait in one.waits), default=0.0)


def _reckon_counts(there: dict[str, Any], phones: list[Phone], found: Reckoning) -> None:
    """By key and by what was noted: no count of a phone is like another, so a second one under another key shows."""
    acknowledged = {key: content for one in phones for key, content in one.acknowledged.items()}
    unsure = {
        key: content for one in phones for key, content in one.given_up.items() if key not in acknowledged
    }
    kept = {key: tuple(content) for key, *content in there["counts"]}
    found.counts, found.counts_unsure = len(acknowledged), len(unsure)
    found.counts_there = sum(kept.get(key) == content for key, content in acknowledged.items())
    found.counts_unsure_there = sum(kept.get(key) == content for key, content in unsure.items())
    known = acknowledged | unsure
    found.differences += [f"count {key} {known[key]} is not there" for key in acknowledged if key not in kept]
    found.differences += [
        f"count {key} is {kept[key]}, was {known.get(key)}" for key in kept if kept[key] != known.get(key)
    ]
    twice = Counter((colony, on) for colony, _, on in kept.values())
    found.differences += [f"colony {at[0]} has {n} counts of {at[1]}" for at, n in twice.items() if n > 1]


def _reckon_mails(there: dict[str, Any], mailbox: Path, due: list[str], found: Reckoning) -> None:
    """Everybody who was owed one has one; as many copies more as tries that were cut off, at most."""
    taken = [json.loads(line) for line in mailbox.read_text().splitlines()]
    copies, addresses = Counter(mail["id"] for mail in taken), Counter(mail["to"] for mail in taken)
    sent = {key for key, state in there["mails"].items() if state == "sent"}
    found.mails_due, found.mails_received = len(due), sum(address in addresses for address in due)
    found.mails_doubled = copies.total() - len(copies)
    found.most_copies = max(copies.values(), default=0)
    found.tries, found.unsure_tries = there["tries"], sum(there["unsure"].values())
    found.differences += [f"{address} has no mail" for address in due if address not in addresses]
    found.differences += [f"mail {key} stands as sent, and never came" for key in sent - set(copies)]
    found.differences += [f"mail {key} came, and does not stand as sent" for key in set(copies) - sent]
    found.differences += [
        f"mail {key} came {n} times, and {there['unsure'].get(key, 0)} tries of it were cut off"
        for key, n in copies.items()
        if n > 1 + there["unsure"].get(key, 0)
    ]
    of_each = Counter({mail["id"]: mail["to"] for mail in taken}.values())
    found.differences += [f"{address} has {n} different mails" for address, n in of_each.items() if n > 1]


def wait_until(happened: Any, seconds: float = HUNG, *, every: float = 0.05) -> None:
    until = time.monotonic() + seconds
    while not happened():
        if time.monotonic() > until:
            raise TimeoutError
        time.sleep(every)
