"""People, clubs, regions and who belongs where."""

import datetime as dt
import secrets
from typing import TYPE_CHECKING, ClassVar

from django.conf import settings
from django.contrib.auth.base_user import AbstractBaseUser
from django.contrib.postgres.fields import ArrayField
from django.core.exceptions import ValidationError
from django.db import models
from django.db.models.functions import Lower
from django.utils.functional import cached_property

from apiaries.history import keeps_history, keeps_history_of_pairs, keeps_history_without
from apiaries.language import say
from apiaries.models.accounts import PersonManager
from apiaries.permissions import Permission, Role, has_permission
from apiaries.zones import zone_names

if TYPE_CHECKING:
    from apiaries.models.sign_ins import SignIn


def known_time_zone(name: str) -> None:
    """Refuse a zone that the time zone data base does not have."""
    if name not in zone_names():
        raise ValidationError(say("Choose a time zone such as Europe/Berlin."))


def new_token() -> str:
    """An opaque word for links that leave the house: 192 random bits."""
    return secrets.token_urlsafe(24)


@keeps_history_without("password", "last_login")
class Person(AbstractBaseUser):
    """Somebody who signs in, by e-mail; `known_to` somebody, no account but a name in a file that those brought in."""

    email = models.EmailField(max_length=254, unique=True)
    name = models.CharField(max_length=100)
    time_zone = models.CharField(max_length=64, default="UTC", validators=[known_time_zone])
    language = models.CharField(
        max_length=10,
        choices=settings.LANGUAGES,
        default=settings.LANGUAGE_CODE,
        help_text="Of pages, mails and papers.",
    )
    mail_at = models.TimeField(
        default=dt.time(7, 0), help_text="When the daily mail leaves, in their own zone."
    )
    wants_mail = models.BooleanField(default=True, help_text="Mails about recounts and steps of treatments.")
    wants_calls = models.BooleanField(
        default=True, help_text="Mails that ask for routine counts and for count weeks."
    )
    wants_bulletins = models.BooleanField(
        default=True, help_text="A line in the mail when the club's monthly bulletin is issued."
    )
    quiet_days = ArrayField(
        models.PositiveSmallIntegerField(),
        default=list,
        blank=True,
        help_text="Days of the week without mail: 0 is Monday, as in datetime.date.weekday().",
    )
    is_operator = models.BooleanField(
        default=False,
        help_text="Runs this server: sees which mails wait or failed, in all clubs, and no counts.",
    )
    is_active = models.BooleanField(default=True)
    known_to = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="named"
    )
    joined_at = models.DateTimeField(auto_now_add=True)
    second_step_reset_at = models.DateTimeField(null=True, blank=True, help_text="Last taken off by others.")
    forgotten_at = models.DateTimeField(
        null=True,
        blank=True,
        help_text="Since then the row stands for a former member and says nothing of them.",
    )

    objects = PersonManager()

    has_totp: bool | None = None
    """Whether an authenticator app is set up; None: that was not read along (`apiaries.brought_along`)."""
    sign_in: "SignIn | None" = None  # by which they ask, where that was read along
    shell_version: str | None = None  # another once head or foot of their pages is to be drawn otherwise

    USERNAME_FIELD = "email"
    REQUIRED_FIELDS: ClassVar[list[str]] = ["name"]

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(email=Lower("email")), name="apiaries_person_email_lower_case"
            ),
            models.CheckConstraint(
                # Somebody with seven quiet days wants no mail at all, and says that instead.
                condition=models.Q(quiet_days__contained_by=list(range(7)))
                & ~models.Q(quiet_days__contains=list(range(7))),
                name="apiaries_person_quiet_days_of_a_week",
            ),
            models.CheckConstraint(
                condition=models.Q(known_to=None) | models.Q(is_active=False), name="apiaries_person_named"
            ),
        ]

    def __str__(self) -> str:
        return self.name or self.email

    @cached_property
    def membership(self) -> "Membership | None":
        """The club they belong to now, read once per request; None for somebody who left or never joined."""
        return self.memberships.current().select_related("club").first()

    def can(self, permission: Permission) -> bool:
        """Whether their role in the club includes the permission."""
        membership = self.membership
        return has_permission(membership.role if membership else None, permission)


@keeps_history
class Club(models.Model):
    """A beekeeping club or an inspection service: the house that yards, regions and people belong to."""

    name = models.CharField(max_length=120, unique=True)
    time_zone = models.CharField(max_length=64, validators=[known_time_zone])
    jurisdiction = models.CharField(
        max_length=8, default="any", help_text="Whose labels apply, as in the table of ways of treating."
    )
    action_level_issuer = models.CharField(
        max_length=60, blank=True, help_text="Whose published action levels counts are compared with."
    )
    bees_per_half_cup = models.PositiveSmallIntegerField(
        default=300, help_text="Bees taken as one level half US cup (118 mL); published figures: 300 and 400."
    )
    count_months = ArrayField(
        models.PositiveSmallIntegerField(),
        default=list,
        blank=True,
        help_text="Months, 1 to 12, in which the club asks for a count in every yard.",
    )
    visit_rule = models.CharField(
        max_length=40,
        blank=True,
        help_text="How many colonies an inspector opens: a key of the table of rules, or the club's own; empty: all.",
    )
    visit_share_percent = models.PositiveSmallIntegerField(default=10, help_text="Of the club's own rule.")
    visit_at_least = models.PositiveSmallIntegerField(default=10, help_text="Of the club's own rule.")
    is_invented = models.BooleanField(default=False, help_text="A made-up club for showing how it works.")
    founded_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(bees_per_half_cup__gte=150, bees_per_half_cup__lte=600),
                name="apiaries_club_bees_per_half_cup_plausible",
            ),
            models.CheckConstraint(
                condition=models.Q(count_months__contained_by=list(range(1, 13))),
                name="apiaries_club_count_months_of_a_year",
            ),
            models.CheckConstraint(
                condition=models.Q(visit_share_percent__gte=1, visit_share_percent__lte=100),
                name="apiaries_club_visit_share_of_a_hundred",
            ),
        ]

    def __str__(self) -> str:
        return self.name


@keeps_history
class Region(models.Model):
    """A part of the club's area, coarse enough to be shown to others."""

    club = models.ForeignKey(Club, on_delete=models.PROTECT, related_name="regions")
    name = models.CharField(max_length=80)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint("club", Lower("name"), name="apiaries_region_name_unique_in_club"),
            # The target of yards' composite key: a yard cannot point into another club's region.
            models.UniqueConstraint(fields=["id", "club"], name="apiaries_region_id_club"),
        ]

    def __str__(self) -> str:
        return self.name


class MembershipQuerySet(models.QuerySet["Membership"]):
    def current(self) -> "MembershipQuerySet":
        """Those that have not ended."""
        return self.filter(ended_at=None)


@keeps_history
class Membership(models.Model):
    """A person's place in a club. A person has one at a time; ended ones stay as history."""

    club = models.ForeignKey(Club, on_delete=models.PROTECT, related_name="memberships")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="memberships")
    role = models.CharField(max_length=16, choices=[(role.value, role.value) for role in Role])
    shares_counts = models.BooleanField(
        default=False, help_text="Whether coordinators may see this member's yards and single counts."
    )
    regions = models.ManyToManyField(
        Region, blank=True, help_text="For inspectors: where they see every yard."
    )
    started_at = models.DateTimeField(auto_now_add=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="memberships_ended"
    )

    objects = MembershipQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["person"], condition=models.Q(ended_at=None), name="apiaries_membership_one_at_a_time"
            ),
            models.CheckConstraint(
                condition=models.Q(role__in=[role.value for role in Role]),
                name="apiaries_membership_role_known",
            ),
            models.CheckConstraint(
                condition=models.Q(ended_at=None, ended_by=None)
                | models.Q(ended_at__isnull=False, ended_by__isnull=False),
                name="apiaries_membership_ended_pair",
            ),
        ]
        indexes = [models.Index(fields=["club", "role"], name="apiaries_membership_club_role")]

    def __str__(self) -> str:
        return f"{self.person} in {self.club} ({self.role})"


@keeps_history_of_pairs
class MembershipRegion(Membership.regions.through):  # type: ignore[name-defined]
    """A region that an inspector has: the row of the membership itself does not change with it."""

    class Meta:
        proxy = True

    def __str__(self) -> str:
        return f"{self.membership_id} {self.region_id}"


@keeps_history
class Invitation(models.Model):
    """A coordinator's or administrator's word that somebody may join, good for one person and a limited time."""

    club = models.ForeignKey(Club, on_delete=models.PROTECT, related_name="invitations")
    email = models.EmailField(max_length=254)
    role = models.CharField(max_length=16, choices=[(role.value, role.value) for role in Role])
    regions = models.ManyToManyField(Region, blank=True)
    token = models.CharField(max_length=64, unique=True, default=new_token)
    invited_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="invitations_sent")
    invited_at = models.DateTimeField(auto_now_add=True)
    expires_at = models.DateTimeField()
    accepted_at = models.DateTimeField(null=True, blank=True)
    accepted_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="invitations_accepted"
    )
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="invitations_withdrawn"
    )

    class Meta:
        ordering = ["-invited_at"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(accepted_at=None, accepted_by=None)
                | models.Q(accepted_at__isnull=False, accepted_by__isnull=False),
                name="apiaries_invitation_accepted_pair",
            ),
            models.CheckConstraint(
                condition=models.Q(withdrawn_at=None, withdrawn_by=None)
                | models.Q(withdrawn_at__isnull=False, withdrawn_by__isnull=False),
                name="apiaries_invitation_withdrawn_pair",
            ),
            models.CheckConstraint(
                condition=models.Q(email=Lower("email")), name="apiaries_invitation_email_lower_case"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.email} to {self.club}"

    def is_open(self, at: dt.datetime) -> bool:
        """Whether it can still be accepted at that moment."""
        return self.accepted_at is None and self.withdrawn_at is None and at < self.expires_at
