"""What goes out to people: region figures and the outbox of mails.

`YardMonth` and `RegionMonth` are materialised so that a page reads a handful of rows however many counts there are;
everything in them can be worked out again from the counts.
"""

from django.db import models
from django.db.models import F, Q

from apiaries.history import keeps_history, keeps_history_without
from apiaries.models import Person, Region, Yard


class YardMonth(models.Model):
    """All standing counts of one kind in one yard and month, added up: one yard, one vote.

    For the region figures. Recomputed whole in the transaction that changes a count.
    """

    yard = models.ForeignKey(Yard, on_delete=models.CASCADE, related_name="months")
    region = models.ForeignKey(Region, on_delete=models.CASCADE, related_name="+")
    keeper = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="+")
    month = models.DateField(help_text="Its first day.")
    kind = models.CharField(max_length=12)
    samples = models.PositiveIntegerField()
    colonies = models.PositiveIntegerField()
    zeros = models.PositiveIntegerField(help_text="Counts in which no mite was found.")
    mites = models.PositiveBigIntegerField()
    bees = models.PositiveBigIntegerField(null=True)
    exposure = models.FloatField(
        help_text="Bees times the share a method recovers, or board days times the share counted."
    )
    squared_cv = models.FloatField(
        help_text="Of the yard's mean: between colonies and within, as the yard estimate has it."
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["yard", "month", "kind"], name="reports_yardmonth_once"),
            models.CheckConstraint(condition=Q(month__day=1), name="reports_yardmonth_first_day"),
            models.CheckConstraint(
                condition=Q(samples__gte=1, zeros__lte=F("samples"), exposure__gt=0),
                name="reports_yardmonth_not_empty",
            ),
        ]
        indexes = [models.Index(fields=["region", "month", "kind"], name="reports_yardmonth_region")]

    def __str__(self) -> str:
        return f"{self.yard_id} {self.month} {self.kind}"


class RegionMonthMark(models.Model):
    """'This region and month need working out again.' Append-only: writers never wait for each other here."""

    region = models.ForeignKey(Region, on_delete=models.CASCADE, related_name="+")
    month = models.DateField()
    marked_at = models.DateTimeField()

    class Meta:
        indexes = [models.Index(fields=["marked_at"], name="reports_mark_oldest")]

    def __str__(self) -> str:
        return f"{self.region_id} {self.month}"


class RegionMonth(models.Model):
    """One region's month and kind of count, as its page shows it. At most a minute or two behind the counts.

    `reason` is empty when the figures may be shown; else it says why not, and the page shows that instead.
    """

    region = models.ForeignKey(Region, on_delete=models.CASCADE, related_name="months")
    month = models.DateField(help_text="Its first day.")
    kind = models.CharField(max_length=12)
    yards = models.PositiveIntegerField()
    keepers = models.PositiveIntegerField()
    colonies = models.PositiveIntegerField()
    samples = models.PositiveIntegerField()
    zeros = models.PositiveIntegerField()
    mites = models.PositiveBigIntegerField()
    bees = models.PositiveBigIntegerField(null=True)
    rate = models.FloatField(null=True)
    low = models.FloatField(null=True)
    high = models.FloatField(null=True)
    median = models.FloatField(null=True)
    share_above = models.FloatField(null=True)
    share_low = models.FloatField(null=True)
    share_high = models.FloatField(null=True)
    level_key = models.CharField(
        max_length=80, blank=True, help_text="The action level that the share is about."
    )
    reason = models.CharField(max_length=40, blank=True)
    method = models.JSONField(help_text="Method version and constants.")
    computed_at = models.DateTimeField()
    frozen_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["month", "region__name", "kind"]
        constraints = [
            models.UniqueConstraint(fields=["region", "month", "kind"], name="reports_regionmonth_once"),
            models.CheckConstraint(condition=Q(month__day=1), name="reports_regionmonth_first_day"),
            models.CheckConstraint(
                condition=Q(rate=None, low=None, high=None)
                # A comparison with NULL is neither true nor false, and a CHECK lets that pass.
                | Q(rate__isnull=False, low__isnull=False, high__isnull=False)
                & Q(low__lte=F("rate"), rate__lte=F("high")),
                name="reports_regionmonth_rate_has_a_range",
            ),
            models.CheckConstraint(
                condition=Q(share_above=None, share_low=None, share_high=None)
                | Q(share_above__isnull=False, share_low__isnull=False, share_high__isnull=False)
                & Q(share_low__lte=F("share_high")),
                name="reports_regionmonth_share_has_a_range",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.region} {self.month} {self.kind}"


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
            models.Index(fields=["next_at"], condition=Q(state="pending"), name="reports_digest_pending")
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

    RECOUNT_SOON = "recount_soon", "a recount is coming up"
    RECOUNT_DUE = "recount_due", "a recount is due"
    RECOUNT_LATE = "recount_late", "a recount is late"
    ROUND_SOON = "round_soon", "a round is coming up"
    ROUND_DUE = "round_due", "a round is due"
    ROUND_LATE = "round_late", "a round is late"
    OUT_SOON = "out_soon", "something is to be taken out soon"
    OUT_DUE = "out_due", "something is to be taken out"
    OUT_LATE = "out_late", "something should have been taken out"
    CLEAR_DUE = "clear_due", "a withdrawal period is over"
    COUNT_DUE = "count_due", "a routine count is asked for"
    COUNT_LATE = "count_late", "a routine count was not made"
    WEEK_DUE = "week_due", "a count week has begun"
    WEEK_LATE = "week_late", "a count week is ending"


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


class Suspension(models.Model):
    """An address that a mail server refused for good; nothing is sent there until the person lifts it."""

    person = models.OneToOneField(Person, on_delete=models.CASCADE, related_name="suspension")
    email = models.EmailField()
    why = models.CharField(max_length=300)
    since = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.email} since {self.since}"


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
