"""Which yards of an inspector's regions are due for a visit, and in which order to drive.

A constant number of queries, however many yards there are; never more than the inspector may see.
"""

import datetime as dt
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from typing import Any

from django import forms
from django.db.models import Count, Max
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from apiaries.distance import Place, km_between
from apiaries.fields import OneLine, TypedDate
from apiaries.forms.base import PageForm
from apiaries.language import mark, say
from apiaries.models import Person, Region, Visit, VisitOrder, Yard
from reports.known_yards import KnownYard, known_yards, to_look_at, with_treatments
from reports.yards_around import centre_of

DUE, LOOK, NEAR = "due", "look", "near"
ORDERS = {
    DUE: mark("Follow-up due first, then not visited for longest"),
    LOOK: mark("Above the action level first"),
    NEAR: mark("Way to drive: each the nearest to the one before"),
}
MOST_AT_ONCE = 30
"""Yards planned for one day at once (our choice)."""
FARTHEST_AHEAD = dt.timedelta(days=366)


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitRow(KnownYard):
    """One yard, what is known of it, and its visits."""

    last_visit: dt.date | None = None
    days_since_visit: int | None = None
    planned: Visit | None = None
    follow_up_on: dt.date | None = None
    open_orders: int = 0
    km: float | None = None
    """From the yard before it in the order to drive; None for the first, and where a place is missing."""

    @property
    def place(self) -> Place | None:
        return centre_of(self.yard)


def visit_rows(person: Person, yards: Any, on: dt.date) -> list[VisitRow]:
    """The yards with their counts, open treatments and visits, in no order."""
    known = with_treatments(known_yards(person, yards, on), on)
    keys = [row.yard.pk for row in known]
    made = Visit.objects.made().filter(yard__in=keys)
    last = dict(made.order_by().values_list("yard").annotate(last=Max("visited_on")))
    planned: dict[int, Visit] = {}
    for visit in Visit.objects.planned().filter(yard__in=keys).order_by("-planned_on"):
        planned[visit.yard_id] = visit
    orders = VisitOrder.objects.filter(done_on=None, visit__in=made.values("pk")).order_by()
    undone = dict(orders.values_list("visit__yard").annotate(n=Count("pk")))
    follow_ups = open_follow_ups(keys)
    return [
        VisitRow(
            **{one.name: getattr(row, one.name) for one in fields(row)},
            last_visit=last.get(row.yard.pk),
            days_since_visit=(on - day).days if (day := last.get(row.yard.pk)) else None,
            planned=planned.get(row.yard.pk),
            follow_up_on=follow_ups.get(row.yard.pk),
            open_orders=undone.get(row.yard.pk, 0),
        )
        for row in known
    ]


def open_follow_ups(yards: Iterable[int]) -> dict[int, dt.date]:
    """By yard, the day for which its last visit asked for another: done as soon as a later visit was made."""
    last = Visit.objects.made().filter(yard__in=list(yards)).order_by("yard", "-visited_on", "-pk")
    rows = last.distinct("yard").values_list("yard", "follow_up_on")
    return {yard: day for yard, day in rows if day is not None}


def in_order(rows: Iterable[VisitRow], order: str, on: dt.date) -> list[VisitRow]:
    """The rows as asked for."""
    if order == NEAR:
        return way_to_drive(sorted(rows, key=lambda row: _due(row, on)))
    keys: dict[str, Callable[[VisitRow], Any]] = {DUE: lambda row: _due(row, on), LOOK: to_look_at}
    return sorted(rows, key=keys.get(order, keys[DUE]))


def _due(row: VisitRow, on: dt.date) -> tuple[bool, dt.date, dt.date, str, int]:
    late = row.follow_up_on is not None and row.follow_up_on <= on
    return (
        not late,
        row.follow_up_on or dt.date.max,
        row.last_visit or dt.date.min,
        row.yard.name,
        row.yard.pk,
    )


def way_to_drive(rows: Sequence[VisitRow]) -> list[VisitRow]:
    """From the first on, always to the nearest that is left; yards without a place come last, in the order given.

    Straight lines, and no shortest way: a list to begin with, not a route.
    """
    left = [row for row in rows if row.place is not None]
    way: list[VisitRow] = []
    while left:
        here = way[-1].place if way else left[0].place
        nearest = min(left, key=lambda row: (_km(here, row.place), row.yard.pk)) if way else left[0]
        left.remove(nearest)
        way.append(replace(nearest, km=_km(here, nearest.place) if way else None))
    return [*way, *(row for row in rows if row.place is None)]


def _km(one: Place | None, other: Place | None) -> float:
    if one is None or other is None:
        raise ValueError("A distance needs two places.")
    return km_between(one, other)


class ChooseYardsForm(forms.Form):
    """Which yards to show, and in which order; what cannot be read is said, and shows all of them."""

    region = forms.ChoiceField(
        label=_("Region"),
        required=False,
        error_messages={"invalid_choice": _("Choose a region of the list.")},
    )
    name = OneLine(label=_("Yard or keeper"), required=False, max_length=80)
    order = forms.ChoiceField(
        label=_("Order"), required=False, error_messages={"invalid_choice": _("Choose an order of the list.")}
    )

    def __init__(self, asked: QueryDict, *, regions: Sequence[Region]) -> None:
        super().__init__({name: asked.get(name, "") for name in self.base_fields})
        self.fields["region"].choices = [
            ("", say("All regions")),
            *((str(one.pk), one.name) for one in regions),
        ]
        self.fields["order"].choices = [(key, say(words)) for key, words in ORDERS.items()]

    @property
    def chosen_order(self) -> str:
        self.is_valid()
        return self.cleaned_data.get("order") or DUE

    def chosen(self, rows: Iterable[VisitRow]) -> list[VisitRow]:
        """Those that were asked for."""
        self.is_valid()
        region, words = self.cleaned_data.get("region", ""), self.cleaned_data.get("name", "").casefold()
        return [
            row
            for row in rows
            if region in ("", str(row.yard.region_id))
            and words in f"{row.yard.name} {row.yard.keeper.name}".casefold()
        ]


class PlanForm(PageForm):
    """A day, and the yards to visit on it."""

    yards = forms.TypedMultipleChoiceField(
        label=_("Yards"),
        coerce=int,
        error_messages={
            "required": _("Tick at least one yard."),
            "invalid_choice": _("One of the yards is not in your regions any more. Nothing was planned."),
        },
    )
    on = TypedDate(label=_("Day of the visits"), future=True)
    why = OneLine(
        label=_("Why"),
        required=False,
        max_length=200,
        help_text=_("For example: yearly round, follow-up, at the keeper's wish. The keeper sees it."),
    )
    announced = forms.BooleanField(
        label=_("Tell the keepers"),
        required=False,
        help_text=_("They then see the planned visit on the yard's page."),
    )

    def __init__(self, typed: Mapping[str, Any] | None, *, yards: Mapping[int, Yard], today: dt.date) -> None:
        super().__init__(typed, initial={"announced": True})
        self.known = yards
        self.fields["yards"].choices = [(key, yard.name) for key, yard in yards.items()]
        day = self.fields["on"]
        day.today, day.earliest, day.latest = today, today, today + FARTHEST_AHEAD
        day.earliest_words = say("This day is past. Enter today or a day to come.")
        day.latest_words = say("This is more than a year ahead. Look at the year again.")

    @property
    def ticked(self) -> set[int]:
        """Yards that were ticked, whatever else is wrong."""
        found = self.data.getlist("yards") if hasattr(self.data, "getlist") else []
        return {int(key) for key in found if key.isascii() and key.isdigit() and len(key) < 18}

    def clean_yards(self) -> list[Yard]:
        keys = self.cleaned_data["yards"]
        if len(keys) > MOST_AT_ONCE:
            raise forms.ValidationError(say("Tick at most {most} yards at once.", most=MOST_AT_ONCE))
        return [self.known[key] for key in keys]
