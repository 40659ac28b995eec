"""What a visit says, as values: as it is typed before it is kept, and as it is read back."""

import datetime as dt
import uuid
from dataclasses import dataclass, field, fields, replace
from typing import Any, TypeVar

from apiaries.models import Colony, Present, Told, Visit, Yard
from apiaries.visit_words import ASPECTS

Part = TypeVar("Part", bound="NewFinding | NewSuspicion | NewLabSample | NewOrder | NewVisit")


@dataclass(frozen=True, kw_only=True)
class NewFinding:
    """What was seen in one colony: codes of `visit_words`, empty where nobody looked."""

    colony: Colony
    strength: str = ""
    adult_bees: str = ""
    brood_look: str = ""
    comb: str = ""
    stores: str = ""
    debris: str = ""
    equipment: str = ""
    remark: str = ""

    @property
    def codes(self) -> dict[str, str]:
        """By aspect, the code."""
        return {aspect.name: getattr(self, aspect.name) for aspect in ASPECTS}


@dataclass(frozen=True, kw_only=True)
class NewSuspicion:
    """A disease that is suspected; no colony: of the yard as a whole."""

    disease: str
    duty: str
    colony: Colony | None = None
    seen: str = ""


@dataclass(frozen=True, kw_only=True)
class NewLabSample:
    """A sample taken for a laboratory."""

    number: str
    what: str
    sent_to: str = ""
    results_to: str = ""


@dataclass(frozen=True, kw_only=True)
class NewOrder:
    """What the keeper has to do."""

    what: str
    due_on: dt.date | None = None


@dataclass(frozen=True, kw_only=True)
class NewVisit:
    """A visit as it was made, before it is kept. Days are calendar dates in the yard; numbers are of colonies.

    `entry_key` is minted where the visit is typed, when the form opens: the same key never makes two visits.
    """

    yard: Yard
    visited_on: dt.date
    present: Present
    told: Told
    colonies_present: int
    colonies_to_open: int
    colonies_opened: int
    rule: str
    present_who: str = ""
    land_owner: str = ""
    draw: int = 0
    drawn_on: dt.date | None = None
    drawn: tuple[int, ...] = ()
    weather: str = ""
    remarks: str = ""
    recommendations: str = ""
    follow_up_on: dt.date | None = None
    findings: tuple[NewFinding, ...] = ()
    suspicions: tuple[NewSuspicion, ...] = ()
    lab_samples: tuple[NewLabSample, ...] = ()
    orders: tuple[NewOrder, ...] = ()
    entry_key: uuid.UUID = field(default_factory=uuid.uuid4)


COLUMNS = (
    *("visited_on", "present", "present_who", "told", "land_owner", "colonies_present", "colonies_to_open"),
    *(
        "colonies_opened",
        "rule",
        "draw",
        "drawn_on",
        "drawn",
        "weather",
        "remarks",
        "recommendations",
        "follow_up_on",
    ),
)
"""Columns of a visit that a report fills, named as in `NewVisit`."""


def as_new(visit: Visit) -> NewVisit:
    """A recorded visit as it would be typed. Errors: ValueError for one that was not made."""
    if visit.visited_on is None or visit.entry_key is None:
        raise ValueError("Only a visit that was made says anything.")
    columns = {name: getattr(visit, name) for name in COLUMNS} | {"drawn": tuple(visit.drawn)}
    columns |= {"present": Present(visit.present), "told": Told(visit.told)}
    return NewVisit(
        yard=visit.yard,
        entry_key=visit.entry_key,
        findings=tuple(
            NewFinding(
                colony=row.colony,
                remark=row.remark,
                **{aspect.name: getattr(row, aspect.name) for aspect in ASPECTS},
            )
            for row in visit.findings.select_related("colony")
        ),
        suspicions=tuple(
            NewSuspicion(disease=row.disease, duty=row.duty, colony=row.colony, seen=row.seen)
            for row in visit.suspicions.select_related("colony")
        ),
        lab_samples=tuple(
            NewLabSample(number=row.number, what=row.what, sent_to=row.sent_to, results_to=row.results_to)
            for row in visit.lab_samples.all()
        ),
        orders=tuple(NewOrder(what=row.what, due_on=row.due_on) for row in visit.orders.all()),
        **columns,
    )


WORKED_OUT = ("colonies_to_open", "rule", "drawn_on", "drawn")
"""Columns that nobody types: they follow from the colonies and the club's rule when the report arrives."""


def says_the_same(new: NewVisit, kept: NewVisit) -> bool:
    """Whether a report that is sent again says what is kept of it: what was worked out then may be another now."""
    duties = {one.disease: one.duty for one in kept.suspicions}
    suspicions = tuple(replace(one, duty=duties.get(one.disease, one.duty)) for one in new.suspicions)
    then: dict[str, Any] = {name: getattr(kept, name) for name in WORKED_OUT}
    return replace(new, suspicions=suspicions, **then) == kept


def trimmed(new: Part) -> Part:
    """Without spaces around what was typed, as it is kept."""
    texts: dict[str, Any] = {
        one.name: value.strip()
        for one in fields(new)
        if type(value := getattr(new, one.name)) is str  # codes of a choice stay what they are
    }
    return replace(new, **texts)


def tidy(new: NewVisit) -> NewVisit:
    """The visit and all its parts without spaces around what was typed."""
    return replace(
        trimmed(new),
        findings=tuple(map(trimmed, new.findings)),
        suspicions=tuple(map(trimmed, new.suspicions)),
        lab_samples=tuple(map(trimmed, new.lab_samples)),
        orders=tuple(map(trimmed, new.orders)),
    )
