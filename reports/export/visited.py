"""Tables of visits by inspectors, as their reports say; to read, for they are the inspectors' word."""

from __future__ import annotations

from typing import Any

from django.db.models import Model, QuerySet

from apiaries.models import Visit
from apiaries.models.visit_parts import LabSample, VisitFinding, VisitOrder, VisitSuspicion
from reports.export.tables import (
    Column,
    Scope,
    Table,
    colony,
    day,
    key,
    recorded,
    text,
    voided,
    who,
    whole,
    yard,
)

LOOKED_AT = ("strength", "adult_bees", "brood_look", "comb", "stores", "debris", "equipment")


def _visit() -> Column:
    return key("visit", "The key of the visit.", "visit__entry_key")


def _of_visits(model: type[Model], scope: Scope) -> QuerySet[Any]:
    seen = Visit.objects.visible_to(scope.person).values("pk")
    return model._default_manager.filter(visit__in=seen).order_by("pk")


VISITS = Table(
    "visits",
    "Visits that were announced to you or made, or that you inspect.",
    (
        key("entry_key", "The key of a visit that was made."),
        *yard("yard", "The yard's number in this file.", "yard"),
        who("inspector", "Who inspects."),
        day("planned_on", "The day it was planned for."),
        day("visited_on", "The day on which it was made."),
        text("present", "Whether the keeper or somebody for them was there."),
        text("present_who", "Who."),
        text("told", "How notice was given."),
        text("land_owner", "Who owns the land."),
        whole("colonies_present", "Colonies there."),
        whole("colonies_to_open", "Colonies to open by the rule."),
        whole("colonies_opened", "Colonies opened."),
        text("rule", "Which rule."),
        text("weather", "The weather."),
        text("remarks", "What was noted."),
        text("recommendations", "What was recommended."),
        day("follow_up_on", "When a follow-up visit is due."),
        whole("report_year", "Year of the report's number.", "year"),
        whole("report_number", "Number of the report.", "number"),
        whole("report_version", "Version of the report.", "version"),
        *recorded(),
        key(
            "corrects",
            "The key of the visit whose report this one takes the place of.",
            "corrects__entry_key",
        ),
        *voided(),
        *voided("cancelled"),
    ),
    rows=lambda scope: Visit.objects.visible_to(scope.person).order_by("pk"),
    comes_back=False,
)
FINDINGS = Table(
    "visit_findings",
    "What was found in single colonies.",
    (
        _visit(),
        *colony("colony", "The label code of the colony.", "colony"),
        *(text(name, f"{name.replace('_', ' ').capitalize()}, as a word of the list.") for name in LOOKED_AT),
        text("remark", "What was noted."),
    ),
    rows=lambda scope: _of_visits(VisitFinding, scope),
    comes_back=False,
)
SUSPICIONS = Table(
    "visit_suspicions",
    "Diseases and pests that were suspected; no diagnosis.",
    (
        _visit(),
        *colony("colony", "The label code of the colony; empty for the yard.", "colony"),
        text("disease", "What was suspected."),
        text("duty", "What the country's list said on that day."),
        text("seen", "What was seen."),
    ),
    rows=lambda scope: _of_visits(VisitSuspicion, scope),
    comes_back=False,
)
LAB_SAMPLES = Table(
    "lab_samples",
    "What was sent to a laboratory.",
    (
        _visit(),
        text("number", "The sample's number."),
        text("what", "What it is."),
        text("sent_to", "To whom it went."),
        text("results_to", "Who is told the result."),
        day("result_on", "The day of the result."),
        text("result", "The result."),
    ),
    rows=lambda scope: _of_visits(LabSample, scope),
    comes_back=False,
)
ORDERS = Table(
    "visit_orders",
    "What was to be done.",
    (
        _visit(),
        text("what", "What."),
        day("due_on", "By when."),
        day("done_on", "When it was done."),
        text("done_note", "What was noted then."),
    ),
    rows=lambda scope: _of_visits(VisitOrder, scope),
    comes_back=False,
)
VISITED = (VISITS, FINDINGS, SUSPICIONS, LAB_SAMPLES, ORDERS)
