"""Choosing the form of an export, the file that comes back, and which regions its yards lie in."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from apiaries.forms.base import PageForm
from apiaries.language import say
from apiaries.models import Club, Region
from reports.export.bounded import MOST_BYTES
from reports.export.reading import NotAnExport, Package, read_export
from reports.export.writing import Form

FORM_LABELS = {
    Form.CSV: _("Spreadsheets (a zip of CSV files, one for each kind of thing)"),
    Form.XLSX: _("One workbook (XLSX, a sheet for each kind of thing)"),
    Form.JSON: _("For programs (JSON)"),
}


class TakeForm(forms.Form):
    """Which of the three forms."""

    form = forms.ChoiceField(
        label=_("Form"),
        choices=[(form.value, label) for form, label in FORM_LABELS.items()],
        widget=forms.RadioSelect,
        initial=Form.CSV.value,
        error_messages={
            "required": _("Choose a form."),
            "invalid_choice": _("Choose one of the three forms."),
        },
    )
    without_mark = forms.BooleanField(
        label=_("CSV without the mark of UTF-8 at the start"),
        help_text=_("Spreadsheet programs read umlauts right with the mark; some programs stumble over it."),
        required=False,
    )


class ReturnedForm(PageForm):
    """One file. After `is_valid`, `package` is what it holds and `content` its bytes."""

    file = forms.FileField(
        label=_("The file"),
        help_text=_("As “Take everything with you” made it, here or on another server: zip, XLSX or JSON."),
        error_messages={"required": _("Choose the file."), "empty": _("This file is empty.")},
    )
    package: Package
    content: bytes

    def clean_file(self) -> Any:
        file = self.cleaned_data["file"]
        if file.size > MOST_BYTES:
            raise ValidationError(say("The file is larger than {most} MB.", most=MOST_BYTES // 1024**2))
        self.content = file.read()
        try:
            self.package = read_export(self.content)
        except NotAnExport as error:
            raise ValidationError(str(error)) from error
        return file


class RegionsForm(PageForm):
    """A region of the club for each that the file names and the club does not have."""

    def __init__(self, *args: Any, club: Club, names: Sequence[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.here = {region.name.lower(): region for region in club.regions.all()}
        self.names = names
        self.asked = {
            f"region_{number}": name for number, name in enumerate(names) if name.lower() not in self.here
        }
        for field, name in self.asked.items():
            self.fields[field] = forms.ModelChoiceField(
                club.regions.all(),
                label=say("Region of the yards in “{name}”", name=name),
                empty_label=say("Choose a region"),
                error_messages={
                    "required": say("Choose a region of your club."),
                    "invalid_choice": say("Choose a region of your club."),
                },
            )

    def regions(self) -> dict[str, Region]:
        """By the names in the file; of the ones that are asked for, those that were chosen."""
        chosen = {name: self.cleaned_data.get(field) for field, name in self.asked.items()}
        known = {name: self.here.get(name.lower()) for name in self.names}
        return {name: one for name, one in (known | chosen).items() if one is not None}

    def guessed(self) -> dict[str, Region]:
        """For trying out before anybody chose: any region where none has the name."""
        any_of_them = next(iter(self.here.values()), None)
        found = {name: self.here.get(name.lower(), any_of_them) for name in self.names}
        return {name: one for name, one in found.items() if one is not None}
