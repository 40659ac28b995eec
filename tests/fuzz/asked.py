"""A world whose keys are told apart from any other number, and whom each of its people may see, written by hand."""

import datetime as dt
import re
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from django.db import connection

from apiaries.actions import add_numbered_colonies, add_region, add_yard, set_sharing
from apiaries.api.scopes import Scope
from apiaries.models import Colony, Person, Region, Yard
from counts.models import MiteSample
from tests.api_asking import Program
from tests.cast import STARTED, Cast, make_cast
from tests.counts.counting import kept
from tests.treatments.making import AFTER, BEFORE, jar, treat
from treatments.models import Treatment

KINDS: dict[str, Any] = {
    "yards": Yard,
    "colonies": Colony,
    "counts": MiteSample,
    "treatments": Treatment,
    "regions": Region,
}
"""By the word in the address."""
FIRST_KEY = 7_100_001
"""Keys of each kind begin a hundred thousand apart from here, so that a key in an answer is no count of mites."""
KEY = re.compile(r"\d{7,}")
SECRETS = {"alice": "Lindenduft", "charlie": "Rapsgold", "zoe": "Heidekraut"}
"""A word in the notes of each keeper."""


@dataclass
class Asker:
    """Somebody who asks: their program, the keepers whose bees they see, and the clubs whose regions they know."""

    name: str
    program: Program
    keepers: tuple[str, ...] = ()
    club: str = ""
    keys: dict[str, list[int]] = field(default_factory=dict)
    """What they may see, by kind."""
    others: dict[str, list[int]] = field(default_factory=dict)
    """What they may not, by kind."""
    secrets: tuple[str, ...] = ()

    @cached_property
    def hidden(self) -> frozenset[int]:
        return frozenset(key for keys in self.others.values() for key in keys)

    def leaks(self, sent: str, answer: str) -> list[str]:
        """Keys and words in an answer that are not for them, but for those they sent themselves."""
        found = {key for key in KEY.findall(answer) if int(key) in self.hidden and key not in sent}
        found |= {word for word in (*self.secrets, "@example.org") if word in answer and word not in sent}
        return sorted(found)


def make_askers() -> dict[str, Asker]:
    """Alice and Charlie of one club and Zoe of another, each with bees, counts and treatments of their own."""
    _begin_keys()
    cast = make_cast()
    region = add_region(club=cast.zoe.membership.club, name="Far", by=cast.zoe)
    yard = add_yard(keeper=cast.zoe, region=region, name="Far yard", by=cast.zoe)
    add_numbered_colonies(yard=yard, first=1, last=3, started_on=STARTED, by=cast.zoe)
    for name in SECRETS:
        _keeps_bees(getattr(cast, name), SECRETS[name])
    set_sharing(membership=cast.charlie.memberships.get(), shares_counts=True, by=cast.charlie)
    return {asker.name: _with_keys(asker, cast) for asker in _askers(cast)}


def _askers(cast: Cast) -> list[Asker]:
    """Written by hand: shares no code with who may see what."""
    return [
        Asker("member", Program(cast.alice), ("alice",), "Test club"),
        Asker("helper", Program(cast.bob), ("alice",), "Test club"),
        Asker("coordinator", Program(cast.dana), ("charlie",), "Test club"),
        Asker("inspector", Program(cast.ines), ("alice",), "Test club"),
        Asker("administrator", Program(cast.adam), (), "Test club"),
        Asker("of another club", Program(cast.zoe), ("zoe",), "Another club"),
        Asker("with few scopes", Program(cast.alice, Scope.YARDS_READ.value), ("alice",), "Test club"),
        Asker("nobody", Program(None)),
    ]


def _keeps_bees(keeper: Person, secret: str) -> None:
    colonies = list(Colony.objects.filter(yard__keeper=keeper).select_related("yard").order_by("pk"))
    for colony in colonies:
        kept(colony, keeper, 4, sampled_on=dt.date(2026, 7, 1), note=secret)
    treat(colonies[:2], note=secret)
    for colony in colonies[:2]:
        jar(colony, BEFORE, 20)
        jar(colony, AFTER, 1)


def _with_keys(asker: Asker, cast: Cast) -> Asker:
    keepers = {name: getattr(cast, name) for name in SECRETS}
    for word, model in KINDS.items():
        path = {"yards": "keeper", "regions": "club__name"}.get(word, "yard__keeper")
        wanted: list[Any] = [asker.club] if word == "regions" else [keepers[name] for name in asker.keepers]
        seen = set(model.objects.filter(**{f"{path}__in": wanted}).values_list("pk", flat=True))
        asker.keys[word] = sorted(seen)
        asker.others[word] = sorted(set(model.objects.values_list("pk", flat=True)) - seen)
    asker.secrets = tuple(word for name, word in SECRETS.items() if name not in asker.keepers)
    return asker


def _begin_keys() -> None:
    with connection.cursor() as cursor:
        for place, model in enumerate(KINDS.values()):
            # Never back: the rows of the cast that other tests write again have their keys from this very sequence.
            cursor.execute(
                "SELECT setval(name, greatest(nextval(name), %s), false) FROM pg_get_serial_sequence(%s, 'id') AS name",
                [FIRST_KEY + place * 100_000, model._meta.db_table],
            )
