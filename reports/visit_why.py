"""Short forms of visits: why one is corrected, voided or cancelled; an order done, a laboratory's answer."""

import datetime as dt
from collections.abc import Mapping
from typing import Any, ClassVar

from django import forms
from django.utils.translation import gettext_lazy as _

from apiaries.actions.visits import VisitNotPossible, VisitOver
from apiaries.fields import OneLine, TypedDate
from apiaries.forms.base import PageForm
from apiaries.language import say

OVER = _("This visit was made, cancelled, voided or corrected since you opened this page.")
NOT_THEN = _("This day is before the visit, or still to come.")


class WhyVisitForm(PageForm):
    """Why a report is corrected."""

    why = OneLine(
        label=_("What was wrong"),
        max_length=200,
        help_text=_("For example: findings of colonies 3 and 4 were swapped."),
        error_messages={"required": _("Say what was wrong, for example: findings were swapped.")},
    )
    refusals: ClassVar = {VisitOver: (None, OVER)}


class WhyVoidForm(PageForm):
    """Why a report does not count."""

    why = OneLine(
        label=_("Why does this visit not count?"),
        max_length=200,
        help_text=_("For example: recorded in the wrong yard."),
        error_messages={"required": _("Say why it does not count, for example: wrong yard.")},
    )
    refusals: ClassVar = {VisitOver: (None, OVER)}


class WhyCancelForm(PageForm):
    """Why a planned visit is not made."""

    why = OneLine(
        label=_("Why is this visit not made?"),
        max_length=200,
        help_text=_("For example: rain, moved to another day."),
        error_messages={"required": _("Say why it is not made, for example: rain.")},
    )
    refusals: ClassVar = {VisitOver: (None, OVER)}


class DatedForm(PageForm):
    """Something that was done or answered on a day since the visit."""

    on = TypedDate(label=_("Day"))

    refusals: ClassVar = {
        VisitOver: (None, _("This was noted as done before. Nothing was changed.")),
        VisitNotPossible: ("on", NOT_THEN),
    }

    def __init__(
        self, *args: Any, today: dt.date, since: dt.date, start: Mapping[str, Any] | None = None
    ) -> None:
        super().__init__(*args, initial={"on": today, **(start or {})})
        self.fields["on"].today, self.fields["on"].earliest = today, since
        self.fields["on"].earliest_words = say("This is before the day of the visit.")


class OrderDoneForm(DatedForm):
    """An order is done."""

    note = OneLine(
        label=_("How you know"),
        required=False,
        max_length=500,
        help_text=_("For example: seen at the follow-up visit, photo sent by the keeper."),
    )


class ReopenForm(PageForm):
    """An order was noted as done by mistake."""

    why = OneLine(
        label=_("Why is it not done after all?"),
        max_length=200,
        error_messages={"required": _("Say why, for example: wrong order ticked.")},
    )


class LabResultForm(DatedForm):
    """What the laboratory answered."""

    result = forms.CharField(
        label=_("What the laboratory found"),
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": _("Enter what the laboratory found.")},
    )
