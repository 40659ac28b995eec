"""What other apps may hear of this one without it knowing them (the layers point one way)."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.db import connection
from django.dispatch import Signal

samples_changed = Signal()
"""Sent by `tell_samples_changed` alone. Arguments: touched, a frozenset of (yard id, first of month)."""


@dataclass(frozen=True, slots=True)
class ToWrite:
    """What follows in another app, as a statement that gives nothing back. A receiver may answer with one."""

    statement: str
    parameters: Sequence[Any]


def tell_samples_changed(sender: type, touched: frozenset[tuple[int, dt.date]]) -> None:
    """Say so inside the transaction that changed samples, their yards held, and write what follows from it.

    All of it goes to the database in one message: every count waits for each answer.
    """
    answers: list[Any] = [answer for _, answer in samples_changed.send(sender, touched=touched)]
    follows = [one for one in answers if isinstance(one, ToWrite)]
    if follows:
        with connection.cursor() as cursor:
            cursor.execute(
                ";\n".join(one.statement for one in follows),
                [parameter for one in follows for parameter in one.parameters],
            )
