"""A fact's past as a list for those who may see the fact: who, when, what was, what is, why.

Nothing is kept for it: it is read from the row history (`apiaries.row_history`) and told as the pages tell values.
"""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.db import models

from apiaries.language import mark, say
from apiaries.models import Person
from apiaries.row_history import Happening, Step, column_of, steps_of
from apiaries.telling import Field, Reader, Row, Told, facts, names, value_words

BY_ITSELF = mark("Recount itself")
BY_COMMAND = mark("a command of the operator")
BEFORE_HISTORY = mark("Noted before changes were kept")
NOT_GIVEN = mark("nothing")
NOT_KEPT = mark("not kept")
CHANGED = mark("another one, which is not shown")
HOW = {
    "added": mark("Noted"),
    "changed": mark("Changed"),
    "removed": mark("Taken away"),
    "was": BEFORE_HISTORY,
}


@dataclass(frozen=True, slots=True)
class FieldChange:
    """One thing that changed, in words. `was` is None where the row is new."""

    label: str
    was: str | None
    now: str


@dataclass(frozen=True, slots=True)
class RowChange:
    """One row of the fact, or several to which the same happened: `heading` says of which kind, `named` which ones."""

    heading: str
    named: tuple[str, ...]
    how: str
    fields: tuple[FieldChange, ...]

    @property
    def how_words(self) -> str:
        """Noted, changed or taken away."""
        return say(HOW[self.how])


@dataclass(frozen=True, slots=True)
class Change:
    """What one action did to the fact. `at` is None, and `by` empty, for what was there before history was kept."""

    at: dt.datetime | None
    by: str
    verb: str
    why: str
    rows: tuple[RowChange, ...]


@dataclass(frozen=True, slots=True)
class Past:
    """Newest first. `withheld`: something happened where the reader may not look, and is not told."""

    changes: list[Change]
    withheld: bool


def past_of_fact(kind: str, fact: Any, person: Person) -> Past:
    """The past of a fact that came through the gate of its kind. The number of queries is constant."""
    parts = facts.kinds[kind].parts(fact, person)
    steps = [step for part in parts for step in steps_of(part)]
    reader = Reader(person)
    reader.learn(_pointed_to(steps))
    seen = [step for step in steps if _sees(step, reader)]
    groups: dict[str, list[Step]] = {}
    for step in seen:
        groups.setdefault(step.happening.key if step.happening else "", []).append(step)
    # Python's sort keeps the order of what happened at one moment: that of the parts and of their rows.
    ordered = sorted(groups.values(), key=lambda group: _moment(group[0].happening))
    told = [_change(group, reader) for group in ordered]
    return Past([one for one in reversed(told) if one is not None], len(seen) < len(steps))


def _moment(happening: Happening | None) -> dt.datetime:
    return happening.at if happening else dt.datetime.min.replace(tzinfo=dt.UTC)


def _sees(step: Step, reader: Reader) -> bool:
    row = step.after or step.before
    return row is None or step.part.told.seen is None or step.part.told.seen(row, reader)


def _pointed_to(steps: Iterable[Step]) -> dict[type[models.Model], set[int]]:
    """Keys of everything that has a name and that some state of a row points to; people who did something."""
    found: dict[type[models.Model], set[int]] = {Person: set()}
    for step in steps:
        if step.happening and step.happening.by is not None:
            found[Person].add(step.happening.by)
        for column in _pointers(step.part.told.model):
            keys = {row[column.attname] for row in (step.before, step.after) if row} - {None}
            found.setdefault(column.related_model, set()).update(keys)
    return found


def _pointers(model: type[models.Model]) -> list[Any]:
    return [one for one in model._meta.concrete_fields if one.is_relation and one.related_model in names]


def _change(steps: list[Step], reader: Reader) -> Change | None:
    happening = steps[0].happening
    told = [_row(step, reader) for step in steps]
    rows = _together([row for row in told if row is not None])
    if not rows:
        return None
    if happening is None:
        return Change(None, "", say(BEFORE_HISTORY), "", rows)
    why = next((why for step in steps if (why := _why(step))), happening.why)
    verb = facts.verbs.get(happening.verb, HOW[rows[0].how])
    return Change(
        happening.at.astimezone(reader.zone), _by(happening, reader), say(verb), facts.reason(why), rows
    )


def _by(happening: Happening, reader: Reader) -> str:
    if happening.by is not None:
        return reader.name(Person, happening.by)
    itself = not happening.was_action or happening.verb in facts.by_itself
    return say(BY_ITSELF if itself else BY_COMMAND)


def _why(step: Step) -> str:
    """The reason in the row's own column, where this step wrote it."""
    return next(
        (
            step.after[name]
            for name in step.part.told.why
            if step.after and step.after[name] and step.after[name] != (step.before or {}).get(name)
        ),
        "",
    )


def _row(step: Step, reader: Reader) -> RowChange | None:
    told, row = step.part.told, step.after or step.before
    if step.happening is None:
        how = "was"
    elif step.after is None:
        how = "removed"
    else:
        how = "added" if step.before is None and step.known else "changed"
    changes = tuple(
        change
        for name, field in told.fields.items()
        if name not in step.part.without and (change := _field(told, name, field, step, reader)) is not None
    )
    named = told.named(row, reader) if told.named and row else ""
    if not changes and (how == "changed" or not named) and not (how == "was" and not told.heading):
        return None
    return RowChange(say(told.heading), (named,) if named else (), how, changes)


def _field(told: Told, name: str, field: Field, step: Step, reader: Reader) -> FieldChange | None:
    """How one column changed; None where it did not, or where there is nothing to tell."""
    before, after = step.before, step.after
    if after is None:
        return None
    columns = [column_of(told.model, one).attname for one in (name, *field.also)]
    now = _words(told, name, field, after, reader)
    if before is None and step.known or step.happening is None:
        return FieldChange(say(field.label), None, now) if now else None
    if before is None:
        return FieldChange(say(field.label), say(NOT_KEPT), now or say(NOT_GIVEN))
    if all(before[one] == after[one] for one in columns):
        return None
    was = _words(told, name, field, before, reader)
    if was == now:
        now = say(CHANGED)
    return FieldChange(say(field.label), was or say(NOT_GIVEN), now or say(NOT_GIVEN))


def _words(told: Told, name: str, field: Field, row: Row, reader: Reader) -> str:
    column = column_of(told.model, name)
    value = row[column.attname]
    if field.told is not None:
        return field.told(value, row, reader)
    return value_words(column, value, row, reader)


def _together(rows: list[RowChange]) -> tuple[RowChange, ...]:
    """Rows of one kind to which the same happened become one, with all their names."""
    found: dict[tuple[str, str, tuple[FieldChange, ...]], RowChange] = {}
    for row in rows:
        key = (row.heading, row.how, row.fields)
        earlier = found.get(key)
        named = earlier.named + row.named if earlier else row.named
        found[key] = RowChange(row.heading, named, row.how, row.fields)
    return tuple(found.values())
