"""The words for what stands in the way of a treatment. Pure."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable

from apiaries.language import day_words, figure, mark, mark_as, say, say_as
from treatments.ingredients import celsius_from_fahrenheit, fahrenheit_from_celsius
from treatments.possible import Check, Reason, Stand, Subject

SUBJECT_WORDS = {
    Subject.LABEL: mark_as("held against", "Label"),
    Subject.STILL_IN: mark_as("held against", "Still in the hives"),
    Subject.INTERVAL: mark_as("held against", "Last dose"),
    Subject.SUPERS: mark_as("held against", "Supers"),
    Subject.BROOD: mark_as("held against", "Brood"),
    Subject.TEMPERATURE: mark_as("held against", "Temperature"),
    Subject.CLEAR_DATE: mark_as("held against", "Clear date"),
}
IN_SHORT = {
    Subject.LABEL: mark_as("held against, in a list", "label"),
    Subject.STILL_IN: mark_as("held against, in a list", "still in the hives"),
    Subject.INTERVAL: mark_as("held against, in a list", "last dose"),
    Subject.SUPERS: mark_as("held against, in a list", "supers"),
    Subject.BROOD: mark_as("held against, in a list", "brood"),
    Subject.TEMPERATURE: mark_as("held against, in a list", "temperature"),
    Subject.CLEAR_DATE: mark_as("held against, in a list", "clear date"),
}
STAND_WORDS = {
    Stand.FREE: mark("nothing known in its way"),
    Stand.NOTE: mark("possible, with a but"),
    Stand.FIND_OUT: mark("find out first"),
    Stand.IN_THE_WAY: mark("not on this day"),
}
WORDS = {
    (Subject.LABEL, Reason.WITHIN): mark("In force on this day."),
    (Subject.LABEL, Reason.NOT_YET_IN_FORCE): mark("Holds only from {day}."),
    (Subject.LABEL, Reason.NO_LONGER_IN_FORCE): mark("Held until {day}."),
    (Subject.STILL_IN, Reason.WITHIN): mark("Nothing else is in the hives."),
    (Subject.STILL_IN, Reason.SAME_STILL_IN): mark("The same ingredient is in the hives, to {day} as noted."),
    (Subject.STILL_IN, Reason.OTHER_STILL_IN): mark(
        "Another ingredient is in the hives, to {day} as noted. Does the label allow both?"
    ),
    (Subject.INTERVAL, Reason.NO_LIMIT): mark("Not given here before."),
    (Subject.INTERVAL, Reason.WITHIN): mark("Far enough from the last dose."),
    (
        Subject.INTERVAL,
        Reason.GIVEN_BEFORE,
    ): mark(
        "Last given on {day}, {found} days before. No gap is published here; the "
        "label says whether it may be repeated."
    ),
    (
        Subject.INTERVAL,
        Reason.TOO_SOON,
    ): mark("Last given on {day}, {found} days before; at least {limit} are published."),
    (Subject.SUPERS, Reason.NO_LIMIT): mark("May stay on."),
    (Subject.SUPERS, Reason.WITHIN): mark("No supers are noted. Make sure that they are off."),
    (Subject.SUPERS, Reason.SUPERS_ON): mark("On {found} of the colonies, and they must be off."),
    (
        Subject.SUPERS,
        Reason.SUPERS_BY_LABEL,
    ): mark("On {found} of the colonies. Does the label allow that?"),
    (Subject.BROOD, Reason.NO_LIMIT): mark("No limit."),
    (Subject.BROOD, Reason.WITHIN): mark("As it should be, as noted."),
    (
        Subject.BROOD,
        Reason.BROOD_THERE,
    ): mark("In {found} of the colonies, and it is for colonies without."),
    (
        Subject.BROOD,
        Reason.BROOD_WEAKENS,
    ): mark("In {found} of the colonies; mites under cappings are not reached."),
    (Subject.BROOD, Reason.BROOD_MISSING): mark("There is no brood to take out."),
    (
        Subject.BROOD,
        Reason.BROOD_UNKNOWN,
    ): mark("Nobody has looked lately at the brood of {found} of the colonies."),
    (Subject.TEMPERATURE, Reason.NO_LIMIT): mark("No limit is published here; the label says."),
    (Subject.TEMPERATURE, Reason.WITHIN): mark("Within the published limits on the days entered."),
    (
        Subject.TEMPERATURE,
        Reason.TOO_COLD,
    ): mark("{found_temp} expected on {day}; at least {limit_temp} is published."),
    (
        Subject.TEMPERATURE,
        Reason.TOO_WARM,
    ): mark("{found_temp} expected on {day}; at most {limit_temp} is published."),
    (Subject.TEMPERATURE, Reason.DAYS_MISSING): mark("Enter the expected high of {day}."),
    (Subject.CLEAR_DATE, Reason.NO_LIMIT): mark("No day for supers or harvest entered."),
    (Subject.CLEAR_DATE, Reason.WITHIN): mark("Clear from {day}, in time."),
    (
        Subject.CLEAR_DATE,
        Reason.LATE_FOR_SUPERS,
    ): mark("Clear only from {day}, after supers go on or honey is taken."),
    (Subject.CLEAR_DATE, Reason.WITHDRAWAL_UNKNOWN): mark("Read the withdrawal period on the label."),
    (Subject.CLEAR_DATE, Reason.STAY_UNKNOWN): mark("Read on the label how long it stays in."),
}


def subject_words(subject: Subject) -> str:
    """What was looked at."""
    return say_as("held against", SUBJECT_WORDS[subject])


def subjects_in_short(subjects: Iterable[Subject]) -> str:
    """What stands in the way, as a list within a line."""
    return ", ".join(say_as("held against, in a list", IN_SHORT[one]) for one in subjects)


def check_words(check: Check) -> str:
    """What was found about one subject, with the limit it was held against."""
    return say(
        WORDS[check.subject, check.reason],
        day=_day(check.day),
        found=_plain(check.found),
        limit=_plain(check.limit),
        found_temp=degrees(check.found),
        limit_temp=degrees(check.limit),
    )


def degrees(celsius: float | None) -> str:
    """A temperature in both scales: 29.5 °C (85.1 °F)."""
    if celsius is None:
        return ""
    return f"{_plain(celsius)} °C ({_plain(round(fahrenheit_from_celsius(celsius), 1))} °F)"


def in_both_scales(celsius: str) -> str:
    """A published limit, or a span of it such as 10-29.5, in both scales; what is no number is left as it is."""
    ends = celsius.split("-")
    if not all(re.fullmatch(r"\d+(\.\d+)?", end) for end in ends):
        return celsius
    warm = "-".join(figure(f"{_label_fahrenheit(end):g}") for end in ends)
    return f"{'-'.join(figure(end) for end in ends)} °C ({warm} °F)"


def _label_fahrenheit(celsius: str) -> float:
    """The whole degree Fahrenheit that the label has, where the limit is that degree turned into Celsius: 29.4 is 85.

    Else to a tenth: a limit is never rounded across.
    """
    exact = fahrenheit_from_celsius(float(celsius))
    decimals = len(celsius.partition(".")[2])
    turned = celsius_from_fahrenheit(round(exact))
    return round(exact) if decimals and f"{turned:.{decimals}f}" == celsius else round(exact, 1)


def _plain(number: float | None) -> str:
    return "" if number is None else figure(f"{round(number, 1):g}")


def _day(on: dt.date | None) -> str:
    return "" if on is None else day_words(on)
