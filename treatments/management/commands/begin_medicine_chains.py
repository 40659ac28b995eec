"""Takes medicine records that are older than their chain into it."""

from collections.abc import Iterable
from typing import Any

from django.core.management.base import BaseCommand
from django.db import transaction
from django.db.models import Q

from apiaries.models import Person, Yard
from treatments.chain import What
from treatments.chain_actions import note
from treatments.chain_texts import Stands, kept_standing, locked_standing, uses_standing
from treatments.models import MedicineLink


class Command(BaseCommand):
    """Run after the upgrade that brings the chains, as often as you like. What has a link already stays as it is: a
    later change of it is for `verify_medicine_records` to find, never for this command to cover up."""

    help = "Take medicine entries that have no link yet into the chain of their record."

    def handle(self, **_: Any) -> None:
        begun = 0
        for person in Person.objects.order_by("pk"):
            with transaction.atomic():
                Yard.objects.hold(Yard.objects.filter(keeper=person).values_list("pk", flat=True))
                locked = _without_link(person, locked_standing(Q(keeper=person)))
                begun += note(person.pk, locked, what=What.LOCKED)
                if person.forgotten_at is None:
                    mine = [*uses_standing(Q(yard__keeper=person)), *kept_standing(Q(keeper=person))]
                    begun += note(person.pk, _without_link(person, mine), what=What.TAKEN_IN)
        self.stdout.write(f"{begun} entries were taken into the chain of their record.")


def _without_link(person: Person, entries: Iterable[Stands]) -> list[Stands]:
    linked = set(MedicineLink.objects.filter(keeper=person).values_list("kind", "entry"))
    return [one for one in entries if (one.kind.value, one.entry) not in linked]
