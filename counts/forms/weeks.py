"""What a club asks for: a count week, the months of the calendar, the end of a week."""

import datetime as dt
from typing import Any, ClassVar

from django import forms

from apiaries.fields import OneLine, TypedDate
from apiaries.forms.base import PageForm
from apiaries.language import month_name
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

    first_on = TypedDate(label="First day", future=True)
    last_on = TypedDate(
        label="Last day",
        future=True,
        help_text=f"A week is usual. At most {WEEK_DAYS_MAX} days, the first and the last included.",
    )

    refusals: ClassVar = {
        Backwards: ("last_on", "The last day comes before the first."),
        TooLong: ("last_on", f"This is longer than {WEEK_DAYS_MAX} days. Choose an earlier last day."),
        InThePast: ("last_on", "This day is past: nobody could count any more. Choose a later one."),
        Overlaps: (
            "first_on",
            "The club has another count week on one of these days. Choose other days, or cancel that one first.",
        ),
    }

    def __init__(self, *args: Any, today: dt.date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("first_on", "last_on"):
            field = self.fields[name]
            field.today, field.latest = today, today + AHEAD
            field.latest_words = "This is more than a year ahead. Is the year right?"


class MonthsForm(PageForm):
    """The months in which the club asks for a count in every yard."""

    months = forms.TypedMultipleChoiceField(
        label="Months",
        help_text="In each of these, every keeper is asked for a count in every yard with colonies. None: nobody is.",
        required=False,
        coerce=int,
        choices=lambda: [(number, month_name(number)) for number in range(1, 13)],
        widget=forms.CheckboxSelectMultiple,
        error_messages={"invalid_choice": "Choose from the twelve months."},
    )


class CancelWeekForm(PageForm):
    """Why a count week is cancelled."""

    why = OneLine(
        label="Why?",
        max_length=200,
        help_text="All members can read it. For example: too cold to open hives.",
        error_messages={"required": "Say why, for example: too cold to open hives."},
    )

    refusals: ClassVar = {
        AlreadyCancelled: (None, "This count week was cancelled before. Nothing was changed."),
        AlreadyOver: (None, "This count week is over. Nothing was changed."),
    }
