"""Numbers for Prometheus: of requests, from all web processes of this host; of the service, from the database.

Labels hold names that the program has fixed: routes, methods, kinds of work, reasons. None comes from a visitor.
"""

import datetime as dt
from collections.abc import Iterator

from django.utils import timezone
from prometheus_client import REGISTRY, CollectorRegistry, Counter, Histogram, generate_latest, multiprocess
from prometheus_client.core import GaugeMetricFamily, Metric
from prometheus_client.values import ValueClass

from reports.planner import last_tick
from reports.watched import backlog, backups, outbox
from reports.work import standings

SEVERAL = ValueClass.__name__ == "MmapedValue"
"""Whether the web processes of this host count together: config.web_server has given them a folder."""
BUCKETS = (0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 10.0)  # seconds

requests = Counter("recount_requests", "Requests answered.", ["route", "method", "status"])
seconds = Histogram("recount_request_seconds", "Until the answer began.", ["route"], buckets=BUCKETS)


def count_request(*, route: str, method: str, status: int, took: float) -> None:
    """`took` in seconds."""
    requests.labels(route, method, str(status)).inc()
    seconds.labels(route).observe(took)


def answer() -> bytes:
    """All of it, in Prometheus' text format."""
    told = CollectorRegistry()
    told.register(OfTheService())
    if SEVERAL:
        multiprocess.MultiProcessCollector(told)
        return generate_latest(told)
    of_requests = REGISTRY.restricted_registry(
        ["recount_requests_total", "recount_requests_created"]
        + [f"recount_request_seconds_{part}" for part in ("bucket", "count", "sum", "created")]
    )
    return generate_latest(told) + generate_latest(of_requests)


class OfTheService:
    """Asks the database each time it is read. The same on every host."""

    def collect(self) -> Iterator[Metric]:
        at = timezone.now()
        mails, waits, (kept, failed) = outbox(at=at), backlog(), backups()
        yield _gauge("recount_mails_waiting", "Mails planned and not sent.", mails.waiting)
        yield _gauge("recount_mails_due", "Of these, mails whose time has come.", mails.due)
        yield _gauge("recount_mails_late", "Of these, due for more than 15 minutes.", mails.late)
        yield _gauge(
            "recount_mails_oldest_due_seconds", "Since the oldest is due; 0: none.", _age(mails.oldest, at)
        )
        yield _gauge("recount_mail_outage", "1 while the mail server is out of reach.", int(mails.outage))
        yield _gauge("recount_sending_paused", "1 while sending is paused.", int(mails.paused is not None))
        yield _gauge("recount_addresses_suspended", "Addresses that refused mail for good.", mails.suspended)
        given_up = GaugeMetricFamily(
            "recount_mails_given_up", "Mails of the last 90 days, by reason.", labels=["reason"]
        )
        for reason, number in mails.given_up.items():
            given_up.add_metric([reason], number)
        yield given_up
        yield from _age_if(
            "recount_last_tick_age_seconds", "Since everything owed was planned.", last_tick(), at
        )
        yield _gauge("recount_imports_open", "Sheets that a worker has to read.", waits.sheets)
        yield _gauge(
            "recount_imports_oldest_seconds", "Since the oldest waits; 0: none.", _age(waits.oldest_sheet, at)
        )
        yield _gauge("recount_region_marks", "Marks of stale region figures.", waits.marks)
        yield _gauge(
            "recount_region_marks_oldest_seconds",
            "Since the oldest is there; 0: none.",
            _age(waits.oldest_mark, at),
        )
        saved = kept.begun_at if kept is not None else None
        yield from _age_if("recount_last_backup_age_seconds", "Since the last good one began.", saved, at)
        yield _gauge("recount_backup_failed", "1 where a try failed after it.", int(failed is not None))
        yield from self._work(at)

    def _work(self, at: dt.datetime) -> Iterator[Metric]:
        age = GaugeMetricFamily(
            "recount_work_age_seconds", "Since the work was done last, by any host.", labels=["work"]
        )
        late = GaugeMetricFamily("recount_work_late", "1 where that is too long.", labels=["work"])
        runs = GaugeMetricFamily("recount_work_runs", "Runs on hosts of late.", labels=["work", "outcome"])
        for one in standings(at=at):
            if one.done_at is not None:
                age.add_metric([one.work], _age(one.done_at, at))
            late.add_metric([one.work], int(one.late))
            runs.add_metric([one.work, "done"], one.done)
            runs.add_metric([one.work, "failed"], one.failed)
        yield from (age, late, runs)


def _gauge(name: str, words: str, value: float) -> Metric:
    return GaugeMetricFamily(name, words, value=value)


def _age_if(name: str, words: str, moment: dt.datetime | None, at: dt.datetime) -> Iterator[Metric]:
    """Left out where it never happened: alarms ask for that by `absent`."""
    if moment is not None:
        yield _gauge(name, words, _age(moment, at))


def _age(moment: dt.datetime | None, at: dt.datetime) -> float:
    return max(0.0, (at - moment).total_seconds()) if moment is not None else 0.0
