"""The file that a phone writes of what waits there."""

import json
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from apiaries.entries import is_text
from apiaries.forms.base import PageForm
from apiaries.language import say
from apiaries.models import Person

BYTES_MAX = 1024 * 1024
ENTRIES_MAX = 500
"""So many counts wait on a phone only if it was never near a network for a season."""
KIND = "counts waiting on a phone"


class PhoneFileForm(PageForm):
    """One file. After `is_valid`, its entries, each with its label; each is still to be read."""

    file = forms.FileField(
        label=_("The file from the phone"),
        help_text=_("It was written with “Save them as a file”, and its name ends in .json."),
        error_messages={
            "required": _("Choose the file that the phone wrote."),
            "empty": _("This file is empty."),
        },
    )

    def __init__(self, *args: Any, person: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.person = person

    def clean_file(self) -> list[dict[str, Any]]:
        file = self.cleaned_data["file"]
        if file.size > BYTES_MAX:
            raise ValidationError(say("This file is too big to be one that a phone wrote."))
        try:
            told = json.loads(file.read())
        except (ValueError, RecursionError):
            raise ValidationError(say("This is no file that a phone wrote: it cannot be read.")) from None
        entries = told.get("entries") if isinstance(told, dict) and told.get("kind") == KIND else None
        if not isinstance(entries, list) or not all(_is_entry(one) for one in entries):
            raise ValidationError(say("This is no file that a phone wrote of counts that wait."))
        if told.get("person") != self.person.pk:
            raise ValidationError(
                say("Somebody else noted these counts. Sign in as that person to bring them in.")
            )
        if len(entries) > ENTRIES_MAX:
            raise ValidationError(say("More than {most} counts in one file.", most=ENTRIES_MAX))
        return entries


def _is_entry(told: object) -> bool:
    return isinstance(told, dict) and isinstance(told.get("body"), dict) and is_text(told.get("label"))
