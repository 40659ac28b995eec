"""Small steps of a treatment: taking out, cancelling, skipping the recount."""

import datetime as dt
from typing import Any, ClassVar

from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from apiaries.fields import OneLine, TypedDate
from apiaries.forms.base import PageForm
from apiaries.language import say
from apiaries.templatetags.recount_words import day
from treatments.actions import AlreadyClosed, TwiceAtOnce
from treatments.models import Round

OUT_BY_DAYS_MAX = 120
"""No label that we know leaves anything in for longer (common practice, no source)."""
STILL_IN = _("By that day one of these colonies had got the same ingredient again. Look at both dates.")


def went_in_words(given_on: dt.date | None) -> str:
    """Why a day before it went in is refused."""
    return say("It went in on {day}. Enter that day or a later one.", day=day(given_on))


def past_day(form: PageForm, today: dt.date) -> dt.date | None:
    """The day of a plan that was refused because it is past; None where it was not."""
    if "on" not in form.errors:
        return None
    try:
        typed: dt.date | None = form.fields["on"].to_python(form.data.get("on"))
    except ValidationError:
        return None
    return typed if typed is not None and typed < today else None


class TakeOutForm(PageForm):
    """What was in the hives is out."""

    out_on = TypedDate(label=_("Taken out on"))
    refusals: ClassVar = {
        AlreadyClosed: (None, _("Nothing of this round is in the hives any more.")),
        TwiceAtOnce: ("out_on", STILL_IN),
    }

    def __init__(self, *args: Any, round_: Round, today: dt.date, **kwargs: Any) -> None:
        super().__init__(*args, initial={"out_on": today}, **kwargs)
        field = self.fields["out_on"]
        field.today, field.earliest = today, round_.given_on
        field.earliest_words = went_in_words(round_.given_on)


class OutByForm(PageForm):
    """When the label says to take it out."""

    out_by = TypedDate(
        label=_("The label says to take it out on"),
        help_text=_("Count the label’s days from the day it went in. Recount reminds you of that day."),
        future=True,
    )
    refusals: ClassVar = {
        AlreadyClosed: (None, _("Nothing of this round is in the hives any more.")),
        TwiceAtOnce: ("out_by", STILL_IN),
    }

    def __init__(self, *args: Any, round_: Round, **kwargs: Any) -> None:
        super().__init__(*args, initial={"out_by": round_.out_by}, **kwargs)
        field, given_on = self.fields["out_by"], round_.given_on
        if given_on is not None:
            field.earliest, field.latest = given_on, given_on + dt.timedelta(days=OUT_BY_DAYS_MAX)
            field.earliest_words = went_in_words(given_on)
            field.latest_words = say(
                "That is more than {days} days after {day}.", days=OUT_BY_DAYS_MAX, day=day(given_on)
            )


class WhyForm(PageForm):
    """A reason, which stays with the record."""

    why = OneLine(
        label=_("Why?"),
        max_length=200,
        error_messages={"required": _("Enter the reason. It stays with the record.")},
    )
    refusals: ClassVar = {AlreadyClosed: (None, _("This was done before. Go back and look at it."))}
