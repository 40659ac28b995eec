"""Who is killed, how, and when: every kind in turn, in an order and with pauses that a seed decides."""

import os
import random
import signal
import time
from collections import Counter
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass

from tests.chaos.supervisor import Database, Service

KILL, TERM = signal.SIGKILL, signal.SIGTERM


@dataclass(frozen=True)
class Kind:
    """`service`: the beginning of its name; `part`: its main process, one below it, or all of them."""

    service: str
    part: str
    number: signal.Signals

    def __str__(self) -> str:
        part = {"main": "main process", "one": "one child", "all": "every process"}[self.part]
        return f"{self.service}, {part}, {self.number.name}"


KINDS = (
    *(
        Kind(name, part, how)
        for name in ("web", "worker")
        for part in ("main", "one")
        for how in (KILL, TERM)
    ),
    *(Kind(name, "main", how) for name in ("beat", "broker", "mail") for how in (KILL, TERM)),
    Kind("worker", "all", KILL),
    Kind("database", "one", KILL),
    Kind("database", "main", KILL),
    Kind("database", "all", KILL),
    Kind("database", "main", TERM),
)


FEW = (
    *(Kind(name, "main", KILL) for name in ("worker", "beat", "broker", "mail")),
    Kind("web", "main", TERM),
    Kind("web", "one", KILL),
    Kind("worker", "one", KILL),
    Kind("database", "one", KILL),
    Kind("database", "all", KILL),
)
"""What a run in small has time for."""


def kill_for(
    services: Sequence[Service],
    kinds: Sequence[Kind],
    *,
    seconds: float,
    pauses: tuple[float, float],
    chance: random.Random,
) -> Counter[Kind]:
    """Kill until the time is over and every kind had its turn once; how often each was met."""
    met: Counter[Kind] = Counter()
    until = time.monotonic() + seconds
    while time.monotonic() < until or not met.keys() >= set(kinds):
        for kind in chance.sample(kinds, len(kinds)):
            if met[kind] and time.monotonic() > until:
                continue
            time.sleep(chance.uniform(*pauses))
            alike = [one for one in services if one.name.startswith(kind.service)]
            met[kind] += kill(kind, chance.choice(alike))
    return met


def kill(kind: Kind, service: Service, patience: float = 60) -> int:
    """Once it answers (whoever is down already is not killed again), send the signal; 1 if somebody was there."""
    until = time.monotonic() + patience
    while not (service.up and (pids := service.pids(kind.part))):
        if time.monotonic() > until:
            return 0
        time.sleep(0.02)
    if isinstance(service, Database) and kind.number == TERM:
        service.asked = time.monotonic()
    met = 0
    for pid in pids:
        with suppress(ProcessLookupError):
            os.kill(pid, kind.number)
            met = 1
    return met
