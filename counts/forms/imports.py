"""The sheet that is brought in: the file, what it is taken for, colonies it names, undoing it."""

import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from apiaries.actions import NameTaken
from apiaries.fields import OneLine
from apiaries.forms.base import PageForm
from apiaries.language import say
from apiaries.models import Club
from counts.imports.actions import NotNow
from counts.imports.presenting import delimiter_words
from counts.imports.undoing import NothingLeft, TooLate
from counts.imports.working import BYTES_AT_ONCE, words_known
from counts.models import ImportBatch
from counts.tables import DELIMITERS, ENCODINGS, CannotRead, Table, read_table
from counts.tables.limits import HEADING_ROWS, MB, MOST_CSV_BYTES

NOT_NOW = _("This sheet is being read, or somebody was quicker. Look at it again. Nothing was changed.")


class SheetForm(PageForm):
    """One file. A small one is read at once, so that what is wrong with it is said here."""

    file = forms.FileField(
        label=_("The sheet"),
        help_text=_(
            "CSV or XLSX, up to 100,000 rows. One row for each count, with a heading over each column."
        ),
        error_messages={
            "required": _("Choose the file with the counts."),
            "empty": _("This file is empty."),
            "max_length": _("The name of the file is too long. Shorten it, then choose it again."),
        },
        max_length=200,
        widget=forms.FileInput(attrs={"accept": ".csv,.tsv,.txt,.xlsx"}),
    )

    def __init__(self, *args: Any, club: Club, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.club = club
        self.contents = b""
        self.table: Table | None = None
        """What the file was read as, if it is small; to be closed."""

    def clean_file(self) -> Any:
        file = self.cleaned_data["file"]
        if file.size > MOST_CSV_BYTES:
            raise ValidationError(
                say(
                    "The file has more than {most} MB. Split it, by year for example.",
                    most=MOST_CSV_BYTES // MB,
                )
            )
        self.contents = file.read()
        if len(self.contents) <= BYTES_AT_ONCE:
            self._try(file.name)
        return file

    def _try(self, name: str) -> None:
        with tempfile.NamedTemporaryFile(prefix="recount-import-") as kept:
            kept.write(self.contents)
            kept.flush()
            try:
                self.table = read_table(Path(kept.name), name=name, known=words_known(self.club))
            except CannotRead as error:
                raise ValidationError(error.sentence) from error


class TakenForForm(PageForm):
    """What the file is to be taken for, where the guess is wrong."""

    sheet = forms.ChoiceField(label=_("Sheet of the workbook"), choices=())
    encoding = forms.ChoiceField(
        label=_("Encoding"),
        help_text=_("Another one helps where letters such as ä or é look wrong."),
        choices=[(name, name) for name in ENCODINGS],
    )
    delimiter = forms.ChoiceField(
        label=_("Columns are parted by"), choices=lambda: [(one, delimiter_words(one)) for one in DELIMITERS]
    )
    header_row = forms.IntegerField(
        label=_("Row of the headings"),
        min_value=1,
        max_value=HEADING_ROWS,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "size": "4", "autocomplete": "off"}),
        error_messages={
            "required": _("Enter the number of the row that holds the headings."),
            "invalid": _("Enter the number of the row that holds the headings, such as 1."),
            "min_value": _("Rows are counted from 1."),
            "max_value": _("Headings stand in one of the first 20 rows."),
        },
    )
    refusals: ClassVar = {NotNow: (None, NOT_NOW)}

    def __init__(self, *args: Any, batch: ImportBatch, **kwargs: Any) -> None:
        self.taken = taken = batch.taken_for
        super().__init__(*args, initial={name: taken.get(name) for name in self.base_fields}, **kwargs)
        if taken.get("kind") == "xlsx":
            del self.fields["encoding"], self.fields["delimiter"]
            self.fields["sheet"].choices = [(name, name) for name in taken["sheets"]]
        else:
            del self.fields["sheet"]
            if (known := taken.get("encoding")) and known not in ENCODINGS:
                self.fields["encoding"].choices = [(known, known), *self.fields["encoding"].choices]

    def choices(self) -> dict[str, Any]:
        """What was chosen. Another sheet of the workbook has headings of its own: their row is guessed anew, unless it
        was changed, too.
        """
        told = dict(self.cleaned_data)
        other = "sheet" in told and told["sheet"] != self.taken.get("sheet")
        if other and told["header_row"] == self.taken.get("header_row"):
            told["header_row"] = None
        return told


class MissingColoniesForm(PageForm):
    """Which of the colonies that a sheet names are to be set up, one choice for each."""

    why_gone = OneLine(
        label=_("What became of those that are gone?"),
        required=False,
        max_length=200,
        help_text=_("It stands with each of them. For example: not noted, known from old sheets."),
    )
    refusals: ClassVar = {
        NameTaken: (None, _("Somebody set up one of these colonies meanwhile. Look at the sheet again."))
    }

    def __init__(self, *args: Any, missing: Sequence[Any], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.missing = list(missing)
        for at, one in enumerate(self.missing):
            self.fields[f"colony_{at}"] = forms.ChoiceField(
                label=one.words,
                help_text=one.hint,
                choices=[
                    ("here", _("set it up: it lives in this yard")),
                    ("gone", _("set it up as gone: after its last count it was no more")),
                    ("", _("leave its rows out")),
                ],
                initial=one.likely,
                required=False,
                error_messages={"invalid_choice": _("Choose one of these.")},
            )
        self.order_fields([name for name in self.fields if name != "why_gone"])

    def colonies(self) -> list[Any]:
        """The boxes of the colonies."""
        return [self[name] for name in self.fields if name.startswith("colony_")]

    def clean(self) -> dict[str, Any]:
        told = self.cleaned_data
        if "gone" in told.values() and not told.get("why_gone"):
            self.add_error("why_gone", _("Say what became of them, for example: not noted."))
        if not any(told.get(f"colony_{at}") for at in range(len(self.missing))):
            self.add_error(None, _("Choose at least one colony to be set up."))
        return told


class UndoSheetForm(PageForm):
    """Why a whole sheet is undone."""

    why = OneLine(
        label=_("Why?"),
        max_length=200,
        help_text=_("It stands with each count. For example: day and month were mixed up."),
        error_messages={"required": _("Say why, for example: day and month were mixed up.")},
    )
    refusals: ClassVar = {
        NotNow: (None, NOT_NOW),
        NothingLeft: (
            None,
            _("None of its counts is left that you may void. Nothing was changed."),
        ),
        TooLate: (None, _("This sheet was brought in too long ago. Void its counts one by one.")),
    }
