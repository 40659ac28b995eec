"""What every action shares: one transaction, and who did it kept beside every row that changed."""

import datetime as dt
from collections.abc import Callable, Mapping
from contextvars import ContextVar
from functools import wraps
from typing import Any, TypeVar

import pghistory
import pgtrigger
from django.db import models, transaction

Function = TypeVar("Function", bound=Callable[..., object])
Model = TypeVar("Model", bound=type[models.Model])


ACTIONS: dict[str, str] = {}
"""The verbs of all actions that were loaded, which are the names of their functions, and the modules these are in."""
_outer: ContextVar[Mapping[str, Any] | None] = ContextVar("outer action", default=None)


def action(function: Function) -> Function:
    """Wrap a writer: all or nothing, with who, the verb, the moment and the reason stored in the row history.

    They are its arguments `by`, `at` and `why`, as far as it has them. Where one action calls another, the outer
    one is what the person did: the inner one only adds what the outer one did not say.
    """
    ACTIONS[function.__name__] = function.__module__

    @wraps(function)
    def wrapped(*args: object, **kwargs: object) -> object:
        outer = _outer.get() or {}
        told = {name: value for name, value in _told(function, kwargs).items() if outer.get(name) is None}
        token = _outer.set({**outer, **told})
        try:
            with transaction.atomic(), pghistory.context(**told):
                return function(*args, **kwargs)
        finally:
            _outer.reset(token)

    return wrapped  # type: ignore[return-value]


def _told(function: Callable[..., object], kwargs: Mapping[str, object]) -> dict[str, Any]:
    by, at, why = (kwargs.get(name) for name in ("by", "at", "why"))
    told = {"by": getattr(by, "pk", None), "verb": function.__name__}
    if isinstance(at, dt.datetime):
        told["at"] = at.isoformat()
    if isinstance(why, str) and why.strip():
        told["why"] = why.strip()
    return told


def keeps_history(model: Model) -> Model:
    """Decorate a model: every insert, update and delete leaves a row in its history table."""
    return keeps_history_without()(model)


def keeps_history_without(*secrets: str) -> Callable[[Model], Model]:
    """The same, but the named columns are not copied: what must not live on in a history.

    Statement-level triggers: a batch of 20,000 rows costs about a sixth more instead of half as much again.
    """
    track: Callable[[Model], Model] = pghistory.track(
        pghistory.InsertEvent(),
        pghistory.UpdateEvent(),
        pghistory.DeleteEvent(),
        exclude=list(secrets) or None,
        level=pgtrigger.Statement,
    )
    return track


def keeps_history_of_pairs(model: Model) -> Model:
    """Decorate the proxy of what ties two models together: every pair made or undone leaves a row."""
    track: Callable[[Model], Model] = pghistory.track(
        pghistory.InsertEvent(), pghistory.DeleteEvent(), obj_field=None, level=pgtrigger.Statement
    )
    return track(model)
