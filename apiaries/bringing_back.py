"""What actions share that write a past down again: rows of a file, the people named in it, and where a row is wrong.

A file is somebody's word. What it says goes into the yards of whoever brings it in and nowhere else, and nobody who
has an account here is made to have done something: whom the file names, and who is not the one who brings it, is kept
by name alone.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeVar

from django.core.exceptions import ValidationError
from django.db import DataError, IntegrityError, connection, models, transaction

from apiaries.language import mark, say
from apiaries.models import Person
from apiaries.second_lock import by_the_service

Kept = TypeVar("Kept", bound=models.Model)
NO_ADDRESS = "elsewhere.invalid"
"""No mail can be sent to it: RFC 2606, section 2."""
AT_ONCE = 500
MOST_PEOPLE = 500
"""Names in one file: those who worked with one keeper's bees (our choice)."""

REFUSALS = {
    "apiaries_yard_name_unique_for_keeper": mark(
        "You keep an open yard of this name already. Rename that one first."
    ),
    "apiaries_colony_name_unique_in_yard": mark("Another living colony of this yard has this name."),
    "apiaries_colony_ends_after_start": mark("It ends before it begins."),
    "counts_sample_not_in_the_future": mark("It was counted after it was noted."),
    "treatments_dose_not_twice_at_once": mark(
        "A colony has this ingredient in it already on one of these days."
    ),
}
CONTRADICTS = mark("This row contradicts itself, or another row.")


@dataclass(frozen=True)
class FileRow:
    """A row of a table: its number as the file counts, and its cells by column, read already."""

    table: str
    number: int
    cells: Mapping[str, Any]

    def __getitem__(self, column: str) -> Any:
        return self.cells[column]

    def only(self, *columns: str) -> dict[str, Any]:
        """Some of its cells, by the names of a model's fields."""
        return {column: self.cells[column] for column in columns}


class CannotBringBack(ValueError):
    """A row cannot be: the message says why, `row` and `column` where."""

    def __init__(self, row: FileRow, why: str, column: str = "") -> None:
        super().__init__(why)
        self.row, self.column = row, column


@dataclass
class People:
    """Whom a file names. `own_words` is how it names the one whose file it is, who is `person` here."""

    person: Person
    own_words: str
    _known: dict[str, Person] = field(default_factory=dict)

    def named(self, words: str) -> Person | None:
        """The person; None where nobody is named. Made once for each name, without an address and for no sign-in."""
        words = words.strip()
        if not words or words == self.own_words:
            return self.person if words else None
        if words[:100] not in self._known:
            self._meet([words[:100]])
        return self._known[words[:100]]

    def meet(self, rows: Sequence[FileRow], columns: Sequence[str]) -> None:
        """All whom these cells name, at once. Errors: CannotBringBack at the first name that is too many."""
        names: dict[str, None] = {}
        for row in rows:
            for column in columns:
                words = row[column].strip()
                if words and words != self.own_words and words[:100] not in self._known:
                    names[words[:100]] = None
                if len(self._known) + len(names) > MOST_PEOPLE:
                    raise CannotBringBack(
                        row, say("The file names more than {most} people.", most=MOST_PEOPLE), column
                    )
        self._meet(list(names))

    def _meet(self, names: Sequence[str]) -> None:
        here = Person.objects.filter(known_to=self.person, name__in=names).order_by("-pk")
        found = {person.name: person for person in here}
        made = [self._made(name) for name in names if name not in found]
        self._known |= found | {person.name: person for person in Person.objects.bulk_create(made)}

    def _made(self, name: str) -> Person:
        person = Person(
            email=f"{uuid.uuid4().hex}@{NO_ADDRESS}",
            name=name,
            known_to=self.person,
            is_active=False,
            wants_mail=False,
            wants_calls=False,
            wants_bulletins=False,
        )
        person.set_unusable_password()
        return person

    def by(self, row: FileRow, *verbs: str) -> dict[str, Any]:
        """Who and when of each verb, and of others than "recorded" why, as the fields of a model."""
        told: dict[str, Any] = {}
        for verb in verbs:
            told[f"{verb}_at"] = row[f"{verb}_at"]
            told[f"{verb}_by"] = self.named(row[f"{verb}_by"])
            if f"{verb}_why" in row.cells:
                told[f"{verb}_why"] = row[f"{verb}_why"]
        return told


def by_key(rows: Sequence[FileRow], column: str) -> dict[Any, FileRow]:
    """Rows by their key. Errors: CannotBringBack for an empty key, or one that two rows have."""
    found: dict[Any, FileRow] = {}
    for row in rows:
        if row[column] in (None, ""):
            raise CannotBringBack(row, say("This cell is empty."), column)
        if row[column] in found:
            raise CannotBringBack(row, say("Another row has this key."), column)
        found[row[column]] = row
    return found


def found_in(known: Mapping[Any, Kept], row: FileRow, column: str) -> Kept:
    """What a cell points at. Errors: CannotBringBack if nothing in the file has that key."""
    found = known.get(row[column])
    if found is None:
        raise CannotBringBack(row, say("No row of this file that is yours has this key."), column)
    return found


@by_the_service  # also of rows that the reader may not have: one key is one row on the whole server
def refuse_known(model: type[models.Model], rows: Mapping[Any, FileRow], column: str = "entry_key") -> None:
    """What is on this server under its key already is not brought in a second time."""
    keys = list(rows)
    for start in range(0, len(keys), AT_ONCE):
        here = model._default_manager.filter(**{f"{column}__in": keys[start : start + AT_ONCE]})
        taken = here.values_list(column, flat=True).first()
        if taken is not None:
            raise CannotBringBack(rows[taken], say("This is on this server already."), column)


def refuse_circles(rows: Mapping[Any, FileRow], column: str = "corrects") -> None:
    """Rows may each stand in the place of another one, but none, by way of others, in its own.

    Errors: CannotBringBack for a row of such a circle.
    """
    done: set[Any] = set()
    for key in rows:
        path: dict[Any, None] = {}
        at = key
        while at in rows and at not in done:
            if at in path:
                raise CannotBringBack(rows[at], say(CONTRADICTS), column)
            path[at] = None
            at = rows[at][column]
        done.update(path)


def fresh_keys(model: type[models.Model], number: int) -> list[int]:
    """So many new primary keys in rising order: rows that point at each other can be written at once."""
    sql = "SELECT nextval(pg_get_serial_sequence(%s, %s)) FROM generate_series(1, %s)"
    with connection.cursor() as cursor:
        cursor.execute(sql, [model._meta.db_table, model._meta.pk.column, number])
        return sorted(key for (key,) in cursor.fetchall())


def keep_all(
    rows: Sequence[FileRow], make: Callable[[FileRow], Kept], renamed: Mapping[str, str] | None = None
) -> list[Kept]:
    """Make an object of each row and write all of them. `renamed`: columns by the fields that are called otherwise.

    Errors: CannotBringBack names the first row that cannot be, and why.
    """
    made: list[Kept] = []
    for row in rows:
        one = make(row)
        columns = {found.name: (renamed or {}).get(found.name, found.name) for found in one._meta.fields}
        pointers = [found.name for found in one._meta.fields if found.is_relation]
        worked_out = [name for name, column in columns.items() if column not in row.cells]
        try:
            one.clean_fields(exclude=[*pointers, *worked_out])
        except ValidationError as error:
            name, words = next(iter(error.message_dict.items()))
            raise CannotBringBack(row, " ".join(words), columns[name]) from error
        _refuse_missing(one, row, pointers)
        made.append(one)
    if made:
        _write(rows, made)
    return made


def _refuse_missing(one: models.Model, row: FileRow, pointers: Sequence[str]) -> None:
    """A row that says nobody where somebody must stand."""
    for name in pointers:
        found = one._meta.get_field(name)
        if not found.null and getattr(one, f"{name}_id") is None:
            raise CannotBringBack(row, say("This cell is empty."), name)


def _write(rows: Sequence[FileRow], made: Sequence[Kept]) -> None:
    model = type(made[0])
    try:
        with transaction.atomic():
            model._default_manager.bulk_create(made, batch_size=AT_ONCE)
    except (IntegrityError, DataError):
        _name_the_row(rows, made)
        raise


def _name_the_row(rows: Sequence[FileRow], made: Sequence[Kept]) -> None:
    """All at once names no row; halving does: a half that can be written stays until the row is found."""
    first, last = 0, len(made)
    with transaction.atomic():
        while last - first > 1:
            middle = (first + last) // 2
            if _refused(made[first:middle]) is None:
                first = middle
            else:
                last = middle
        error = _refused(made[first:last])
        transaction.set_rollback(True)
    if error is not None:
        raise CannotBringBack(rows[first], refusal_words(str(error))) from error


def _refused(made: Sequence[models.Model]) -> Exception | None:
    try:
        with transaction.atomic():
            type(made[0])._default_manager.bulk_create(made, batch_size=AT_ONCE)
    except (IntegrityError, DataError) as error:
        return error
    return None


def refusal_words(told: str) -> str:
    """A refusal of PostgreSQL as a sentence; what is not foreseen says that the row contradicts itself."""
    return say(next((words for name, words in REFUSALS.items() if name in told), CONTRADICTS))
