"""Parts of the pages of yards, colonies and members that other apps bring along.

The layers point one way, so this app cannot ask for counts or treatments; those apps register here (in their
AppConfig.ready) a function that returns the part of the page they are responsible for.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Any, Generic, TypeVar

from django.http import QueryDict

from apiaries.models import Club, Person
from apiaries.on_page import ColonyOnPage, YardOnPage

Subject = TypeVar("Subject")


@dataclass(frozen=True)
class Panel:
    """One section of a page: its template, what that needs, and its place from top (low) to bottom (high)."""

    template: str
    order: int
    context: dict[str, Any] = field(default_factory=dict)


@dataclass
class Panels(Generic[Subject]):
    """Those who have something to say about a yard (or a colony, or the members of a club)."""

    makers: list[Callable[[Person, Subject], Panel | None]] = field(default_factory=list)

    def register(self, maker: Callable[[Person, Subject], Panel | None]) -> None:
        """Add a maker once; it returns None where it has nothing to show."""
        if maker not in self.makers:
            self.makers.append(maker)

    def for_page(self, person: Person, subject: Subject) -> Iterable[Panel]:
        """The sections for this person, in order."""
        made = [panel for maker in self.makers if (panel := maker(person, subject)) is not None]
        return sorted(made, key=lambda panel: panel.order)


yard_panels: Panels[YardOnPage] = Panels()
colony_first_panels: Panels[ColonyOnPage] = Panels()
"""What a hive label is scanned for: it stands above everything else on the colony's page."""
colony_panels: Panels[ColonyOnPage] = Panels()
member_panels: Panels[Club] = Panels()
leaving_panels: Panels[Person] = Panels()
"""What is kept of somebody who wants to be forgotten, and why; only the person themselves reads it."""
seen_panels: Panels[QueryDict] = Panels()
"""The yards somebody may see beside their own, told by who knows the counts; asked with the question of the page."""
