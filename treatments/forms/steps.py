"""Small steps of a treatment: taking out, cancelling, skipping the recount."""

import datetime as dt
from typing import Any, ClassVar

from apiaries.fields import OneLine, TypedDate
from apiaries.forms.base import PageForm
from apiaries.templatetags.recount_words import day
from treatments.actions import AlreadyClosed, TwiceAtOnce
from treatments.models import Round

STILL_IN = "By that day one of these colonies had got the same ingredient again. Look at both dates."


class TakeOutForm(PageForm):
    """What was in the hives is out."""

    out_on = TypedDate(label="Taken out on")
    refusals: ClassVar = {
        AlreadyClosed: (None, "Nothing of this round is in the hives any more."),
        TwiceAtOnce: ("out_on", STILL_IN),
    }

    def __init__(self, *args: Any, round_: Round, today: dt.date, **kwargs: Any) -> None:
        super().__init__(*args, initial={"out_on": today}, **kwargs)
        field = self.fields["out_on"]
        field.today, field.earliest = today, round_.given_on
        field.earliest_words = f"It went in on {day(round_.given_on)}. Enter that day or a later one."


class WhyForm(PageForm):
    """A reason, which stays with the record."""

    why = OneLine(
        label="Why?",
        max_length=200,
        error_messages={"required": "Enter the reason. It stays with the record."},
    )
    refusals: ClassVar = {AlreadyClosed: (None, "This was done before. Go back and look at it.")}
