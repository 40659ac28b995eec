"""Counts that count again after they were voided."""

from django.db import models

from apiaries.history import keeps_history
from apiaries.models import Person
from counts.models.sampled import MiteSample


@keeps_history
class SampleRestored(models.Model):
    """One lifting of a void: who, when and why, beside what the void had said."""

    sample = models.ForeignKey(MiteSample, on_delete=models.PROTECT, related_name="restorations")
    voided_at = models.DateTimeField()
    voided_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    voided_why = models.CharField(max_length=200)
    restored_at = models.DateTimeField()
    restored_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="samples_restored")
    restored_why = models.CharField(max_length=200)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=~models.Q(restored_why=""), name="counts_samplerestored_says_why"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.sample} counts again since {self.restored_at}"
