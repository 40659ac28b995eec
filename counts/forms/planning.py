"""How many colonies of a yard to sample."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from counts.forms.fields import Whole

USUAL = 8
"""Colonies that the page begins with: Lee et al. 2010, abstract."""


class ChooseForm(forms.Form):
    """How many colonies to sample."""

    k = Whole(label="Colonies to sample", wrong="Enter how many colonies, as a whole number from 1 on.")

    def __init__(self, *args: Any, of: int, **kwargs: Any) -> None:
        super().__init__(*args, initial={"k": min(USUAL, of)}, **kwargs)
        self.of = of
        self.fields["k"].help_text = f"Of {of}. More colonies say more than more bees of the same ones."

    def clean_k(self) -> int:
        k: int = self.cleaned_data["k"]
        if k < 1:
            raise ValidationError("Enter at least 1 colony.")
        if k > self.of:
            raise ValidationError(f"Only {self.of} colonies live here. Enter that number or less.")
        return k

    @property
    def usable(self) -> int:
        """The number as typed, or the usual one where none could be read."""
        typed = self.cleaned_data.get("k") if self.is_bound and self.is_valid() else None
        return max(1, min(typed or USUAL, self.of))
