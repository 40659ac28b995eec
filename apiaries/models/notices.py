"""Mails about changes of somebody's account: written with the change, sent by the minute's tick."""

import datetime as dt
import uuid
from urllib.parse import urlsplit

from django.conf import settings
from django.db import models
from django.db.models import Q

from apiaries.models.people import Person


class NoticeKind(models.TextChoices):
    """What changed."""

    PASSWORD = "password", "the password"
    EMAIL = "email", "the address they sign in with"
    EMAIL_ADDED = "email_added", "one more address to sign in with"
    EMAIL_REMOVED = "email_removed", "one address less"
    STEP_ON = "step_on", "the second step is on"
    STEP_OFF = "step_off", "the second step is off"
    STEP_RESET = "step_reset", "the second step was taken off by somebody else"
    CODES = "codes", "recovery codes made anew"
    TOKEN_MADE = "token_made", "a token for a program"
    TOKEN_REVOKED = "token_revoked", "a token works no longer"
    ROLE = "role", "the role, or an inspector's regions"
    LEAVING = "leaving", "the wish to be forgotten"
    SIGNED_OUT = "signed_out", "signed out everywhere by an administrator"


class AccountNoticeQuerySet(models.QuerySet["AccountNotice"]):
    def waiting(self) -> "AccountNoticeQuerySet":
        """Neither sent nor given up."""
        return self.filter(sent_at=None, given_up_at=None)

    def due(self, at: dt.datetime) -> "AccountNoticeQuerySet":
        """Those to be tried at that moment."""
        return self.waiting().filter(next_at__lte=at)


class AccountNotice(models.Model):
    """One mail, ready as it was when the change was made. Its words go once it is sent or given up.

    No history is kept of it: it is a message, and the change has its own.
    """

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="account_notices")
    kind = models.CharField(max_length=16, choices=NoticeKind.choices)
    to = models.EmailField(max_length=254, help_text="Where it goes: of a changed address, both.")
    subject = models.CharField(max_length=300)
    text = models.TextField(blank=True)
    html = models.TextField(blank=True)
    key = models.UUIDField(
        unique=True, default=uuid.uuid4, help_text="Names the message, in each copy of it."
    )
    made_at = models.DateTimeField()
    next_at = models.DateTimeField(help_text="When it is tried next.")
    useless_after = models.DateTimeField()
    tries = models.PositiveSmallIntegerField(default=0)
    sent_at = models.DateTimeField(null=True, blank=True)
    given_up_at = models.DateTimeField(null=True, blank=True)
    why_not = models.CharField(max_length=300, blank=True, help_text="What the mail server last said.")

    objects = AccountNoticeQuerySet.as_manager()

    class Meta:
        ordering = ["made_at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind__in=NoticeKind.values), name="apiaries_accountnotice_kind_known"
            ),
            models.CheckConstraint(
                condition=Q(sent_at=None) | Q(given_up_at=None), name="apiaries_accountnotice_one_end"
            ),
            models.CheckConstraint(
                condition=Q(sent_at=None, given_up_at=None) | Q(text="", html=""),
                name="apiaries_accountnotice_words_go",
            ),
        ]
        indexes = [
            models.Index(
                fields=["next_at", "id"],
                condition=Q(sent_at=None, given_up_at=None),
                name="apiaries_accountnotice_waiting",
            )
        ]

    def __str__(self) -> str:
        return f"{self.kind} of {self.person_id}"

    @property
    def message_id(self) -> str:
        """The same in every copy, so that a mail program can tell a doubled one."""
        return f"<account-{self.key}@{urlsplit(settings.SITE_URL).hostname}>"
