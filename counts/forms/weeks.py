"""What a club asks for: a count week, the months of the calendar, the end of a week."""

import datetime as dt
from typing import Any, ClassVar

from django import forms
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from apiaries.fields import OneLine, TypedDate
from apiaries.forms.base import PageForm
from apiaries.language import month_name, say
from counts.call_rules import WEEK_DAYS_MAX
from counts.week_actions import (
    AlreadyCancelled,
    AlreadyOver,
    Backwards,
    InThePast,
    Overlaps,
    TooLong,
)

AHEAD = dt.timedelta(days=366)
"""A count week is set at most so long before (our choice: further ahead it is a slip of the year)."""


class WeekForm(PageForm):
    """The window in which the club counts together."""

    first_on = TypedDate(label=_("First day"), future=True)
    last_on = TypedDate(
        label=_("Last day"),
        future=True,
        help_text=format_lazy(
            _("A week is usual. At most {most} days, the first and the last included."), most=WEEK_DAYS_MAX
        ),
    )

    refusals: ClassVar = {
        Backwards: ("last_on", _("The last day comes before the first.")),
        TooLong: (
            "last_on",
            format_lazy(
                _("This is longer than {most} days. Choose an earlier last day."), most=WEEK_DAYS_MAX
            ),
        ),
        InThePast: ("last_on", _("This day is past: nobody could count any more. Choose a later one.")),
        Overlaps: (
            "first_on",
            _(
                "The club has another count week on one of these days. Choose other days, or cancel that one first."
            ),
        ),
    }

    def __init__(self, *args: Any, today: dt.date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("first_on", "last_on"):
            field = self.fields[name]
            field.today, field.latest = today, today + AHEAD
            field.latest_words = say("This is more than a year ahead. Is the year right?")


class MonthsForm(PageForm):
    """The months in which the club asks for a count in every yard."""

    months = forms.TypedMultipleChoiceField(
        label=_("Months"),
        help_text=_(
            "In each of these, every keeper is asked for a count in every yard with colonies. None: nobody is."
        ),
        required=False,
        coerce=int,
        choices=lambda: [(number, month_name(number)) for number in range(1, 13)],
        widget=forms.CheckboxSelectMultiple,
        error_messages={"invalid_choice": _("Choose from the twelve months.")},
    )


class CancelWeekForm(PageForm):
    """Why a count week is cancelled."""

    why = OneLine(
        label=_("Why?"),
        max_length=200,
        help_text=_("All members can read it. For example: too cold to open hives."),
        error_messages={"required": _("Say why, for example: too cold to open hives.")},
    )

    refusals: ClassVar = {
        AlreadyCancelled: (None, _("This count week was cancelled before. Nothing was changed.")),
        AlreadyOver: (None, _("This count week is over. Nothing was changed.")),
    }
