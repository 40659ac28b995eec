"""The club's monthly bulletin: what it said, kept as it was said."""

import pgtrigger
from django.db import models
from django.db.models import Q

from apiaries.history import keeps_history
from apiaries.models import Club, Person

FOREWORD_MOST = 1500
"""Letters of a foreword: a quarter of a page at most (our choice)."""

# `words` and `figures` are of the moment it was made; from its issue on only the withdrawal may be added, once.
STAYS = """(
    (OLD.club_id, OLD.month, OLD.words, OLD.figures, OLD.made_at, OLD.made_by_id) IS DISTINCT FROM
    (NEW.club_id, NEW.month, NEW.words, NEW.figures, NEW.made_at, NEW.made_by_id)
    OR OLD.withdrawn_at IS NOT NULL
    OR OLD.issued_at IS NOT NULL AND (OLD.foreword, OLD.issued_at, OLD.issued_by_id) IS DISTINCT FROM
    (NEW.foreword, NEW.issued_at, NEW.issued_by_id)
)"""


class BulletinQuerySet(models.QuerySet["Bulletin"]):
    """Questions asked of bulletins."""

    def issued(self) -> "BulletinQuerySet":
        """What members may read, withdrawn ones too."""
        return self.filter(issued_at__isnull=False)


@keeps_history
class Bulletin(models.Model):
    """One month of a club, told in words and figures: a draft, then issued, perhaps withdrawn. Issued it stays."""

    club = models.ForeignKey(Club, on_delete=models.PROTECT, related_name="bulletins")
    month = models.DateField(help_text="Its first day.")
    foreword = models.CharField(max_length=FOREWORD_MOST, blank=True)
    # By language; the first ones have English paragraphs alone, as a list.
    words = models.JSONField(help_text="Paragraphs as they were written: pairs of a heading and a text.")
    figures = models.JSONField(help_text="What they were written from; see reports.bulletin_figures.")
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(
        Person,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="+",
        help_text="Empty: by itself.",
    )
    issued_at = models.DateTimeField(null=True, blank=True)
    issued_by = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    withdrawn_why = models.CharField(max_length=200, blank=True)

    objects = BulletinQuerySet.as_manager()

    class Meta:
        ordering = ["-month", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["club", "month"],
                condition=Q(withdrawn_at=None),
                name="reports_bulletin_one_a_month",
            ),
            models.CheckConstraint(condition=Q(month__day=1), name="reports_bulletin_first_day"),
            models.CheckConstraint(
                condition=Q(issued_at=None, issued_by=None)
                | Q(issued_at__isnull=False, issued_by__isnull=False),
                name="reports_bulletin_issued_whole",
            ),
            models.CheckConstraint(
                condition=Q(withdrawn_at=None, withdrawn_by=None, withdrawn_why="")
                | Q(issued_at__isnull=False, withdrawn_at__isnull=False, withdrawn_by__isnull=False)
                & ~Q(withdrawn_why=""),
                name="reports_bulletin_withdrawn_whole",
            ),
        ]
        triggers = [
            pgtrigger.Protect(
                name="issued_stays", operation=pgtrigger.Update, condition=pgtrigger.Condition(STAYS)
            ),
            pgtrigger.Protect(
                name="issued_is_not_deleted",
                operation=pgtrigger.Delete,
                condition=pgtrigger.Condition("(OLD.issued_at IS NOT NULL)"),
            ),
        ]

    def __str__(self) -> str:
        return f"bulletin of {self.club_id} for {self.month:%Y-%m}"

    @property
    def is_draft(self) -> bool:
        return self.issued_at is None

    @property
    def is_withdrawn(self) -> bool:
        return self.withdrawn_at is not None
