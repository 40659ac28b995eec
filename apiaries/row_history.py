"""What happened to rows, read from the history that the database keeps: one step for each row and action."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.apps import apps
from django.db import connection, models

from apiaries.telling import Part, Row


@dataclass(frozen=True, slots=True)
class Happening:
    """What one action (or one transaction without any) left in the history. `by` is a key of a person."""

    key: str
    at: dt.datetime
    verb: str = ""
    by: int | None = None
    why: str = ""

    @property
    def was_action(self) -> bool:
        """Whether it came through an action; what did not was done by the service itself."""
        return bool(self.verb)


@dataclass(frozen=True, slots=True)
class Step:
    """One row, or one story of rows, before and after a happening. None: it was not there.

    `known`: whether the history knows what was before. No happening: it was there when the history began.
    """

    part: Part
    happening: Happening | None
    before: Row | None
    after: Row | None
    known: bool = True


def steps_of(part: Part) -> list[Step]:
    """All steps of a part's rows, in the order in which they happened. Two queries."""
    by_key = _has_object(event_model(part.told.model))
    stories: dict[tuple[Any, ...], list[Any]] = {}
    seen, whole = set(), set()
    for event in _events(part).order_by("pgh_id"):
        story = _story(part, row_of(event))
        stories.setdefault(story, []).append(event)
        seen.add(event.pgh_obj_id if by_key else story)
        if _begins(event):
            whole.add(event.pgh_obj_id if by_key else story)
    first = []
    for row in part.told.model._base_manager.filter(**part.which).order_by("pk"):
        key = row.pk if by_key else _story(part, row_of(row))
        if key not in whole:
            first.append(Step(part, None, None, None if key in seen else row_of(row), known=False))
    return first + [step for events in stories.values() for step in _steps(part, events)]


def row_of(row: models.Model) -> Row:
    """The columns of a row, or of what the history kept of it, by their names in the database."""
    return {column.attname: getattr(row, column.attname) for column in row._meta.concrete_fields}


def column_of(model: type[models.Model], name: str) -> Any:
    """The column of that name."""
    return model._meta.get_field(name)


def event_model(model: type[models.Model]) -> type[models.Model]:
    """The table in which the history of `model` is kept."""
    return apps.get_model(model._meta.app_label, f"{model.__name__}Event")


def chain_of(model: type[models.Model], pk: int) -> set[int]:
    """Keys of the row, of all that it corrects and of all that correct it. One query."""
    table = connection.ops.quote_name(model._meta.db_table)
    sql = (
        f"WITH RECURSIVE made_of_one(id, corrects_id) AS ("  # noqa: S608  (the table is a model's)
        f" SELECT id, corrects_id FROM {table} WHERE id = %s UNION"
        f" SELECT other.id, other.corrects_id FROM {table} other JOIN made_of_one one"
        f" ON other.id = one.corrects_id OR other.corrects_id = one.id"
        f") SELECT id FROM made_of_one"
    )
    with connection.cursor() as cursor:
        cursor.execute(sql, [pk])
        return {key for (key,) in cursor.fetchall()}


def _events(part: Part) -> "models.QuerySet[Any]":
    kept = event_model(part.told.model)._base_manager.select_related("pgh_context")
    by_key = _has_object(kept.model)
    which = {
        f"pgh_obj{name[2:]}" if by_key and name.startswith("pk") else name: value
        for name, value in part.which.items()
    }
    return kept.filter(**which)


def _has_object(events: type[models.Model]) -> bool:
    """Whether the history knows the key of the row; of a pair it knows only the two."""
    return any(one.name == "pgh_obj" for one in events._meta.fields)


def _story(part: Part, row: Row) -> tuple[Any, ...]:
    return tuple(row[name] for name in part.told.story)


def _begins(event: Any) -> bool:
    return bool(event.pgh_label == "insert")


def _steps(part: Part, events: list[Any]) -> Iterator[Step]:
    """Events of one story: those of one happening become one step."""
    before: Row | None = None
    known, group = _begins(events[0]), [events[0]]
    for event in [*events[1:], None]:
        if event is not None and _happening(event).key == _happening(group[-1]).key:
            group.append(event)
            continue
        last = group[-1]
        after = None if last.pgh_label == "delete" else row_of(last)
        yield Step(part, _happening(last), before, after, known)
        before, known = after, True
        group = [event]


def _happening(event: Any) -> Happening:
    context = event.pgh_context
    told = context.metadata if context is not None else {}
    at = dt.datetime.fromisoformat(told["at"]) if told.get("at") else event.pgh_created_at
    key = str(context.pk) if context is not None else event.pgh_created_at.isoformat()
    return Happening(key, at, told.get("verb") or "", told.get("by"), told.get("why") or "")
