"""Carries out the wishes to be forgotten whose days are over: what the schedule does, and whoever waits for nothing."""

import datetime as dt
import logging

from apiaries.actions import (
    LastAdministrator,
    NotOpen,
    due_leavings,
    forget_person,
    look_once_more,
    unlooked,
)
from apiaries.forgetting.journal import JournalUnwritable

logger = logging.getLogger(__name__)


def forget_due(*, at: dt.datetime) -> int:
    """How many were forgotten. One that cannot be stays due, is named in the log by its key, and stops no other."""
    done = 0
    for leaving in due_leavings(at=at):
        try:
            forget_person(leaving=leaving, at=at)
        except NotOpen:
            continue  # called off or done meanwhile
        except LastAdministrator as club:
            logger.error("leaving %s waits: %s would be without an administrator", leaving.pk, club)
        except JournalUnwritable as error:
            logger.error("leaving %s waits: the erasure journal cannot be written: %s", leaving.pk, error)
        else:
            done += 1
    for leaving in unlooked(at=at):
        look_once_more(leaving=leaving, at=at)
    return done
