"""What the pages of yards, colonies and members show, fetched with a fixed number of queries."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Case, Count, IntegerField, OuterRef, Q, QuerySet, Subquery, Value, When
from django.db.models.functions import Coalesce
from django.http import HttpRequest, QueryDict
from django.template import Engine
from django.template.loader import render_to_string

from apiaries.language import mark, say
from apiaries.models import Club, Colony, Membership, Person, Yard
from apiaries.on_page import ColonyOnPage, YardOnPage, is_editable
from apiaries.panels import Panel, colony_first_panels, colony_panels, member_panels, seen_panels, yard_panels
from apiaries.past import past_of, went_to
from apiaries.permissions import Role
from apiaries.who_sees import who_sees_yard

OWN, HELPED = 0, 1
PART_WORDS = {OWN: mark("Your yards"), HELPED: mark("Yards you help in")}


NAMES_SHOWN = 12


def names_words(names: Sequence[str]) -> str:
    """Names of colonies for a message: numbers that follow each other as a run, else the first few by name."""
    numbers = [int(name) for name in names if name.isascii() and name.isdigit()]
    if len(names) > 1 and numbers == list(
        range(numbers[0] if numbers else 0, len(names) + (numbers or [0])[0])
    ):
        return say("{first} to {last}", first=names[0], last=names[-1])
    shown, more = ", ".join(names[:NAMES_SHOWN]), len(names) - NAMES_SHOWN
    return say("{names} and {more} more", names=shown, more=more) if more > 0 else shown


def yards_for_list(person: Person) -> "QuerySet[Yard]":
    """Open yards the person keeps or helps in, own ones first, each with `part` and `living` (how many colonies)."""
    helped = Yard.objects.recordable_by(person).values("pk")
    return (
        Yard.objects.visible_to(person)
        .filter(Q(keeper_id=person.pk) | Q(pk__in=helped), closed_on=None)
        .select_related("region", "keeper")
        .annotate(
            part=Case(
                When(keeper_id=person.pk, then=Value(OWN)),
                default=Value(HELPED),
                output_field=IntegerField(),
            ),
            living=Count("colonies", filter=Q(colonies__ended_on=None)),
        )
        .order_by("part", "region__name", "name", "pk")
    )


def yard_page(request: HttpRequest, page: YardOnPage, **more: Any) -> dict[str, Any]:
    """Context of a yard's page: only what its reader may see, and only the buttons they may use.

    `more`: for it and for each of its sections.
    """
    person, yard = page.person, page.yard
    keeps = yard.keeper_id == person.pk
    may_place = keeps or Yard.objects.exact_place_visible_to(person).filter(pk=yard.pk).exists()
    any_gone = len(page.living) < len(page.colonies)
    return {
        "yard": yard,
        "place": (yard.latitude, yard.longitude) if may_place and yard.latitude is not None else None,
        "may_place": may_place,
        "editable": keeps,
        "recordable": page.recordable,
        "living": len(page.living),
        "gone": yard.colonies.exclude(ended_on=None).order_by("-ended_on", "name") if any_gone else (),
        "who_sees": who_sees_yard(yard, viewer=person),
        "sections": rendered(request, yard_panels.for_page(person, page), yard=yard, **more),
        **more,
    }


def colony_page(request: HttpRequest, person: Person, colony: Colony) -> dict[str, Any]:
    """Context of a colony's page."""
    past = past_of(colony, person)
    page = ColonyOnPage(person, colony)
    return {
        "colony": colony,
        "editable": is_editable(person, colony.yard),
        "may_print": colony.ended_on is None and page.recordable,
        "here_since": next(line for line in past if line.change is None),
        "past": past,
        "went": went_to(colony, person) if colony.ended_on else {},
        "first": rendered(request, colony_first_panels.for_page(person, page), colony=colony),
        "sections": rendered(request, colony_panels.for_page(person, page), colony=colony),
    }


def yards_seen(person: Person) -> "QuerySet[Yard]":
    """Open yards the person may see and neither keeps nor helps in."""
    helped = Yard.objects.recordable_by(person).values("pk")
    seen = Yard.objects.visible_to(person).filter(closed_on=None)
    return seen.exclude(keeper_id=person.pk).exclude(pk__in=helped)


def yards_seen_panel(person: Person, asked: QueryDict) -> Panel | None:
    """The list of those, with `rows` in its context; None where there are none, as always for plain members."""
    if person.membership is None or person.membership.role == Role.MEMBER:
        return None
    return next(iter(seen_panels.for_page(person, asked)), None)


def members_for_list(club: Club, *, named: str = "") -> "QuerySet[Membership]":
    """Current members by name, or those with these letters in it, each with `yards` (open ones they keep here)."""
    kept = Yard.objects.filter(club=club, keeper=OuterRef("person"), closed_on=None).order_by()
    number = kept.values("keeper").annotate(number=Count("pk")).values("number")
    return (
        club.memberships.current()
        .filter(person__name__icontains=named)
        .select_related("person")
        .prefetch_related("regions")
        .annotate(yards=Coalesce(Subquery(number), 0))
        .order_by("person__name", "pk")
    )


def members_page(request: HttpRequest, person: Person, club: Club) -> list[str]:
    """What other apps say about the club's members to this person, as HTML."""
    return rendered(request, member_panels.for_page(person, club), club=club)


def rendered(request: HttpRequest, panels: Any, **subject: Any) -> list[str]:
    """The sections that other apps brought along, as HTML."""
    made: list[Panel] = list(panels)
    known = _known_to_pages(request) if made else {}
    return [render_to_string(panel.template, {**known, **subject, **panel.context}) for panel in made]


def _known_to_pages(request: HttpRequest) -> dict[str, Any]:
    """What every template of a page may use: worked out once for all sections, not for each."""
    known: dict[str, Any] = {}
    for processor in Engine.get_default().template_context_processors:
        known |= processor(request)
    return known


CAUTION_PLACES = {
    "any": mark("Every treatment"),
    "vapour": mark("Vapour of oxalic acid"),
    "oxalic": mark("Oxalic acid"),
    "formic": mark("Formic acid"),
    "heat": mark("Heat"),
    "battery": mark("Batteries"),
    "stings": mark("Stings"),
    "lone_work": mark("Working alone"),
    "honey": mark("Honey"),
    "medicine": mark("Medicines and records"),
    "alcohol_wash": mark("Alcohol wash"),
    "suspicion": mark("A suspected disease"),
}


NOT_CAUTIONS = ("battery_size",)
"""Told where a battery is planned for; it warns of nothing."""
NO_SOURCE = "common practice, no source"  # as in the table; `config.catalogues` asks for its words
_ADDRESS = re.compile(r"[a-z0-9-]+(\.[a-z0-9-]+)+(/[^\s,]*)?")


@dataclass(frozen=True)
class CautionSource:
    """Where a caution was published; `address` is empty where none can be opened."""

    words: str
    address: str = ""

    @property
    def url(self) -> str:
        """The address to open."""
        return f"https://{self.address}" if self.address else ""


def cautions_by_place(rows: list[dict[str, str]]) -> list[tuple[str, list[dict[str, Any]]]]:
    """Cautions under the heading of where they matter, in the order of the table, each with its sources apart.

    `tag` says in the box itself that a caution has no source.
    """
    groups: dict[str, list[dict[str, Any]]] = {}
    for row in rows:
        if row["key"] in NOT_CAUTIONS:
            continue
        heading = say(CAUTION_PLACES.get(row["where"], row["where"].replace("_", " ").capitalize()))
        unsourced = row["source"] == say(NO_SOURCE)
        sources = [] if unsourced else [_source(part.strip()) for part in row["source"].split(" | ")]
        tag = row["source"][:1].upper() + row["source"][1:] if unsourced else ""
        groups.setdefault(heading, []).append({**row, "sources": sources, "tag": tag})
    return list(groups.items())


def _source(text: str) -> CautionSource:
    words, _, address = text.rpartition(", ")
    return CautionSource(f"{words},", address) if _ADDRESS.fullmatch(address) else CautionSource(text)
