"""The region pages' figures from a replica of the database, where there is one (REPLICA_DATABASE_URL).

Only figures that say "as of" are read there, and only while a page asks for it: whatever decides what somebody may do,
and all that is written, stays with the primary. A replica that fell behind or is gone costs nobody a page: the same
page is drawn from the primary.
"""

import datetime as dt
import logging
import time
from collections.abc import Callable
from contextvars import ContextVar
from functools import wraps
from typing import Any

from django.conf import settings
from django.core.exceptions import MiddlewareNotUsed
from django.db import DEFAULT_DB_ALIAS, Error, InterfaceError, OperationalError, models
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

REPLICA = "replica"
FIGURES = frozenset(
    f"reports_{name}"
    for name in ("areamonth", "publication", "regionedition", "regionmonth", "regionmonthmark")
)
"""What may be some minutes behind, for its pages say how old it is."""

PINNED_FOR = 10
"""Seconds for which whoever changed something reads from the primary: they look for what they did."""
WROTE = "recount-wrote"
"""A cookie, so that every web host knows it and no row is written for it. Without it somebody merely sees later."""

MOST_BEHIND = dt.timedelta(minutes=3)
"""The planner leaves a beat each minute; one that is older there was held up on its way, or nothing runs at all."""
ASKED_EACH = 15
"""Seconds between two looks at the replica, in each process."""

logger = logging.getLogger(__name__)
_reading: ContextVar[bool] = ContextVar("reading figures from the replica", default=False)
_looked: dict[str, tuple[float, bool]] = {}

View = Callable[..., HttpResponse]


class Router:
    """Figures from the replica while a page of `may_lag` is drawn; everything else from the primary."""

    def db_for_read(self, model: type[models.Model], **_: Any) -> str:
        # Said for every model: else Django would ask where the object beside it came from.
        return REPLICA if _reading.get() and model._meta.db_table in FIGURES else DEFAULT_DB_ALIAS

    def db_for_write(self, model: type[models.Model], **_: Any) -> str:
        return DEFAULT_DB_ALIAS

    def allow_relation(self, one: models.Model, other: models.Model, **_: Any) -> bool:
        return True  # both are the same database, at two moments

    def allow_migrate(self, db: str, app_label: str, **_: Any) -> bool:
        return db == DEFAULT_DB_ALIAS


def may_lag(view: View) -> View:
    """A view that only reads, and says how old its figures are. It may be drawn twice: if the replica ends in the
    middle, from the primary."""

    @wraps(view)
    def answer(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if REPLICA not in settings.DATABASES or WROTE in request.COOKIES or not _is_well():
            return view(request, *args, **kwargs)
        reading = _reading.set(True)
        try:
            return view(request, *args, **kwargs)
        except (InterfaceError, OperationalError):
            # Also a query that the replica ended because it held up what arrives from the primary.
            logger.warning("The replica did not answer; its page was drawn from the primary.")
            _looked[REPLICA] = time.monotonic(), False
        finally:
            _reading.reset(reading)
        return view(request, *args, **kwargs)

    return answer


def remember_writes(get_response: View) -> View:
    """Middleware: whoever sent something reads from the primary for some seconds."""
    if REPLICA not in settings.DATABASES:
        raise MiddlewareNotUsed

    def answer(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        if request.method not in ("GET", "HEAD", "OPTIONS", "TRACE"):
            secure = settings.SESSION_COOKIE_SECURE
            response.set_cookie(WROTE, "1", max_age=PINNED_FOR, httponly=True, secure=secure, samesite="Lax")
        return response

    return answer


def behind(*, at: dt.datetime) -> dt.timedelta | None:
    """How old the planner's last beat is there; None if it has none. Raises a database error if it does not answer."""
    from reports.models import Heartbeat  # this module is named by the settings, before any model is

    last = Heartbeat.objects.using(REPLICA).order_by("-at").values_list("at", flat=True).first()
    return None if last is None else at - last


def _is_well() -> bool:
    """Whether the replica answered and followed when this process last looked."""
    looked_at, well = _looked.get(REPLICA, (0.0, False))
    if REPLICA in _looked and time.monotonic() - looked_at < ASKED_EACH:
        return well
    try:
        since = behind(at=timezone.now())
        well = since is not None and since <= MOST_BEHIND
    except Error:
        well = False
    if not well:
        logger.warning("The replica is not there or too far behind; region pages are drawn from the primary.")
    _looked[REPLICA] = time.monotonic(), well
    return well
