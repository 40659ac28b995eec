"""Whose mail is next."""

import datetime as dt
from dataclasses import dataclass
from typing import Any

from django.db.models import BooleanField, Count, OuterRef, Subquery
from django.db.models.expressions import RawSQL
from django.db.models.functions import Coalesce

from reports.digests import due_digests
from reports.models import DigestAttempt

LATER = "(reports_digest.next_at, reports_digest.id) > (%s, %s)"


@dataclass
class Queue:
    """What is due at a moment, in order. It goes on after the last mail, and from the front once it met the end.

    While somebody holds an old snapshot, what was sent stays in the index as dead entries, all of them in front; a
    look from the front walks over them, so there is one such look in a run and not one for every mail.
    """

    at: dt.datetime
    after: tuple[dt.datetime, int] | None = None

    def next(self) -> Any:
        """The next mail that nobody else holds, locked, with how many tries of it `crashed`; None if none is due."""
        found = self._look()
        if found is None and self.after is not None:
            self.after = None
            found = self._look()
        if found is not None:
            self.after = found.next_at, found.pk
        return found

    def _look(self) -> Any:
        crashes = DigestAttempt.objects.filter(digest=OuterRef("pk"), outcome="").order_by().values("digest")
        crashed = Coalesce(Subquery(crashes.annotate(number=Count("pk")).values("number")), 0)
        due = due_digests(self.at).select_related("person").annotate(crashed=crashed)
        if self.after is not None:
            # As a row, which PostgreSQL can look up in the index; Django's own words for it would be an OR.
            due = due.filter(RawSQL(LATER, self.after, BooleanField()))  # noqa: S611  (a fixed text)
        return due.select_for_update(of=("self",), skip_locked=True).order_by("next_at", "pk").first()
