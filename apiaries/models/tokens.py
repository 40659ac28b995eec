"""Tokens of other programs that ask in a person's name."""

import datetime as dt
from hashlib import sha256

from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import F, Q

from apiaries.api.scopes import Scope
from apiaries.history import keeps_history_without
from apiaries.models.people import Person


class AccessTokenQuerySet(models.QuerySet["AccessToken"]):
    def standing(self, at: dt.datetime) -> "AccessTokenQuerySet":
        """Those that work at that moment: not revoked, not over, of somebody whose account is open."""
        return self.filter(revoked_at=None, expires_at__gt=at, person__is_active=True)

    def visible_to(self, person: Person) -> "AccessTokenQuerySet":
        """One's own, and nobody else's."""
        return self.filter(person=person)

    def with_word(self, word: str) -> "AccessToken | None":
        """The one whose secret word this is, with its person."""
        return self.select_related("person").filter(digest=digest_of(word)).first()


# When it was last used is no fact anybody is asked about later, and would leave a row for every hour.
@keeps_history_without("digest", "last_used_at")
class AccessToken(models.Model):
    """What another program signs in with, in a person's name and within some scopes.

    Its word is a secret: only the digest is kept, so it is shown once, when it is made. The word is 200 random bits;
    of these the `prefix` tells 40, and a plain SHA-256 of the rest cannot be guessed back.
    """

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="access_tokens")
    name = models.CharField(max_length=60, help_text="What it is for, in the person's words.")
    digest = models.CharField(max_length=64, unique=True, help_text="SHA-256 of the word.")
    prefix = models.CharField(max_length=8, help_text="The first letters of the word, to know it by.")
    scopes = ArrayField(models.CharField(max_length=20), help_text="What it may be used for.")
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    last_used_at = models.DateTimeField(null=True, blank=True, help_text="The hour it was last used in.")
    revoked_at = models.DateTimeField(null=True, blank=True)
    revoked_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="access_tokens_revoked"
    )

    objects = AccessTokenQuerySet.as_manager()

    class Meta:
        ordering = ["-made_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(scopes__contained_by=[scope.value for scope in Scope]) & ~Q(scopes=[]),
                name="apiaries_accesstoken_scopes_known",
            ),
            models.CheckConstraint(
                condition=Q(expires_at__gt=F("made_at"))
                & Q(expires_at__lte=F("made_at") + dt.timedelta(days=366)),
                name="apiaries_accesstoken_ends_within_a_year",
            ),
            models.CheckConstraint(
                condition=Q(revoked_at=None, revoked_by=None)
                | Q(revoked_at__isnull=False, revoked_by__isnull=False),
                name="apiaries_accesstoken_revoked_pair",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name} ({self.prefix}…)"


def digest_of(word: str) -> str:
    """What is kept of a token's word."""
    return sha256(word.encode(errors="replace")).hexdigest()
