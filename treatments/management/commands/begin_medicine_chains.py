"""Takes medicine records that are older than their chain into it."""

from typing import Any

from django.core.management.base import BaseCommand
from django.db import transaction
from django.db.models import Q

from apiaries.models import Person, Yard
from treatments.chain import What
from treatments.chain_actions import note
from treatments.chain_texts import kept_standing, locked_standing, uses_standing
from treatments.models import MedicineLink


class Command(BaseCommand):
    """Run once, after the upgrade that brings the chains. It touches no keeper who has a chain already."""

    help = "Begin the chain of every medicine record that has none."

    def handle(self, **_: Any) -> None:
        begun = 0
        for person in Person.objects.order_by("pk"):
            with transaction.atomic():
                Yard.objects.hold(Yard.objects.filter(keeper=person).values_list("pk", flat=True))
                if MedicineLink.objects.filter(keeper=person).exists():
                    continue
                begun += note(person.pk, locked_standing(Q(keeper=person)), what=What.LOCKED)
                if person.forgotten_at is None:
                    mine = [*uses_standing(Q(yard__keeper=person)), *kept_standing(Q(keeper=person))]
                    begun += note(person.pk, mine, what=What.TAKEN_IN)
        self.stdout.write(f"{begun} entries were taken into the chain of their record.")
