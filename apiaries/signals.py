"""What other apps may hear of this one without it knowing them (the layers point one way)."""

from django.dispatch import Signal

# Sent inside the transaction in which colonies came to a yard or left it. Arguments: yards, a frozenset of their keys.
colonies_changed = Signal()
