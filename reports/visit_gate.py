"""The page at the gate: which colonies to open, the form filled from what was typed, and the step that was chosen."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from apiaries.models import Colony, Person, Visit, Yard
from apiaries.standing import named_in
from apiaries.visit_facts import NewVisit
from apiaries.visit_reference import rule_of, rule_source
from apiaries.visit_rules import OpenRule, colonies_to_open
from counts.planning import SPARES, in_fair_order
from reports.visit_counts import METHODS
from reports.visit_form import MOST_COLONIES, VisitForm
from reports.visit_there import MOST_ROWS, filled_keys, kept_before, rows_in

CHECK, KEEP, CHANGE, MORE = "check", "keep", "change", "more"


@dataclass(frozen=True, slots=True)
class ToOpen:
    """How many of how many colonies to open and which: drawn by chance for the day, with spares after them."""

    rule: OpenRule
    source: str
    present: int
    number: int
    drawn: Sequence[Colony]
    spares: Sequence[Colony]
    draw: int
    on: dt.date
    on_list: int

    @property
    def unlisted(self) -> int:
        """Colonies that stand there and are not on the list, so that no lot can name them."""
        return max(0, self.present - self.on_list)

    @property
    def next_draw(self) -> int:
        return self.draw + 1


def to_open(yard: Yard, *, on: dt.date, present: int | None = None, draw: int = 0) -> ToOpen:
    """By the club's rule; as many present as are on the list while nobody has counted them."""
    order = in_fair_order(yard, on=on, draw=draw)
    rule = rule_of(yard.club)
    there = len(order) if present is None else present
    number = colonies_to_open(rule, there)
    return ToOpen(
        rule=rule,
        source=rule_source(rule.key),
        present=there,
        number=number,
        drawn=order[:number],
        spares=order[number : number + SPARES],
        draw=draw,
        on=on,
        on_list=len(order),
    )


def small(text: str | None, *, most: int = MOST_COLONIES) -> int | None:
    """A whole number from an address; None for anything else."""
    ok = text is not None and text.isascii() and text.isdigit() and len(text) <= 5 and int(text) <= most
    return int(text) if ok and text is not None else None


def blank_form(
    yard: Yard, person: Person, today: dt.date, chosen: ToOpen, *, present: int | None
) -> VisitForm:
    """The form as it opens: rows for the colonies drawn and the spares."""
    colonies = [*chosen.drawn, *chosen.spares][:MOST_ROWS]
    start: dict[str, Any] = {"draw": chosen.draw, "drawn_on": chosen.on, "rows": _keys(colonies)}
    if present is not None:
        start["colonies_present"] = present
    return VisitForm(None, yard=yard, person=person, today=today, colonies=colonies, start=start)


def typed_form(
    typed: Mapping[str, str],
    yard: Yard,
    person: Person,
    today: dt.date,
    *,
    step: str,
    corrects: Visit | None = None,
    **more: Any,
) -> VisitForm:
    """The form with what was typed: judged, or only shown again (after Change, or for more rows).

    Every colony of which anything is typed has a row, or the form refuses it.
    """
    boxes, filled = dict(typed), filled_keys(typed)
    kept = corrects or kept_before(boxes.get("entry_key", ""), yard, person)
    named = named_in(kept) if kept is not None else frozenset()
    colonies = rows_in(boxes.get("rows", ""), yard, always=filled, named=named)
    strangers = sorted(set(filled) - {one.pk for one in colonies})
    if step == MORE:
        shown = {one.pk for one in colonies}
        living = yard.colonies.living().in_reading_order()
        others = [one for one in living if one.pk not in shown]
        colonies += others[: max(0, MOST_ROWS - len(colonies))]
    boxes["rows"] = _keys(colonies)
    form = VisitForm(
        boxes,
        yard=yard,
        person=person,
        today=today,
        colonies=colonies,
        start={},
        checks=step not in (CHANGE, MORE),
        **more,
    )
    form.strangers, form.named = strangers, named
    return form


def correction_form(visit: Visit, person: Person, today: dt.date, boxes: Mapping[str, Any]) -> VisitForm:
    """The form of a kept visit as it would be typed: rows for the colonies with findings, then all others."""
    named = [*visit.findings.values_list("colony", flat=True)]
    named += list(visit.suspicions.exclude(colony=None).values_list("colony", flat=True))
    living = visit.yard.colonies.living().in_reading_order().values_list("pk", flat=True)
    keys = ",".join(str(key) for key in dict.fromkeys([*named, *visit.drawn, *living]))
    colonies = rows_in(keys, visit.yard, always=named, named=named)
    return VisitForm(
        None,
        yard=visit.yard,
        person=person,
        today=today,
        colonies=colonies,
        start={**boxes, "rows": _keys(colonies)},
        with_counts=False,
    )


def as_drawn_then(new: NewVisit, visit: Visit) -> NewVisit:
    """A correction keeps rule and lot of the day; only another number present asks for another number to open."""
    to_open = new.colonies_to_open
    if new.rule != visit.rule or new.colonies_present == visit.colonies_present:
        to_open = visit.colonies_to_open or 0
    return replace(
        new,
        rule=visit.rule,
        colonies_to_open=to_open,
        draw=visit.draw,
        drawn_on=visit.drawn_on,
        drawn=tuple(visit.drawn),
    )


def gate_context(form: VisitForm, chosen: ToOpen) -> dict[str, Any]:
    """What the page needs beside the form."""
    in_rows = {one.pk for one in form.colonies}
    living = form.yard.colonies.living().count()
    return {
        "form": form,
        "page_errors": form.problems if form.checks else [],
        "chosen": chosen,
        "drawn": {one.pk for one in chosen.drawn},
        "methods": METHODS,
        "more_rows": max(0, min(living, MOST_ROWS) - len(in_rows)),
        "beyond_rows": max(0, living - MOST_ROWS),
    }


def _keys(colonies: Sequence[Colony]) -> str:
    return ",".join(str(one.pk) for one in colonies)
