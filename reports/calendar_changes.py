"""How often what stands behind a calendar event was changed, and when last: counted in the row histories.

A history only grows, so the number only rises. It may rise without a change to be seen, by a count in a treated
colony for instance; RFC 5545 wants it to rise with a change, and does not mind more (from memory).
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.apps import apps
from django.db.models import Count, Max

from treatments.models import Dose, Treatment


@dataclass(frozen=True, slots=True)
class Changes:
    """Rows of history, and when the newest was written."""

    number: int
    last_at: dt.datetime


@dataclass(frozen=True, slots=True)
class Treated:
    """The colonies that ever got a dose of a treatment, voided doses too, and whether all of them are gone."""

    colonies: frozenset[int]
    all_gone: bool


def treated_colonies(treatments: Sequence[Treatment]) -> dict[int, Treated]:
    """By treatment, in one query."""
    doses = Dose.objects.filter(round__treatment__in=[one.pk for one in treatments])
    found: dict[int, dict[int, bool]] = defaultdict(dict)
    for treatment, colony, ended_on in doses.values_list(
        "round__treatment_id", "colony_id", "colony__ended_on"
    ):
        found[treatment][colony] = ended_on is not None
    return {
        one.pk: Treated(frozenset(found[one.pk]), bool(found[one.pk]) and all(found[one.pk].values()))
        for one in treatments
    }


def changes_of(treatments: Sequence[Treatment], treated: dict[int, Treated]) -> dict[int, Changes]:
    """By treatment: its own history and that of its rounds, recount, yard, treated colonies and their counts."""
    pks = [one.pk for one in treatments]
    colonies = frozenset().union(*(one.colonies for one in treated.values()))
    own = _history("treatments.TreatmentEvent", "pgh_obj", pks)
    rounds = _history("treatments.RoundEvent", "pgh_obj__treatment", pks)
    recounts = _history("treatments.RecountEvent", "pgh_obj__treatment", pks)
    yards = _history("apiaries.YardEvent", "pgh_obj", {one.yard_id for one in treatments})
    hives = _history("apiaries.ColonyEvent", "pgh_obj", colonies)
    counts = _history("counts.MiteSampleEvent", "pgh_obj__colony", colonies)
    return {
        one.pk: _together(
            [part[one.pk] for part in (own, rounds, recounts) if one.pk in part]
            + [yards[one.yard_id]]
            + [part[pk] for part in (hives, counts) for pk in treated[one.pk].colonies if pk in part]
        )
        for one in treatments
    }


def _history(model: str, by: str, pks: Iterable[int]) -> dict[int, Changes]:
    events = apps.get_model(model).objects.filter(**{f"{by}__in": list(pks)})
    rows = events.order_by().values_list(by).annotate(Count("pk"), Max("pgh_created_at"))
    return {pk: Changes(number, last_at) for pk, number, last_at in rows}


def _together(parts: Sequence[Changes]) -> Changes:
    return Changes(sum(part.number for part in parts), max(part.last_at for part in parts))
