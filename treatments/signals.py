"""What other apps may hear of this one without it knowing them (the layers point one way)."""

from django.dispatch import Signal

# Sent inside the transaction that saved, changed or cancelled a treatment. Arguments: treatment.
treatment_changed = Signal()
