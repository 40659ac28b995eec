"""What a coordinator decides about a bulletin: its month, its foreword, its issue, its withdrawal."""

import datetime as dt
from collections.abc import Sequence
from typing import Any, ClassVar

from django import forms
from django.utils.translation import gettext_lazy as _

from apiaries.fields import OneLine
from apiaries.forms.base import PageForm
from apiaries.language import figure, say
from reports.bulletin_actions import (
    AlreadyIssued,
    AlreadyThere,
    AlreadyWithdrawn,
    ChangedMeanwhile,
    NotIssued,
    NotPublished,
)
from reports.bulletin_pieces import month_words
from reports.models import FOREWORD_MOST

ISSUED_WORDS = _("This bulletin was issued before. Nothing was changed.")
PARAGRAPHS_MOST = 20
"""A page has so many lines, and not more (our choice)."""
CHANGED_WORDS = _(
    "Somebody else changed the foreword meanwhile. What you typed is kept here; read theirs first."
)


class DraftForm(PageForm):
    """For which published month a draft is made."""

    month = forms.ChoiceField(
        label=_("Month"),
        error_messages={
            "required": _("Choose a month."),
            "invalid_choice": _("This month is not published, or has a bulletin. Choose another."),
        },
    )

    refusals: ClassVar = {
        NotPublished: ("month", _("This month is not published.")),
        AlreadyThere: ("month", _("This month has a bulletin. Choose another, or withdraw that one first.")),
    }

    def __init__(self, *args: Any, months: Sequence[dt.date], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["month"]
        if isinstance(field, forms.ChoiceField):
            # No month is chosen beforehand: the list may begin with an old one.
            told = [(month.isoformat(), month_words(month)) for month in months]
            field.choices = [("", say("Choose a month")), *told]

    @property
    def month_asked(self) -> dt.date:
        return dt.date.fromisoformat(self.cleaned_data["month"])


class Paragraphs(forms.CharField):
    """Text of several lines, counted as it is kept: a line break is one letter, whatever the browser sends."""

    def to_python(self, value: Any) -> Any:
        return super().to_python(value.replace("\r\n", "\n") if isinstance(value, str) else value)


class ForewordForm(PageForm):
    """The club's own words. `seen` tells which foreword was looked at."""

    foreword = Paragraphs(
        label=_("Foreword"),
        required=False,
        max_length=FOREWORD_MOST,
        widget=forms.Textarea(attrs={"rows": 12}),
        error_messages={
            "max_length": _(
                "This has %(show_value)d letters. Shorten it to %(limit_value)d: all is to fit one page."
            )
        },
    )
    seen = forms.CharField(widget=forms.HiddenInput, required=False)

    refusals: ClassVar = {
        AlreadyIssued: (None, ISSUED_WORDS),
        ChangedMeanwhile: (None, CHANGED_WORDS),
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["foreword"].help_text = say(
            "At most {most} letters of plain text: stars and other marks are printed as they are typed, and a new line "
            "begins a new paragraph. Do not name a keeper or a product: all members read it, and it cannot be changed "
            "once it is issued.",
            most=figure(f"{FOREWORD_MOST:,}"),
        )

    def clean_foreword(self) -> str:
        words: str = self.cleaned_data["foreword"]
        number = len([line for line in words.splitlines() if line.strip()])
        if number > PARAGRAPHS_MOST:
            raise forms.ValidationError(
                say(
                    "This has {number} paragraphs. Join some, so that there are at most {most}: all is to fit one "
                    "page.",
                    number=number,
                    most=PARAGRAPHS_MOST,
                )
            )
        return words


class IssueForm(PageForm):
    """That it goes out as it was read."""

    seen = forms.CharField(widget=forms.HiddenInput, required=False)

    refusals: ClassVar = {
        AlreadyIssued: (None, ISSUED_WORDS),
        ChangedMeanwhile: (
            None,
            _(
                "Somebody changed the foreword after you opened this page. Read it again below, then issue it."
            ),
        ),
    }


class WithdrawForm(PageForm):
    """Why it holds no more."""

    why = OneLine(
        label=_("Why?"),
        max_length=200,
        help_text=_("All members can read it. For example: the figures of one region were typed up wrongly."),
        error_messages={
            "required": _("Say why, for example: the figures of one region were typed up wrongly.")
        },
    )

    refusals: ClassVar = {
        NotIssued: (None, _("A draft cannot be withdrawn: nobody has read it.")),
        AlreadyWithdrawn: (None, _("This bulletin was withdrawn before. Nothing was changed.")),
    }
