"""Hints for a coordinator about a member's washes, from those the coordinator may see. Never a reproach."""

from collections import defaultdict
from dataclasses import dataclass

from apiaries.language import say
from apiaries.models import Club, Person
from apiaries.panels import Panel
from counts.data_checks import odd_habits
from counts.models import MiteSample
from counts.samples import Kind, Method, kind_of
from counts.sentences import ODDITY_SENTENCES

PANEL_ORDER = 10
NEWEST = 5000
"""Washes of the club that are looked at, the newest first (our choice)."""
_WASHES = [method.value for method in Method if kind_of(method) is Kind.WASH]


@dataclass(frozen=True, slots=True)
class Habit:
    """A member, how many of their washes were looked at, and what to talk about."""

    person_id: int
    name: str
    washes: int
    sentences: list[str]


def members_panel(person: Person, club: Club) -> Panel | None:
    """What is remarkable about members' washes; nothing where there is nothing to say. One query."""
    seen = MiteSample.objects.visible_to(person).standing().filter(yard__club=club, method__in=_WASHES)
    others = seen.exclude(recorded_by=person).newest_first()
    washes: dict[tuple[str, int], list[tuple[int, int]]] = defaultdict(list)
    rows = others.values_list("recorded_by__name", "recorded_by", "mites", "bees")
    for name, key, mites, bees in rows[:NEWEST]:
        washes[name, key].append((mites, bees or 0))
    habits = [
        Habit(key, name, len(mine), [say(ODDITY_SENTENCES[oddity]) for oddity in found])
        for (name, key), mine in sorted(washes.items())
        if (found := odd_habits(mine))
    ]
    return Panel("counts/_habits_panel.html", PANEL_ORDER, {"habits": habits}) if habits else None
