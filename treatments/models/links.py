"""The chain of each keeper's medicine record, and the salt of each entry in it."""

from django.db import models
from django.db.models import Q

from apiaries.models import Person
from treatments.chain import NO_DIGEST, NO_LINK, Head, Link, What
from treatments.medicine import Entry

KINDS = [(entry.value, entry.value) for entry in Entry]


class MedicineLink(models.Model):
    """One thing that happened to one entry of a keeper's medicine record. Never changed and never deleted.

    It names nobody and quotes nothing: what the entry said is in its digest, whose salt goes with the entry.
    Triggers of migration 0009 refuse everything but the next link.
    """

    keeper = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    number = models.PositiveIntegerField(help_text="1, 2, 3 … in the chain of the keeper.")
    kind = models.CharField(max_length=8, choices=KINDS)
    entry = models.UUIDField(help_text="The entry's own key.")
    what = models.CharField(max_length=16, choices=[(what.value, what.value) for what in What])
    digest = models.CharField(
        max_length=64, blank=True, help_text="Of the salt and the text of the entry as it then stood."
    )
    previous = models.CharField(max_length=64, help_text="Hash of the link before; noughts before the first.")
    hash = models.CharField(max_length=64, help_text="Of everything above.")
    at = models.DateTimeField()

    class Meta:
        ordering = ["keeper", "number"]
        indexes = [models.Index(fields=["kind", "entry", "-number"], name="treatments_link_entry")]
        constraints = [
            models.UniqueConstraint(fields=["keeper", "number"], name="treatments_medicinelink_one_a_number"),
            models.UniqueConstraint(fields=["keeper", "previous"], name="treatments_medicinelink_no_fork"),
            models.CheckConstraint(
                condition=Q(number=1, previous=NO_LINK) | Q(number__gt=1) & ~Q(previous=NO_LINK),
                name="treatments_medicinelink_begins_once",
            ),
            models.CheckConstraint(
                condition=Q(hash__regex=r"^[0-9a-f]{64}$", previous__regex=r"^[0-9a-f]{64}$"),
                name="treatments_medicinelink_hashes",
            ),
            models.CheckConstraint(
                condition=Q(what=What.ENDED.value, digest=NO_DIGEST)
                | ~Q(what=What.ENDED.value) & Q(digest__regex=r"^[0-9a-f]{64}$"),
                name="treatments_medicinelink_digest",
            ),
        ]

    def __str__(self) -> str:
        return f"link {self.number} of keeper {self.keeper_id}: {self.kind} {self.what}"

    def as_value(self) -> Link:
        """The row as a pure value."""
        return Link(
            keeper=self.keeper_id,
            number=self.number,
            kind=self.kind,
            entry=str(self.entry),
            what=self.what,
            digest=self.digest,
            previous=self.previous,
            at=self.at,
            hash=self.hash,
        )

    def as_head(self) -> Head:
        """The row as the last of its chain."""
        return Head(keeper=self.keeper_id, number=self.number, hash=self.hash, at=self.at)


class MedicineSalt(models.Model):
    """A random number for one entry: without it nobody can try what the entry said. It goes when the entry goes.

    No row history: that would outlive it.
    """

    kind = models.CharField(max_length=8, choices=KINDS)
    entry = models.UUIDField()
    salt = models.CharField(max_length=64)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["kind", "entry"], name="treatments_medicinesalt_once"),
            models.CheckConstraint(
                condition=Q(salt__regex=r"^[0-9a-f]{64}$"), name="treatments_medicinesalt_whole"
            ),
        ]

    def __str__(self) -> str:
        return f"salt of {self.kind} {self.entry}"
