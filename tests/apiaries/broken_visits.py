"""Rows of visits that PostgreSQL refuses, each by the one rule that it is filed under."""

import datetime as dt
import uuid
from collections.abc import Callable
from functools import partial
from typing import Any

from apiaries.models import LabSample, Visit, VisitFinding, VisitOrder, VisitSuspicion
from apiaries.visit_words import ASPECTS
from tests.visiting import AT, ON


def planned(cast: Any, **fields: Any) -> Visit:
    known = {"club": cast.club, "yard": cast.alice_yard, "inspector": cast.ines}
    known |= {"planned_on": ON, "planned_at": AT, "planned_by": cast.ines}
    return Visit.objects.create(**known | fields)


def made(cast: Any, **fields: Any) -> Visit:
    known = {"club": cast.club, "yard": cast.alice_yard, "inspector": cast.ines, "visited_on": ON}
    known |= {"present": "keeper", "told": "before"}
    known |= {"colonies_present": 6, "colonies_to_open": 6, "colonies_opened": 2}
    known |= {"year": 2026, "number": 1, "version": 1}
    known |= {"entry_key": uuid.uuid4(), "recorded_at": AT, "recorded_by": cast.ines}
    return Visit.objects.create(**known | fields)


def corrected_twice(cast: Any) -> None:
    first = made(cast, voided_at=AT, voided_by=cast.ines, voided_why="six opened")
    for version in (2, 3):
        made(cast, version=version, corrects=first)


def finding(cast: Any, times: int = 1, **fields: Any) -> None:
    visit = made(cast)
    for _ in range(times):
        VisitFinding.objects.create(visit=visit, colony=cast.colony, **fields)


def suspicion(cast: Any, times: int) -> None:
    visit = made(cast)
    for _ in range(times):
        VisitSuspicion.objects.create(visit=visit, disease="american_foulbrood", duty="unknown")


def lab_sample(cast: Any, times: int = 1, **fields: Any) -> None:
    visit = made(cast)
    for _ in range(times):
        LabSample.objects.create(visit=visit, number="L-1", what="brood comb", **fields)


def order(cast: Any, **fields: Any) -> None:
    VisitOrder.objects.create(visit=made(cast), what="Melt the old combs", **fields)


BROKEN_VISITS: dict[str, Callable[[Any], object]] = {
    "apiaries_visit_made_whole": lambda cast: made(cast, number=None),
    "apiaries_visit_planned_whole": lambda cast: made(cast, planned_on=ON),
    "apiaries_visit_cancelled_whole": lambda cast: planned(cast, cancelled_at=AT, cancelled_by=cast.ines),
    "apiaries_visit_voided_whole": lambda cast: made(cast, voided_at=AT, voided_by=cast.ines),
    "apiaries_visit_opened_of_present": lambda cast: made(cast, colonies_opened=7),
    "apiaries_visit_follow_up_after": lambda cast: made(cast, follow_up_on=ON - dt.timedelta(days=1)),
    "apiaries_visit_report_number": lambda cast: [made(cast), made(cast)],
    "apiaries_visit_corrects_once": corrected_twice,
    "apiaries_visit_planned_once": lambda cast: [planned(cast), planned(cast)],
    "apiaries_visitfinding_once": lambda cast: finding(cast, times=2),
    **{f"apiaries_finding_{aspect.name}": partial(finding, **{aspect.name: "odd"}) for aspect in ASPECTS},
    "apiaries_visitsuspicion_once": lambda cast: suspicion(cast, times=2),
    "apiaries_labsample_number_once": lambda cast: lab_sample(cast, times=2),
    "apiaries_labsample_result_whole": lambda cast: lab_sample(
        cast, result_on=ON, result_at=AT, result_by=cast.ines
    ),
    "apiaries_visitorder_done_whole": lambda cast: order(cast, done_on=ON),
}
