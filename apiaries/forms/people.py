"""Invitations, joining, and what people say about themselves."""

import datetime as dt
from typing import Any, ClassVar

from allauth.core import context
from django import forms
from django.conf import settings
from django.core.exceptions import ValidationError
from django.http import HttpRequest
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from apiaries.fields import OneLine, TimeZone
from apiaries.forms.base import PageForm
from apiaries.invitations import kept_invitation
from apiaries.language import say, weekday_name
from apiaries.models import Membership, Person


class JoinForm(forms.Form):
    """What the sign-up page asks besides address and password. The sign-up form of allauth is built on this one."""

    name = OneLine(
        max_length=100,
        label=_("Your name"),
        help_text=_("As your club knows you."),
        error_messages={"required": _("Enter your name.")},
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
    )

    field_order: ClassVar = ["name", "email", "password1"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        invitation = kept_invitation(context.request, at=timezone.now())
        if "email" in self.fields and invitation is not None:
            self.initial["email"] = invitation.email
            self.fields["email"].help_text = say("The address your invitation came to.")

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        invitation = kept_invitation(context.request, at=timezone.now())
        email = (cleaned.get("email") or "").lower()
        if email and (invitation is None or email != invitation.email):
            self.add_error(
                "email", _("Use the address your invitation came to, or ask for an invitation to this one.")
            )
        return cleaned

    def signup(self, request: HttpRequest, user: Person) -> None:
        """Nothing is left to do: the adapter let them join in the transaction that made the person."""


class MeForm(PageForm):
    """What people say about themselves."""

    name = OneLine(
        max_length=100,
        label=_("Your name"),
        error_messages={"required": _("Enter your name.")},
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
    )
    language = forms.ChoiceField(
        label=_("Language"),
        help_text=_("Of pages, mails and papers."),
        choices=settings.LANGUAGES,
        error_messages={
            "required": _("Choose a language."),
            "invalid_choice": _("Choose one of the languages."),
        },
    )
    time_zone = TimeZone(label=_("Your time zone"), help_text=_("For the hour of your mail."))
    mail_at = forms.TypedChoiceField(
        label=_("Daily mail at"),
        help_text=_(
            "One mail on days when something is due, never more, and none from 21:00 to 07:00"
            " unless you choose an hour of the night."
        ),
        coerce=dt.time.fromisoformat,
    )
    wants_mail = forms.BooleanField(required=False, label=_("Mail me about recounts and steps of treatments"))
    wants_calls = forms.BooleanField(
        required=False, label=_("Mail me calls for routine counts and for count weeks")
    )
    wants_bulletins = forms.BooleanField(
        required=False, label=_("Tell me in the mail when the club’s bulletin is issued")
    )
    quiet_days = forms.TypedMultipleChoiceField(
        required=False,
        label=_("Days without mail"),
        help_text=_("What is due on such a day comes on the next other day."),
        choices=lambda: [(weekday, weekday_name(weekday)) for weekday in range(7)],
        coerce=int,
        widget=forms.CheckboxSelectMultiple,
    )
    shares_counts = forms.BooleanField(required=False, label=_("Coordinators may see my yards and counts"))

    refusals: ClassVar = {ValidationError: (None, _("This could not be saved. Look at each line again."))}
    as_kept: ClassVar = (
        "name",
        "language",
        "time_zone",
        "wants_mail",
        "wants_calls",
        "wants_bulletins",
        "quiet_days",
    )

    def __init__(self, *args: Any, person: Person, membership: Membership | None, **kwargs: Any) -> None:
        known = {name: getattr(person, name) for name in self.as_kept}
        known["mail_at"] = f"{person.mail_at:%H:%M}"
        super().__init__(*args, initial=known, **kwargs)
        hours = sorted({*(f"{hour:02}:00" for hour in range(24)), known["mail_at"]})
        self.fields["mail_at"].choices = [(hour, hour) for hour in hours]
        if membership is None:
            del self.fields["shares_counts"]
        else:
            self.initial["shares_counts"] = membership.shares_counts

    def clean_quiet_days(self) -> list[int]:
        """Seven days without mail are said in another way."""
        days: list[int] = self.cleaned_data["quiet_days"]
        if len(days) == 7:
            raise ValidationError(
                say("Leave one day unticked. If you want no mail at all, untick the three mails instead.")
            )
        return days
