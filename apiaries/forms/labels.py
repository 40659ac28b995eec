"""Which labels to print, and how they lie on the sheet."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from apiaries.forms.base import PageForm
from apiaries.label_sheets import BY_KEY, GRIDS, Sheet
from apiaries.language import say
from apiaries.models import Colony

MOVED_MOST = 20
MOVED_WRONG = format_lazy(_("Enter millimetres from −{most} to {most}, such as 1.5."), most=MOVED_MOST)


class Millimetres(forms.FloatField):
    """A shift on paper; left empty it is none. A comma will do, and any minus sign."""

    widget = forms.TextInput(attrs={"autocomplete": "off", "size": "6", "maxlength": "8"})

    def __init__(self, **kwargs: Any) -> None:
        wrong = dict.fromkeys(("invalid", "min_value", "max_value"), MOVED_WRONG)
        super().__init__(
            required=False, min_value=-MOVED_MOST, max_value=MOVED_MOST, error_messages=wrong, **kwargs
        )

    def to_python(self, value: Any) -> Any:
        text = str(value or "").strip().replace(",", ".").replace("\N{MINUS SIGN}", "-")
        return super().to_python(text) or 0.0


class LabelsForm(PageForm):
    """Chosen colonies on a sheet of labels."""

    colonies = forms.MultipleChoiceField(
        label=_("Labels for"),
        widget=forms.CheckboxSelectMultiple,
        error_messages={
            "required": _("Choose at least one colony."),
            "invalid_choice": _("One of these colonies is gone by now. Choose again."),
        },
    )
    sheet = forms.ChoiceField(
        label=_("Sheet"),
        choices=lambda: [(grid.key, grid.words) for grid in GRIDS],
        widget=forms.RadioSelect,
        error_messages={
            "required": _("Choose the sheet."),
            "invalid_choice": _("Choose one of these sheets."),
        },
    )
    start = forms.IntegerField(
        label=_("Begin at label"),
        min_value=1,
        help_text=_("Counted along the rows; more than 1 where the first labels of a sheet are used up."),
        error_messages=dict.fromkeys(
            ("required", "invalid", "min_value"), _("Enter a whole number from 1 on.")
        ),
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off", "size": "4"}),
    )
    right = Millimetres(label=_("Move right, mm"), help_text=_("Minus moves left."))
    below = Millimetres(label=_("Move down, mm"), help_text=_("Minus moves up."))

    def __init__(self, *args: Any, colonies: Sequence[Colony], **kwargs: Any) -> None:
        self.by_key = {str(colony.pk): colony for colony in colonies}
        start = {"colonies": list(self.by_key), "sheet": GRIDS[0].key, "start": 1, "right": 0, "below": 0}
        super().__init__(*args, initial=start, **kwargs)
        self.fields["colonies"].choices = [
            (key, say("Colony {name}", name=one.name)) for key, one in self.by_key.items()
        ]

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        grid = BY_KEY.get(cleaned.get("sheet", ""))
        if grid and (cleaned.get("start") or 1) > grid.number:
            self.add_error("start", ValidationError(say("This sheet has {n} labels.", n=grid.number)))
        return cleaned

    @property
    def chosen(self) -> list[Colony]:
        """In reading order, whatever the order in which they were sent."""
        wanted = set(self.cleaned_data["colonies"])
        return [colony for key, colony in self.by_key.items() if key in wanted]

    @property
    def how(self) -> Sheet:
        cleaned = self.cleaned_data
        return Sheet(BY_KEY[cleaned["sheet"]], cleaned["right"], cleaned["below"], cleaned["start"])
