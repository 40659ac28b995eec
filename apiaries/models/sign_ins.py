"""Where somebody is signed in, and tries that were refused: no more than it takes to know a strange one."""

import datetime as dt

from django.contrib.sessions.models import Session
from django.db import models
from django.db.models import Exists, OuterRef, Q

from apiaries.models.people import Membership, Person
from apiaries.permissions import Role

LASTS = dt.timedelta(days=30)
"""From the sign-in on, used or not. What is told of sign-ins is kept as long."""
RESTS = dt.timedelta(days=7)
"""Of those whose role sees or sets what is not their own: unused for so long, it ends."""


class DeviceKind(models.TextChoices):
    """What a browser says of itself, as coarse as it tells two of one's own apart."""

    PHONE = "phone", "a phone"
    COMPUTER = "computer", "a computer or tablet"
    UNKNOWN = "unknown", "something else"


def sessions_that_hold(at: dt.datetime) -> "models.QuerySet[Session]":
    """Those that have not run out."""
    return Session.objects.filter(expire_date__gt=at)


class SignInQuerySet(models.QuerySet["SignIn"]):
    def visible_to(self, person: Person) -> "SignInQuerySet":
        """One's own, and nobody else's."""
        return self.filter(person=person)

    def open(self, at: dt.datetime) -> "SignInQuerySet":
        """Those whose session is still there."""
        return self.filter(Exists(sessions_that_hold(at).filter(pk=OuterRef("session_key"))))

    def over(self, at: dt.datetime) -> "SignInQuerySet":
        """As `SignIn.is_over`, of all: their session ends, if it is still there."""
        oversees = Membership.objects.current().filter(person=OuterRef("person")).exclude(role=Role.MEMBER)
        rested = Q(last_seen_at__lte=at - RESTS) & (Q(person__is_operator=True) | Exists(oversees))
        return self.filter(Q(signed_in_at__lte=at - LASTS) | rested)


class SignIn(models.Model):
    """One sign-in of one browser. Whether it still holds is its session's to say; without one it is over.

    No history is kept of it, no address that it came from, and not what the browser calls itself.
    """

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="sign_ins")
    session_key = models.CharField(max_length=40, unique=True)
    device = models.CharField(max_length=8, choices=DeviceKind.choices)
    signed_in_at = models.DateTimeField()
    last_seen_at = models.DateTimeField(help_text="The hour it was last used in, or when it began.")

    objects = SignInQuerySet.as_manager()

    class Meta:
        ordering = ["-signed_in_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(device__in=DeviceKind.values), name="apiaries_signin_device_known"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.device} of {self.person_id}"

    def is_over(self, at: dt.datetime, *, person: Person) -> bool:
        """Whether it lasted or rested too long, of one whose person is at hand with their membership. No query."""
        oversees = person.is_operator or (
            person.membership is not None and person.membership.role != Role.MEMBER
        )
        return self.signed_in_at <= at - LASTS or (oversees and self.last_seen_at <= at - RESTS)


class RefusedSignIn(models.Model):
    """A wrong password or code. Of whom, only a mark of the typed address says (`apiaries.sign_in_log`).

    Written for addresses that nobody has, too: looking them up first would tell by the time it takes.
    """

    mark = models.CharField(max_length=10)
    device = models.CharField(max_length=8, choices=DeviceKind.choices)
    at = models.DateTimeField()

    class Meta:
        ordering = ["-at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(device__in=DeviceKind.values), name="apiaries_refusedsignin_device_known"
            ),
        ]
        indexes = [models.Index(fields=["mark", "at"], name="apiaries_refusedsignin_of")]

    def __str__(self) -> str:
        return f"{self.mark} at {self.at}"
