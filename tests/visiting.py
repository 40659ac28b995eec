"""Visits for tests, by Ines in Alice's yard."""

import datetime as dt
from typing import Any

from apiaries.models import Colony, Present, Told
from apiaries.visit_facts import NewFinding, NewLabSample, NewOrder, NewSuspicion, NewVisit
from counts.actions import NewCount
from counts.samples import BeesBy, Method
from tests.cast import Cast

ON = dt.date(2026, 8, 12)
AT = dt.datetime(2026, 8, 12, 16, tzinfo=dt.UTC)


def a_visit(cast: Cast, **more: Any) -> NewVisit:
    """Six colonies present, two opened; one looks odd and is suspected; an order, a sample, a follow-up."""
    one, two = cast.colonies[:2]
    given = {
        "yard": cast.alice_yard,
        "visited_on": ON,
        "present": Present.KEEPER,
        "told": Told.BEFORE,
        "colonies_present": 6,
        "colonies_to_open": 6,
        "colonies_opened": 2,
        "rule": "all",
        "findings": (
            NewFinding(colony=one, strength="strong", brood_look="even", stores="enough"),
            NewFinding(colony=two, strength="weak", brood_look="cappings", remark="smell"),
        ),
        "suspicions": (
            NewSuspicion(disease="american_foulbrood", duty="unknown", colony=two, seen="ropy larvae"),
        ),
        "lab_samples": (NewLabSample(number="L-1", what="brood comb of colony 2", sent_to="laboratory"),),
        "orders": (NewOrder(what="Melt the old combs", due_on=ON + dt.timedelta(days=30)),),
        "recommendations": "Requeen colony 2.",
        "follow_up_on": ON + dt.timedelta(days=20),
    }
    return NewVisit(**{**given, **more})


def a_count(colony: Colony, on: dt.date = ON, *, mites: int = 9, **more: Any) -> NewCount:
    """A jar of 300 bees."""
    return NewCount(colony, Method.ALCOHOL_WASH, on, mites, bees=300, bees_by=BeesBy.VOLUME, **more)
