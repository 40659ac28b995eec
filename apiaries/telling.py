"""How the rows of a table are told when somebody asks what changed: labels, values, and what a reader may see.

Each app says it for its own tables (`told.py` of that app) and registers it when it is loaded.
"""

import datetime as dt
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from django.db import models
from django.db.backends.postgresql.psycopg_any import DateRange

from apiaries.language import figure, say
from apiaries.models import Person
from apiaries.templatetags.recount_words import day, day_and_time, plain
from apiaries.zones import zone_of

Row = Mapping[str, Any]
"""One state of a row: its columns by the names the database has for them (`yard_id`)."""


@dataclass(frozen=True, slots=True)
class Named:
    """What rows of a table are called for a reader: in one query, however many; `hidden` for those not seen."""

    query: Callable[[Person, Collection[int]], Iterable[tuple[int, str]]]
    hidden: str


class Reader:
    """Who reads, on which clock, and what the rows that others point to are called for them."""

    def __init__(self, person: Person) -> None:
        self.person, self.zone = person, zone_of(person.time_zone)
        self._names: dict[type[models.Model], dict[int, str]] = {}

    def learn(self, wanted: Mapping[type[models.Model], set[int]]) -> None:
        """Look up what these are called: one query for each table."""
        for model, keys in wanted.items():
            self._names[model] = dict(names[model].query(self.person, keys)) if keys else {}

    def sees(self, model: type[models.Model], key: int | None) -> bool:
        """Whether the row has a name for this reader; it was learnt before."""
        return key in self._names.get(model, {})

    def name(self, model: type[models.Model], key: int | None) -> str:
        """Its name, or words that it is one the reader cannot see."""
        found = self._names.get(model, {}).get(key) if key is not None else None
        return found if found is not None else say(names[model].hidden)


Teller = Callable[[Any, Row, Reader], str]


@dataclass(frozen=True, slots=True)
class Field:
    """One column. `also`: other columns that its words speak of. `told`: its words, if the usual ones will not do."""

    label: str
    told: Teller | None = None
    also: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Told:
    """How rows of a table are told.

    `left_out`: columns that are not told, each with the reason. `why`: columns that hold somebody's reason.
    `story`: columns that say which rows are one story; none: all of them together. `seen`: whether a reader may see
    what the row said then.
    """

    model: type[models.Model]
    fields: Mapping[str, Field]
    left_out: Mapping[str, str]
    heading: str = ""
    named: Callable[[Row, Reader], str] | None = None
    why: tuple[str, ...] = ()
    story: tuple[str, ...] = ("id",)
    seen: Callable[[Row, Reader], bool] | None = None


@dataclass(frozen=True, slots=True)
class Part:
    """Rows that belong to a fact: which, and columns that this reader is not told."""

    told: Told
    which: Mapping[str, Any]
    without: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class FactKind:
    """A kind of fact whose past can be asked for. `gate` lets nobody through who may not see the fact itself."""

    key: str
    gate: Callable[[Person, int], Any]
    parts: Callable[[Any, Person], list[Part]]
    title: Callable[[Any, Person], str]
    back: Callable[[Any, Person], str]


@dataclass
class Kinds:
    """All kinds, by their keys; what actions are called, by their verbs."""

    kinds: dict[str, FactKind] = field(default_factory=dict)
    tables: list[Told] = field(default_factory=list)
    verbs: dict[str, str] = field(default_factory=dict)
    by_itself: set[str] = field(default_factory=set)
    own_reasons: list[Callable[[str], str]] = field(default_factory=list)

    def register(
        self, *, kinds: Iterable[FactKind], tables: Iterable[Told], verbs: Mapping[str, str]
    ) -> None:
        """What an app brings along."""
        self.kinds |= {kind.key: kind for kind in kinds}
        self.tables += [one for one in tables if one not in self.tables]
        self.verbs |= verbs

    def reason(self, why: str) -> str:
        """A reason as it was typed; one that the service gave itself in the reader's language."""
        for words in self.own_reasons:
            why = words(why)
        return why


facts = Kinds()
names: dict[type[models.Model], Named] = {}


def value_words(column: models.Field, value: Any, row: Row, reader: Reader) -> str:
    """A value as pages show it; empty for what is not given."""
    if value is None or value == "" or value == []:
        return ""
    if isinstance(column, models.ForeignKey):
        return reader.name(column.related_model, value)
    if isinstance(value, bool):
        return say("yes") if value else say("no")
    if column.choices:
        return str(dict(column.flatchoices).get(value, value))
    if isinstance(value, dt.datetime):
        return day_and_time(value.astimezone(reader.zone))
    if isinstance(value, dt.date):
        return day(value)
    if isinstance(value, dt.time):
        return f"{value:%H:%M}"
    if isinstance(value, DateRange):
        return _range_words(value)
    if isinstance(value, Decimal | float):
        return plain(value)
    if isinstance(value, int):
        return figure(f"{value:,}")
    return str(value)


def _range_words(days: DateRange) -> str:
    """The days of a range whose upper end is the day after the last one."""
    if days.lower is None or days.upper is None:
        return ""
    last = days.upper - dt.timedelta(days=1)
    if last == days.lower:
        return day(last)
    return say("{first} to {last}", first=day(days.lower), last=day(last))
