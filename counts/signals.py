"""What other apps may hear of this one without it knowing them (the layers point one way)."""

from django.dispatch import Signal

# Sent inside the transaction that changed samples. Arguments: touched, a frozenset of (yard id, first of month).
samples_changed = Signal()
