"""The invented inspector's visits: two made, of which one asks for a follow-up that is late, and one planned."""

import datetime as dt
import uuid

from apiaries.actions import set_visit_rule
from apiaries.actions.visits import plan_visits
from apiaries.models import Person, Present, Told, Yard
from apiaries.visit_facts import NewFinding, NewLabSample, NewOrder, NewSuspicion, NewVisit
from apiaries.visit_reference import disease_of, rule_of
from apiaries.visit_rules import colonies_to_open
from config.demo.people import DemoClub
from config.demo.seasons import Clock
from counts.actions import NewCount
from counts.planning import in_fair_order
from counts.samples import BeesBy, Method
from counts.visit_actions import keep_visit

RULE = "florida"
KEYS = uuid.UUID("0d0c4f4e-6a35-4ab4-9f0e-3c0f8f0f6b11")
WITH_COUNTS, READ_BY_KEEPER, PLANNED = "Old Orchard", "Long Meadow", "Creek side"
AGO, AGO_OF_KEEPER, AHEAD = 70, 33, 6


def make_visits(demo: DemoClub, keeper: Person, clock: Clock) -> None:
    """In yards of the regions that the inspector has."""
    set_visit_rule(club=demo.club, rule=RULE, share_percent=10, at_least=10, by=demo.administrator)
    demo.club.refresh_from_db()
    inspected = Yard.objects.inspected_by(demo.inspector).select_related("club", "keeper")
    yard = (
        inspected.exclude(keeper=keeper)
        .filter(name=WITH_COUNTS, colonies__isnull=False)
        .order_by("pk")
        .first()
    )
    if yard is not None:
        _suspected(yard, demo.inspector, clock.today - dt.timedelta(days=AGO), clock)
    kept = inspected.filter(keeper=keeper)
    _in_order(
        kept.get(name=READ_BY_KEEPER), demo.inspector, clock.today - dt.timedelta(days=AGO_OF_KEEPER), clock
    )
    plan_visits(
        yards=[kept.get(name=PLANNED)],
        on=clock.today + dt.timedelta(days=AHEAD),
        inspector=demo.inspector,
        why="the last strips did not work",
        at=clock.now,
        by=demo.inspector,
    )


def _visit(yard: Yard, on: dt.date, **more: object) -> NewVisit:
    order = in_fair_order(yard, on=on)
    rule = rule_of(yard.club)
    to_open = colonies_to_open(rule, len(order))
    given = {
        "yard": yard,
        "visited_on": on,
        "present": Present.KEEPER,
        "told": Told.BEFORE,
        "weather": "dry, light wind",
        "colonies_present": len(order),
        "colonies_to_open": to_open,
        "colonies_opened": to_open,
        "rule": rule.key,
        "drawn_on": on,
        "drawn": tuple(one.pk for one in order[:to_open]),
        "findings": tuple(
            NewFinding(colony=one, strength="medium", adult_bees="usual", brood_look="even", stores="enough")
            for one in order[:to_open]
        ),
        "entry_key": uuid.uuid5(KEYS, f"{yard.pk} {on}"),
    }
    return NewVisit(**{**given, **more})  # type: ignore[arg-type]


def _suspected(yard: Yard, inspector: Person, on: dt.date, clock: Clock) -> None:
    """One colony looks odd; two jars were counted; the follow-up is late by now."""
    plain = _visit(yard, on)
    odd = plain.findings[0].colony
    findings = (
        NewFinding(colony=odd, strength="weak", brood_look="cappings", remark="invented: a few sunken cells"),
        *plain.findings[1:],
    )
    disease = disease_of(yard.club, "european_foulbrood")
    new = _visit(
        yard,
        on,
        findings=findings,
        suspicions=(NewSuspicion(disease=disease.key, duty=disease.duty, colony=odd, seen="yellow larvae"),),
        lab_samples=(
            NewLabSample(
                number="EX-17",
                what="one brood comb",
                sent_to="an invented laboratory",
                results_to=yard.keeper.name,
            ),
        ),
        orders=(NewOrder(what="Melt the oldest combs of this colony", due_on=on + dt.timedelta(days=30)),),
        recommendations="Narrow the entrances against robbing.",
        follow_up_on=on + dt.timedelta(days=42),
    )
    counts = [
        NewCount(
            one.colony,
            Method.ALCOHOL_WASH,
            on,
            mites,
            bees=300,
            bees_by=BeesBy.VOLUME,
            entry_key=uuid.uuid5(KEYS, f"count {one.colony.pk} {on}"),
        )
        for one, mites in zip(findings, (11, 0), strict=False)
    ]
    keep_visit(new=new, counts=counts, planned=None, at=clock.evening_of(on), by=inspector)


def _in_order(yard: Yard, inspector: Person, on: dt.date, clock: Clock) -> None:
    """Nothing out of order, one thing to do that has no day."""
    orders = (NewOrder(what="Number the hives so that they can be read from the front"),)
    new = _visit(yard, on, present=Present.NOBODY, told=Told.SAME_DAY, orders=orders)
    keep_visit(new=new, counts=[], planned=None, at=clock.evening_of(on), by=inspector)
