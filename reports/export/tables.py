"""What an export is made of: tables of columns, and how their rows come out of the database.

A table is one query, read with a cursor on the server: memory does not grow with its rows, nor does the number of
queries. Objects are told by keys that mean the same elsewhere (the code of a hive's label, the entry key of a count),
yards and heaters by their number in the file: no key of this database leaves it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from django.db.models import Case, IntegerField, QuerySet, Value, When

from apiaries.models import Person, Yard
from reports.export import cells
from reports.export.cells import CellKind
from treatments.models import Device

AT_ONCE = 2_000
"""Rows fetched from the server's cursor at a time."""
ANOTHER = " (another)"
NAMELESS = "(no name)"


class Scope:
    """Whose export it is, and the numbers that yards and heaters have in it."""

    def __init__(self, person: Person) -> None:
        self.person = person

    @cached_property
    def yards(self) -> dict[int, int]:
        """Number in the file by primary key: the person's own come first."""
        return {pk: number for number, pk in enumerate(self.yard_rows().values_list("pk", flat=True), 1)}

    @cached_property
    def exact(self) -> set[int]:
        """Yards whose exact place the person may see."""
        return set(Yard.objects.exact_place_visible_to(self.person).values_list("pk", flat=True))

    @cached_property
    def devices(self) -> dict[int, int]:
        """Number in the file of each of the person's heaters."""
        return {pk: number for number, pk in enumerate(self.device_rows().values_list("pk", flat=True), 1)}

    def yard_rows(self) -> QuerySet[Yard]:
        """Yards the person may see, own ones first."""
        own = Case(When(keeper=self.person, then=Value(0)), default=Value(1), output_field=IntegerField())
        return Yard.objects.visible_to(self.person).order_by(own, "pk")

    def device_rows(self) -> QuerySet[Device]:
        """The person's heaters, those put away among them."""
        return Device.objects.filter(keeper=self.person).order_by("pk")

    @property
    def own_words(self) -> str:
        """What stands where the person did something."""
        return self.person.name or NAMELESS

    def who(self, pk: int | None, name: str | None) -> str:
        """Somebody by name; another person of the reader's own name says so, to be told apart when it comes back."""
        if pk is None:
            return ""
        name = name or NAMELESS
        if pk != self.person.pk and name == self.own_words:
            return f"{name[:90]}{ANOTHER}"
        return name


Make = Callable[..., cells.Value]


@dataclass(frozen=True)
class Column:
    """One column: where it comes from, and what its cells say."""

    name: str
    kind: CellKind
    says: str
    paths: tuple[str, ...]
    make: Make | None = None
    comes_back: bool = True
    places: int = 0


@dataclass(frozen=True)
class Table:
    """One kind of thing. `lines` for what is no single query: tuples in the order of the columns."""

    name: str
    says: str
    columns: tuple[Column, ...]
    rows: Callable[[Scope], QuerySet[Any]] | None = None
    lines: Callable[[Scope], Iterator[tuple[cells.Value, ...]]] | None = None
    comes_back: bool = True

    @property
    def heading(self) -> list[str]:
        """Names of the columns, in order."""
        return [column.name for column in self.columns]

    def values(self, scope: Scope) -> Iterator[tuple[cells.Value, ...]]:
        """The rows that the person may see, as they stand in a file."""
        if self.lines is not None:
            return self.lines(scope)
        return values_of(self.columns, scope, self.rows(scope)) if self.rows else iter(())

    def count(self, scope: Scope) -> int | None:
        """How many rows there are; None where only reading them tells."""
        return self.rows(scope).count() if self.rows else None


def values_of(
    columns: Sequence[Column], scope: Scope, query: QuerySet[Any]
) -> Iterator[tuple[cells.Value, ...]]:
    """The cells of each row of a query, fetched a portion at a time."""
    paths = list(dict.fromkeys(path for column in columns for path in column.paths))
    place = {path: at for at, path in enumerate(paths)}
    readers = [(column.make, [place[path] for path in column.paths]) for column in columns]
    for row in query.values_list(*paths).iterator(chunk_size=AT_ONCE):
        yield tuple(
            make(scope, *(row[at] for at in found)) if make else row[found[0]] for make, found in readers
        )


def text(name: str, says: str, path: str | None = None, *, back: bool = True) -> Column:
    """A text as it was typed, or a word of a list."""
    return Column(name, CellKind.TEXT, says, (path or name,), comes_back=back)


def whole(name: str, says: str, path: str | None = None) -> Column:
    """A whole number."""
    return Column(name, CellKind.WHOLE, says, (path or name,))


def number(name: str, says: str, places: int) -> Column:
    """A number with so many decimal places at most."""
    return Column(name, CellKind.NUMBER, says, (name,), places=places)


def day(name: str, says: str) -> Column:
    """A calendar day."""
    return Column(name, CellKind.DAY, says, (name,))


def instant(name: str, says: str) -> Column:
    """A moment."""
    return Column(name, CellKind.INSTANT, says, (name,))


def yes_no(name: str, says: str) -> Column:
    """Yes or no."""
    return Column(name, CellKind.YES_NO, says, (name,))


def key(name: str, says: str, path: str | None = None) -> Column:
    """An opaque key that means the same on every server."""
    return Column(name, CellKind.KEY, says, (path or name,))


def who(name: str, says: str, path: str | None = None) -> Column:
    """A person, by name: no address of anybody leaves with an export."""
    path = path or name
    return Column(name, CellKind.TEXT, says, (f"{path}_id", f"{path}__name"), Scope.who)


def yard(name: str, says: str, path: str) -> tuple[Column, Column]:
    """A yard by its number in the file, and its name beside it; both empty where the person may not see it."""

    def number_of(scope: Scope, pk: int | None, _name: str) -> int | None:
        return scope.yards.get(pk) if pk is not None else None

    def name_of(scope: Scope, pk: int | None, found: str) -> str:
        return found if pk in scope.yards else ""

    paths = (f"{path}_id", f"{path}__name")
    return (
        Column(name, CellKind.WHOLE, says, paths, number_of),
        Column(f"{name}_name", CellKind.TEXT, "Its name.", paths, name_of, comes_back=False),
    )


def colony(name: str, says: str, path: str) -> tuple[Column, Column]:
    """A colony by the code of its hive's label, and its name beside it."""
    return (
        text(name, says, f"{path}__label_code"),
        text(f"{name}_name", "Its name.", f"{path}__name", back=False),
    )


def voided(verb: str = "voided") -> tuple[Column, ...]:
    """Who struck it through, when and why; empty while it stands."""
    return (
        instant(f"{verb}_at", f"When it was {verb}; empty while it stands."),
        who(f"{verb}_by", f"Who {verb} it."),
        text(f"{verb}_why", "The reason that was given."),
    )


def recorded() -> tuple[Column, Column]:
    """Who noted it, and when."""
    return instant("recorded_at", "When it was noted."), who("recorded_by", "Who noted it.")


def own(path: str = "keeper_id") -> Column:
    """Whether it is the person's own: only that can be brought back."""
    return Column(
        "yours",
        CellKind.YES_NO,
        "Whether you keep it: only that is brought back.",
        (path,),
        lambda scope, pk: pk == scope.person.pk,
    )
