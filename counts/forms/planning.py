"""How many colonies of a yard to sample."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from apiaries.language import say, say_many
from counts.constants import DEFAULTS
from counts.forms.fields import Whole

USUAL = 8
"""Colonies that the page begins with: Lee et al. 2010, abstract."""
TOO_MANY = "too_many"


class ChooseForm(forms.Form):
    """How many colonies to sample. What cannot be read is said, and a list is shown all the same."""

    k = Whole(label=_("Colonies to sample"), wrong=_("Enter how many colonies, as a whole number from 1 on."))

    def __init__(self, *args: Any, of: int, **kwargs: Any) -> None:
        super().__init__(*args, initial={"k": min(USUAL, of)}, **kwargs)
        self.of = of
        least = int(DEFAULTS.yard_colonies_min.value)
        hint = say("Of {of}. More colonies say more than more bees of the same ones.", of=of)
        if of > least:
            hint = " ".join((hint, say("At least {least}, or all, for a call.", least=least)))
        self.fields["k"].help_text = hint

    def clean_k(self) -> int:
        k: int = self.cleaned_data["k"]
        if k < 1:
            raise ValidationError(say("Enter at least 1 colony."))
        if k > self.of:
            words = say_many(
                "Only {n} colony lives here. Enter that number or less.",
                "Only {n} colonies live here. Enter that number or less.",
                self.of,
            )
            raise ValidationError(words, TOO_MANY)
        return k

    @property
    def usable(self) -> int:
        """The number as typed; all where more were wanted than there are; the usual one where none could be read."""
        if self.is_valid():
            return int(self.cleaned_data["k"])
        return self.of if self.has_error("k", TOO_MANY) else max(1, min(USUAL, self.of))
