"""Looks whether somebody changed medicine records behind the program's back."""

import sys
from typing import Any

from django.core.management.base import BaseCommand

from treatments.chain_check import all_faults
from treatments.models import MedicineLink


class Command(BaseCommand):
    """Reads only. Ends with 1 if anything is wrong."""

    help = "Check the chain of every medicine record, and that every entry is as its last link says."

    def handle(self, **_: Any) -> None:
        found = list(all_faults())
        for fault in found:
            at = f"link {fault.number}" if fault.number else "no link"
            self.stdout.write(f"keeper {fault.keeper}, {at}: {fault.broken}, {fault.kind} {fault.entry}")
        if found:
            sys.exit(1)
        self.stdout.write(f"All {MedicineLink.objects.count()} links and the entries they tell of agree.")
