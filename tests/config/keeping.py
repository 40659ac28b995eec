"""Writers at work while a backup is made."""

import datetime as dt
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from django.db import connections

from apiaries.models import Colony
from tests.cast import Cast
from tests.reports.counting import count
from tests.reports.treating import treated

FIRST = dt.date(2026, 4, 2)


@dataclass
class Writers:
    """Members who save counts and treatments through the real actions until they are told to stop."""

    cast: Cast
    stop: threading.Event = field(default_factory=threading.Event)
    counts: list[Any] = field(default_factory=list)
    """Keys of counts whose saving was answered."""
    treatments: list[Any] = field(default_factory=list)
    mistakes: list[BaseException] = field(default_factory=list)
    threads: list[threading.Thread] = field(default_factory=list)

    def __enter__(self) -> "Writers":
        charlies = list(self.cast.charlie_yard.colonies.all())
        for work in (self._counting(self.cast.colonies), self._counting(charlies), self._treating(charlies)):
            self.threads.append(threading.Thread(target=self._run, args=[work]))
        for thread in self.threads:
            thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.stop.set()
        for thread in self.threads:
            thread.join()
        assert self.mistakes == []

    def _run(self, work: Callable[[int], None]) -> None:
        try:
            number = 0
            while not self.stop.is_set():
                work(number)
                number += 1
        except BaseException as error:  # noqa: BLE001  (told by the test's own thread)
            self.mistakes.append(error)
        finally:
            connections.close_all()

    def _counting(self, colonies: list[Colony]) -> Callable[[int], None]:
        def work(number: int) -> None:
            day = FIRST + dt.timedelta(days=number // len(colonies) % 150)
            self.counts.append(count(colonies[number % len(colonies)], day, number % 9).pk)

        return work

    def _treating(self, colonies: list[Colony]) -> Callable[[int], None]:
        def work(number: int) -> None:
            recount = treated(colonies[:1], on=FIRST + dt.timedelta(days=number % 150))
            self.treatments.append(recount.treatment_id)

        return work
