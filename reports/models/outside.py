"""Where people outside a club see what it published."""

from django.db import models
from django.db.models import Q

from apiaries.models import Club, Person


class PublicPage(models.Model):
    """A club shows its published months at an address of their own, to whoever has it. Off unless it says so.

    A page that was closed stays closed: opened again, it has another address.
    """

    club = models.ForeignKey(Club, on_delete=models.PROTECT, related_name="public_pages")
    word = models.CharField(
        max_length=48, unique=True, help_text="In the address; it says nothing of the club."
    )
    opened_at = models.DateTimeField()
    opened_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["opened_at", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["club"], condition=Q(closed_at=None), name="reports_publicpage_one_open"
            ),
            models.CheckConstraint(
                condition=Q(closed_at=None, closed_by=None)
                | Q(closed_at__isnull=False, closed_by__isnull=False),
                name="reports_publicpage_closed_pair",
            ),
        ]

    def __str__(self) -> str:
        return f"published months of {self.club}"
