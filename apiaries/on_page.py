"""What the parts of one page need of the same yard or colony: each thing is read once, by the part that asks first.

The parts come from apps that know nothing of each other. What one of them has read it leaves here for the next one;
nothing outlives the page.
"""

from collections.abc import Callable, Collection
from functools import cached_property
from typing import Any, Concatenate, ParamSpec, Self, TypeVar

from django.db.models import Model

from apiaries.models import Colony, Person, Yard

Found = TypeVar("Found")
Asked = ParamSpec("Asked")


class OnPage:
    """One page for one reader while it is drawn."""

    def __init__(self, person: Person) -> None:
        self.person = person
        self._read: dict[object, Any] = {}

    def once(
        self, read: Callable[Concatenate[Self, Asked], Found], *args: Asked.args, **kwargs: Asked.kwargs
    ) -> Found:
        """What `read` finds for this page and these arguments; it is called the first time alone."""
        key = (read, args, tuple(sorted(kwargs.items())))
        if key not in self._read:
            self._read[key] = read(self, *args, **kwargs)
        found: Found = self._read[key]
        return found


class YardOnPage(OnPage):
    """A yard that the reader may see (with `club`, `region` and `keeper` selected).

    `empty`: tables that are known to hold nothing for its page (`apiaries.drawn_from.StandingOfYard`).
    """

    def __init__(self, person: Person, yard: Yard, *, empty: Collection[str] = ()) -> None:
        super().__init__(person)
        self.yard = yard
        self._empty = empty

    def may_have(self, model: type[Model]) -> bool:
        """Whether any row of it that the page is drawn from may be there; else nothing need be asked."""
        return model._meta.db_table not in self._empty

    @cached_property
    def recordable(self) -> bool:
        """Whether the reader may log there."""
        return recordable_on_page(self.person, self.yard)

    @cached_property
    def colonies(self) -> list[Colony]:
        """All that stand here or came to their end here, in reading order."""
        return list(self.yard.colonies.in_reading_order())

    @cached_property
    def living(self) -> list[Colony]:
        """Those of them that live, in reading order."""
        return [colony for colony in self.colonies if colony.ended_on is None]


class ColonyOnPage(OnPage):
    """A colony that the reader may see (with `yard__club` selected)."""

    def __init__(self, person: Person, colony: Colony) -> None:
        super().__init__(person)
        self.colony = colony

    @cached_property
    def recordable(self) -> bool:
        """Whether the reader may log in the yard where it stands."""
        return recordable_on_page(self.person, self.colony.yard)


def recordable_on_page(person: Person, yard: Yard) -> bool:
    """Whether the person may log in a yard that they see. Whoever keeps it in their own club may, without asking."""
    return is_editable(person, yard) or Yard.objects.recordable_by(person).filter(pk=yard.pk).exists()


def is_editable(person: Person, yard: Yard) -> bool:
    """Whether the person may change the yard's set-up, as `YardQuerySet.editable_by` says; no statement."""
    membership = person.membership
    return membership is not None and yard.keeper_id == person.pk and yard.club_id == membership.club_id
