"""Exports that came back: while their owner looks at what they hold, and who brought in what from where."""

from django.db import models
from django.db.models import Q

from apiaries.models import Person, Yard


class ReturnedFile(models.Model):
    """A file that was brought, and whether its owner said yes to it.

    Its bytes are kept until it is brought in or given up, a day at most; where the yards came from stays to be seen.
    """

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="files_returned")
    content = models.BinaryField()
    sha256 = models.CharField(max_length=64)
    told = models.JSONField(help_text="What the file says of itself, and how much it holds.")
    sent_at = models.DateTimeField()
    brought_at = models.DateTimeField(null=True, blank=True)
    yards = models.ManyToManyField(Yard, blank=True, related_name="came_from")

    class Meta:
        ordering = ["-sent_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["person"], condition=Q(brought_at=None), name="reports_returnedfile_one_open"
            ),
            models.CheckConstraint(
                condition=Q(brought_at=None) | Q(content=b""), name="reports_returnedfile_no_bytes_kept"
            ),
        ]

    def __str__(self) -> str:
        return f"file of {self.person}, sent {self.sent_at}"
