"""Addresses at which a calendar program reads."""

from django.db import models
from django.db.models import Q

from apiaries.history import keeps_history_without
from apiaries.models import Person, Yard


class CalendarFeedQuerySet(models.QuerySet["CalendarFeed"]):
    def standing(self) -> "CalendarFeedQuerySet":
        """Those that nobody revoked."""
        return self.filter(revoked_at=None)


@keeps_history_without("digest")
class CalendarFeed(models.Model):
    """An address at which a calendar program reads what a person has to do, in all their yards or in one.

    The word in the address is a secret: only its digest is kept, so it is shown once, when it is made.
    """

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="calendar_feeds")
    yard = models.ForeignKey(
        Yard, null=True, blank=True, on_delete=models.PROTECT, related_name="calendar_feeds"
    )
    digest = models.CharField(max_length=64, unique=True, help_text="SHA-256 of the word in the address.")
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="calendar_feeds_made")
    revoked_at = models.DateTimeField(null=True, blank=True)
    revoked_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="calendar_feeds_revoked"
    )

    objects = CalendarFeedQuerySet.as_manager()

    class Meta:
        ordering = ["made_at", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["person", "yard"],
                condition=Q(revoked_at=None),
                name="reports_calendarfeed_one_a_yard",
            ),
            models.UniqueConstraint(
                fields=["person"],
                condition=Q(revoked_at=None, yard=None),
                name="reports_calendarfeed_one_for_all",
            ),
            models.CheckConstraint(
                condition=Q(revoked_at=None, revoked_by=None)
                | Q(revoked_at__isnull=False, revoked_by__isnull=False),
                name="reports_calendarfeed_revoked_pair",
            ),
        ]

    def __str__(self) -> str:
        return f"calendar of {self.person_id}, {self.yard_id or 'all yards'}"
