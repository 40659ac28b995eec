"""The outbox: what is told to whom, the mails that carry it, and what keeps them from leaving."""

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from apiaries.history import keeps_history
from apiaries.models import Person


class DigestState(models.TextChoices):
    """What has become of a day's mail."""

    PENDING = "pending", "waiting"
    SENT = "sent", "sent"
    EMPTY = "empty", "nothing left to say"
    EXPIRED = "expired", "too late to be of use"
    DEAD = "dead", "could not be delivered"


class Digest(models.Model):
    """The one mail of a person's day. Its row is locked while the mail is sent, so that two senders cannot both."""

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="digests")
    on = models.DateField(help_text="The day in the person's time zone.")
    send_at = models.DateTimeField(help_text="Their mail hour that day, as an instant.")
    next_at = models.DateTimeField(help_text="When to try (again).")
    useless_after = models.DateTimeField()
    state = models.CharField(max_length=8, choices=DigestState.choices, default=DigestState.PENDING)
    sent_at = models.DateTimeField(null=True, blank=True)
    message_id = models.CharField(max_length=120, unique=True)

    class Meta:
        ordering = ["next_at", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["person", "on"], name="reports_digest_one_a_day"),
            models.CheckConstraint(
                condition=Q(state=DigestState.SENT, sent_at__isnull=False)
                | ~Q(state=DigestState.SENT) & Q(sent_at=None),
                name="reports_digest_sent_has_a_time",
            ),
        ]
        indexes = [
            # What the sender asks for, every time it wakes.
            # With the key in it, a run of the sender can go on where it was, past what it sent itself.
            models.Index(
                fields=["next_at", "id"], condition=Q(state="pending"), name="reports_digest_pending"
            )
        ]

    def __str__(self) -> str:
        return f"mail to {self.person_id} of {self.on}"


class DigestAttempt(models.Model):
    """One try to send a mail, written before the try in a transaction of its own, so that a crash leaves a trace."""

    digest = models.ForeignKey(Digest, on_delete=models.PROTECT, related_name="attempts")
    started_at = models.DateTimeField()
    outcome = models.CharField(
        max_length=12, blank=True, help_text="sent, later, refused, outage; empty: it crashed."
    )
    detail = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["started_at", "pk"]

    def __str__(self) -> str:
        return f"{self.digest_id} at {self.started_at}"


class NoticeKind(models.TextChoices):
    """Why somebody is written to."""

    RECOUNT_SOON = "recount_soon", _("a recount is coming up")
    RECOUNT_DUE = "recount_due", _("a recount is due")
    RECOUNT_LATE = "recount_late", _("a recount is late")
    ROUND_SOON = "round_soon", _("a round is coming up")
    ROUND_DUE = "round_due", _("a round is due")
    ROUND_LATE = "round_late", _("a round is late")
    OUT_SOON = "out_soon", _("something is to be taken out soon")
    OUT_DUE = "out_due", _("something is to be taken out")
    OUT_LATE = "out_late", _("something should have been taken out")
    CLEAR_DUE = "clear_due", _("a withdrawal period is over")
    COUNT_DUE = "count_due", _("a routine count is asked for")
    COUNT_LATE = "count_late", _("a routine count was not made")
    WEEK_DUE = "week_due", _("a count week has begun")
    WEEK_LATE = "week_late", _("a count week is ending")
    BULLETIN = "bulletin", _("a bulletin is issued")
    VISIT_PLANNED = "visit_planned", _("a visit is planned")
    VISIT_REPORT = "visit_report", _("the report of a visit is there")


NEWS = (NoticeKind.BULLETIN, NoticeKind.VISIT_PLANNED, NoticeKind.VISIT_REPORT)
"""Told once, in a line; nothing is owed about them."""


@keeps_history
class Notice(models.Model):
    """One thing to tell one person on one day: the outbox.

    Its key comes from the fact, so that planning twice is harmless.
    """

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="notices")
    kind = models.CharField(max_length=16, choices=NoticeKind.choices)
    subject = models.CharField(max_length=60, help_text="What it is about, such as recount:12.")
    on = models.DateField(help_text="The day in the person's time zone.")
    planned_at = models.DateTimeField()
    digest = models.ForeignKey(Digest, on_delete=models.PROTECT, related_name="notices")
    caught_up = models.BooleanField(
        default=False, help_text="Planned after its day, because nothing ran on that day: the mail says so."
    )
    withdrawn_at = models.DateTimeField(
        null=True, blank=True, help_text="When it turned out to be done before it was sent."
    )

    class Meta:
        ordering = ["on", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["person", "kind", "subject", "on"], name="reports_notice_once")
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.subject} to {self.person_id} on {self.on}"


class Heartbeat(models.Model):
    """When something that runs by itself last came to its end: written by the work, for a process may be deaf."""

    name = models.CharField(max_length=20, unique=True)
    at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.name} at {self.at}"


@keeps_history
class PutOff(models.Model):
    """'Not now, remind me then': one person's wish about one thing to do. It changes nothing about the thing."""

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="put_offs")
    subject = models.CharField(max_length=60, help_text="What it is about, as in a notice.")
    until = models.DateField(help_text="The day from which it is told again.")
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["person", "subject"], name="reports_putoff_one_a_subject")
        ]

    def __str__(self) -> str:
        return f"{self.subject} put off until {self.until}"


class MailOutage(models.Model):
    """A time in which no mail could leave to anybody. Kept when it is over: each has its row."""

    since = models.DateTimeField()
    last_tried_at = models.DateTimeField()
    next_try_at = models.DateTimeField(help_text="When one sender asks again; the others wait.")
    tries = models.PositiveIntegerField()
    last_error = models.CharField(max_length=300)
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-since", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["ended_at"],
                condition=Q(ended_at=None),
                nulls_distinct=False,
                name="reports_mailoutage_one_open",
            )
        ]

    def __str__(self) -> str:
        return f"no mail since {self.since}"


class Suspension(models.Model):
    """An address that a mail server refused for good; nothing is sent there until the person lifts it."""

    person = models.OneToOneField(Person, on_delete=models.CASCADE, related_name="suspension")
    email = models.EmailField()
    why = models.CharField(max_length=300)
    since = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.email} since {self.since}"
