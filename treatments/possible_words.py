"""The words for what stands in the way of a treatment. Pure."""

from __future__ import annotations

import datetime as dt

from treatments.ingredients import fahrenheit_from_celsius
from treatments.possible import Check, Reason, Stand, Subject

SUBJECT_WORDS = {
    Subject.LABEL: "Label",
    Subject.STILL_IN: "Still in the hives",
    Subject.INTERVAL: "Last dose",
    Subject.SUPERS: "Supers",
    Subject.BROOD: "Brood",
    Subject.TEMPERATURE: "Temperature",
    Subject.CLEAR_DATE: "Clear date",
}
STAND_WORDS = {
    Stand.FREE: "nothing known in its way",
    Stand.NOTE: "possible, with a but",
    Stand.FIND_OUT: "find out first",
    Stand.IN_THE_WAY: "not on this day",
}
WORDS = {
    (Subject.LABEL, Reason.WITHIN): "In force on this day.",
    (Subject.LABEL, Reason.NOT_YET_IN_FORCE): "Holds only from {day}.",
    (Subject.LABEL, Reason.NO_LONGER_IN_FORCE): "Held until {day}.",
    (Subject.STILL_IN, Reason.WITHIN): "Nothing else is in the hives.",
    (Subject.STILL_IN, Reason.SAME_STILL_IN): "The same ingredient is in the hives, to {day} as noted.",
    (Subject.STILL_IN, Reason.OTHER_STILL_IN): "Another ingredient is in the hives, to {day} as noted. "
    "Does the label allow both?",
    (Subject.INTERVAL, Reason.NO_LIMIT): "Not given here before.",
    (Subject.INTERVAL, Reason.WITHIN): "Far enough from the last dose.",
    (
        Subject.INTERVAL,
        Reason.GIVEN_BEFORE,
    ): "Last given on {day}, {found} days before. No gap is published here; the "
    "label says whether it may be repeated.",
    (
        Subject.INTERVAL,
        Reason.TOO_SOON,
    ): "Last given on {day}, {found} days before; at least {limit} are published.",
    (Subject.SUPERS, Reason.NO_LIMIT): "May stay on.",
    (Subject.SUPERS, Reason.WITHIN): "Off, as noted.",
    (Subject.SUPERS, Reason.SUPERS_ON): "On {found} of the colonies, and they must be off.",
    (
        Subject.SUPERS,
        Reason.SUPERS_BY_LABEL,
    ): "On {found} of the colonies. Does the label allow that?",
    (Subject.BROOD, Reason.NO_LIMIT): "No limit.",
    (Subject.BROOD, Reason.WITHIN): "As it should be, as noted.",
    (
        Subject.BROOD,
        Reason.BROOD_THERE,
    ): "In {found} of the colonies, and it is for colonies without.",
    (
        Subject.BROOD,
        Reason.BROOD_WEAKENS,
    ): "In {found} of the colonies; mites under cappings are not reached.",
    (Subject.BROOD, Reason.BROOD_MISSING): "There is no brood to take out.",
    (
        Subject.BROOD,
        Reason.BROOD_UNKNOWN,
    ): "Nobody has looked lately at the brood of {found} of the colonies.",
    (Subject.TEMPERATURE, Reason.NO_LIMIT): "No limit is published here; the label says.",
    (Subject.TEMPERATURE, Reason.WITHIN): "Within the published limits on the days entered.",
    (
        Subject.TEMPERATURE,
        Reason.TOO_COLD,
    ): "{found_temp} expected on {day}; at least {limit_temp} is published.",
    (
        Subject.TEMPERATURE,
        Reason.TOO_WARM,
    ): "{found_temp} expected on {day}; at most {limit_temp} is published.",
    (Subject.TEMPERATURE, Reason.DAYS_MISSING): "Enter the expected high of {day}.",
    (Subject.CLEAR_DATE, Reason.NO_LIMIT): "No day for supers or harvest entered.",
    (Subject.CLEAR_DATE, Reason.WITHIN): "Clear from {day}, in time.",
    (
        Subject.CLEAR_DATE,
        Reason.LATE_FOR_SUPERS,
    ): "Clear only from {day}, after supers go on or honey is taken.",
    (Subject.CLEAR_DATE, Reason.WITHDRAWAL_UNKNOWN): "Read the withdrawal period on the label.",
    (Subject.CLEAR_DATE, Reason.STAY_UNKNOWN): "Read on the label how long it stays in.",
}


def check_words(check: Check) -> str:
    """What was found about one subject, with the limit it was held against."""
    return WORDS[check.subject, check.reason].format(
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


def _plain(number: float | None) -> str:
    return "" if number is None else f"{round(number, 1):g}"


def _day(on: dt.date | None) -> str:
    return "" if on is None else f"{on.day} {on:%b} {on.year}"
