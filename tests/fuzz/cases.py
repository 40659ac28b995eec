"""Odd questions made from the interface's own description, mixed with keys and bodies that mean something."""

import json
import random
import uuid
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

import schemathesis
from django.core.handlers.wsgi import WSGIHandler
from django.core.signals import request_finished, request_started
from django.db import close_old_connections, transaction
from hypothesis import HealthCheck, Phase, given, seed, settings
from schemathesis import GenerationMode
from schemathesis.checks import not_a_server_error
from schemathesis.core.failures import Failure, FailureGroup
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from counts.models import MiteSample
from tests.fuzz.asked import Asker

CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_schema_conformance,
]
MEANT = 0.8
"""The share of keys, bodies and headers that are put in place of what was made up."""
BODIES: dict[str, dict[str, Any]] = {
    "counts/": {"method": "alcohol_wash", "sampled_on": "2026-09-12", "mites": 9, "bees_by": "volume",
                "measure": "half_cup"},
    "correction/": {"method": "alcohol_wash", "sampled_on": "2026-08-13", "mites": 8, "bees_by": "counted",
                    "bees": 310, "why": "misread"},
    "void/": {"why": "spilt"},
    "restore/": {"why": "the other jar was spilt"},
}  # fmt: skip
"""What each doorway takes, by the end of its address."""


NAMED = {"yard": "yards", "colony": "colonies", "region": "regions"}
"""Parameters that take a key."""


@dataclass
class Tally:
    """What came of all cases."""

    statuses: Counter[int] = field(default_factory=Counter)
    failures: list[str] = field(default_factory=list)
    operations: set[str] = field(default_factory=set)

    @property
    def cases(self) -> int:
        return sum(self.statuses.values())

    @property
    def answered(self) -> float:
        """The share of cases that were answered with what they asked for."""
        return sum(n for status, n in self.statuses.items() if 200 <= status < 300) / max(self.cases, 1)

    def __str__(self) -> str:
        told = ", ".join(f"{status}: {n}" for status, n in sorted(self.statuses.items()))
        return (
            f"{self.cases} cases of {len(self.operations)} operations, {self.answered:.0%} answered 2xx, "
            f"{len(self.failures)} failures ({told})"
        )


def operations() -> list[Any]:
    """Every verb and address that the description names, in process."""
    schema = schemathesis.openapi.from_wsgi("/api/schema/", InProcess())
    return [found.ok() for found in schema.get_all_operations() if "/api/v1/" in found.ok().path]


def fuzz(askers: list[Asker], each: int, *, among: Callable[[Any], bool] = lambda _: True) -> Tally:
    """So many cases of each operation by each asker; nothing they wrote stays."""
    tally = Tally()
    for operation in filter(among, operations()):
        tally.operations.add(operation.label)
        for asker in askers:
            for mode, number in _modes(each):
                _many(operation, asker, mode, number, tally)
    return tally


def _modes(each: int) -> Iterator[tuple[GenerationMode, int]]:
    """One in four breaks the description on purpose."""
    odd = each // 4
    yield GenerationMode.POSITIVE, each - odd
    if odd:
        yield GenerationMode.NEGATIVE, odd


def _many(operation: Any, asker: Asker, mode: GenerationMode, number: int, tally: Tally) -> None:
    try:
        strategy = operation.as_strategy(generation_mode=mode)
    except Exception as error:  # noqa: BLE001 - whatever is the matter with a description, it is a finding
        tally.failures.append(f"{operation.label}: no cases: {error!r}")
        return
    chance = random.Random(f"{operation.label} {asker.name} {mode}")

    @seed(20260812)
    @settings(
        max_examples=number, phases=[Phase.generate], database=None, deadline=None,
        suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    @given(strategy)
    def one(case: Any) -> None:
        with transaction.atomic():
            _one(case, asker, chance, tally)
            transaction.set_rollback(True)

    one()


def _one(case: Any, asker: Asker, chance: random.Random, tally: Tally) -> None:
    _mean_something(case, asker, chance)
    writes = case.method != "GET"
    before = _facts(asker) if writes else None
    response = case.call()
    tally.statuses[response.status_code] += 1
    where = f"{asker.name}: {case.method} {case.formatted_path} {case.query or ''}"
    try:
        case.validate_response(response, checks=CHECKS)
    except (Failure, FailureGroup) as error:
        found = error.exceptions if isinstance(error, FailureGroup) else [error]
        tally.failures += [f"{where}: {one.title}: {one.message}" for one in found]
    sent = f"{case.formatted_path} {case.query} {json.dumps(case.body, default=str)}"
    told = f"{response.headers} {response.content.decode(errors='replace')}"
    tally.failures += [f"{where}: told {leak}" for leak in asker.leaks(sent, told)]
    if before is not None and _facts(asker) != before:
        tally.failures.append(f"{where}: wrote in a yard of somebody else")


def _facts(asker: Asker) -> list[Any]:
    """The counts in yards that are hidden from the asker, as they stand."""
    foreign = MiteSample.objects.exclude(yard__in=asker.keys.get("yards", []))
    return list(foreign.order_by("pk").values_list("pk", "voided_at"))


def _mean_something(case: Any, asker: Asker, chance: random.Random) -> None:
    case.cookies = {}
    case.headers = {name: value for name, value in (case.headers or {}).items() if name != "Authorization"}
    case.headers["Accept-Encoding"] = "identity"  # what is compressed is searched in vain
    if asker.program.word:
        case.headers["Authorization"] = f"Bearer {asker.program.word}"
    word = case.path.removeprefix("/api/v1/").split("/")[0]
    if "id" in (case.path_parameters or {}) and chance.random() < MEANT:
        case.path_parameters["id"] = _key(asker, word, chance)
    case.query = dict(case.query or {})
    for name in list(case.query):
        if name not in ("yard", "colony") and chance.random() < MEANT:
            del case.query[name]  # so many questions at once find nothing
        elif name in NAMED and chance.random() < MEANT:
            case.query[name] = _key(asker, NAMED[name], chance)
    if case.method == "POST":
        _mean_to_write(case, asker, chance)


def _mean_to_write(case: Any, asker: Asker, chance: random.Random) -> None:
    end = next(end for end in BODIES if case.path.endswith(end))
    if chance.random() < MEANT:
        body = dict(BODIES[end])
        if end == "counts/":
            body["colony"] = _key(asker, "colonies", chance)
        if isinstance(case.body, dict) and case.body and chance.random() < 0.5:
            name = chance.choice(sorted(case.body, key=str))
            body[name] = case.body[name]
        case.body = body
        case.media_type = "application/json"
    if chance.random() < MEANT:
        case.headers["Idempotency-Key"] = _key_of_version_7(chance)
    if "{id}" in case.path and chance.random() < MEANT:
        read = asker.program.ask(f"counts/{case.path_parameters['id']}/")
        if "ETag" in read:
            case.headers["If-Match"] = read["ETag"]


def _key(asker: Asker, word: str, chance: random.Random) -> int:
    """Mostly one that the asker may see; else one that is hidden, or that nobody has."""
    own, others = asker.keys.get(word, []), asker.others.get(word, [])
    if own and chance.random() < MEANT:
        return chance.choice(own)
    return chance.choice(others if others and chance.random() < MEANT else [10**9, 2**70])


def _key_of_version_7(chance: random.Random) -> str:
    bits = chance.getrandbits(128) & ~(0xF << 76 | 0b11 << 62)
    return str(uuid.UUID(int=bits | 7 << 76 | 0b10 << 62))


class InProcess(WSGIHandler):
    """The site, in this process and on the test's own connection, which a real server's requests would end."""

    def __call__(self, environ: Any, start_response: Any) -> Any:
        for signal in (request_started, request_finished):
            signal.disconnect(close_old_connections)  # again: Django's own test client brings it back
        return super().__call__(environ | {"REMOTE_ADDR": "127.0.0.1"}, start_response)
