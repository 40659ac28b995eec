"""Saying that one leaves and is forgotten, or that a member wishes it."""

from typing import Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from apiaries.actions import LastAdministrator
from apiaries.forms.base import PageForm
from apiaries.language import say, say_as
from apiaries.models import Person

NEEDS_ANOTHER = _(
    "The club needs an administrator. Make somebody else one first: open Members, then Change beside a name."
)


def word_to_type() -> str:
    """What is typed so that nobody does this by a slip, in the reader's language."""
    return say_as("word to type when leaving", "forget")


class LeaveForm(PageForm):
    """The password again, and a word. Who has no password has signed in by a mailed code just before."""

    password = forms.CharField(
        label=_("Your password"),
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        error_messages={"required": _("Enter your password.")},
    )
    word = forms.CharField(
        max_length=40,
        error_messages={"required": _("Type the word.")},
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "none", "size": "12"}),
    )

    refusals: ClassVar = {LastAdministrator: (None, NEEDS_ANOTHER)}

    def __init__(self, *args: Any, person: Person, signed_in_lately: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.person, self.signed_in_lately = person, signed_in_lately
        self.fields["word"].label = say("Type “{word}”", word=word_to_type())
        if not person.has_usable_password():
            del self.fields["password"]

    def clean_password(self) -> str:
        password: str = self.cleaned_data["password"]
        if not self.person.check_password(password):
            raise ValidationError(say("This is not your password."))
        return password

    def clean_word(self) -> str:
        word: str = self.cleaned_data["word"].strip()
        if word.casefold() != word_to_type().casefold():
            raise ValidationError(say("Type “{word}”, without the marks.", word=word_to_type()))
        return word

    def clean(self) -> dict[str, Any]:
        if "password" not in self.fields and not self.signed_in_lately:
            raise ValidationError(
                say(
                    "You sign in with mailed codes. Sign out, sign in again, and come back within five minutes:"
                    " so it is certain that it is you."
                )
            )
        return super().clean() or self.cleaned_data


class MemberForgetForm(LeaveForm):
    """The administrator's own password, the word, and that there is a letter or a mail."""

    in_writing = forms.BooleanField(
        label=_("I have their wish in writing"),
        help_text=_(
            "Keep the letter or the mail where the club keeps its papers; nothing of it is stored here."
        ),
        error_messages={"required": _("Without their written wish nobody is forgotten.")},
    )
    field_order: ClassVar = ["in_writing", "password", "word"]
