"""Words, numbers and days in the language of whoever reads. Pure.

The English in the code is the key of the catalogues (APP/locale/LANGUAGE/LC_MESSAGES/django.po). Whole sentences are
marked, never pieces that only English puts together in this order:

    say("{mites} mites in {bees} bees", mites=figure(f"{mites:,}"), bees=figure(f"{bees:,}"))
    say_many("{n} colony", "{n} colonies", n)
    say_as("month", "May")
    WORDS = {Standing.ABOVE: mark("above the action level")}   ...   say(WORDS[standing])

`apiaries.apps` tells this module who speaks (`speak_with`); until then, and where no catalogue knows a sentence, the
English stands. Values are put in with `str.format`, after translation.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from functools import lru_cache
from typing import Any, Protocol


class Speaker(Protocol):
    """What looks sentences up; `django.utils.translation` is one."""

    def gettext(self, message: str) -> str: ...

    def ngettext(self, singular: str, plural: str, number: int) -> str: ...

    def pgettext(self, context: str, message: str) -> str: ...

    def get_language(self) -> str | None: ...

    def __hash__(self) -> int: ...


class _English:
    def gettext(self, message: str) -> str:
        return message

    def ngettext(self, singular: str, plural: str, number: int) -> str:
        return singular if number == 1 else plural

    def pgettext(self, context: str, message: str) -> str:
        return message

    def get_language(self) -> str | None:
        return None


_speaker: Speaker = _English()


def speak_with(speaker: Speaker) -> None:
    """Let this speaker look up every sentence from now on."""
    global _speaker
    _speaker = speaker


def mark(message: str) -> str:
    """The sentence itself, marked for the catalogues: for tables of words, which are said when they are used."""
    return message


def mark_as(context: str, message: str) -> str:
    """Like `mark`, for a word that means something else elsewhere."""
    return message


def say(message: str, /, **values: Any) -> str:
    """The sentence in the reader's language, with its values put in."""
    told = _speaker.gettext(message) if message else ""
    return told.format(**values) if values else told


def say_as(context: str, message: str, /, **values: Any) -> str:
    """Like `say`, for a word that means something else elsewhere: say_as("month", "May")."""
    told = _speaker.pgettext(context, message)
    return told.format(**values) if values else told


def say_many(one: str, many: str, number: int, /, **values: Any) -> str:
    """The sentence for one or for many; `{n}` in it is the number."""
    return _speaker.ngettext(one, many, number).format(**{"n": figure(f"{number:,}"), **values})


def figure(text: str) -> str:
    """A number written the English way ("1,234.5"), with the marks of the reader's language ("1.234,5")."""
    marks = say_as("marks of numbers: decimal, thousands", ".,")
    return text if marks == ".," else text.translate({ord("."): marks[0], ord(","): marks[1]})


def listed(words: Sequence[str]) -> str:
    """a; a and b; a, b and c."""
    if len(words) < 2:
        return "".join(words)
    return say_as("the last two of a list", "{rest} and {last}", rest=", ".join(words[:-1]), last=words[-1])


_MONTHS = (
    mark_as("month", "January"), mark_as("month", "February"), mark_as("month", "March"),
    mark_as("month", "April"), mark_as("month", "May"), mark_as("month", "June"),
    mark_as("month", "July"), mark_as("month", "August"), mark_as("month", "September"),
    mark_as("month", "October"), mark_as("month", "November"), mark_as("month", "December"),
)  # fmt: skip
_MONTHS_SHORT = (
    mark_as("short month", "Jan"), mark_as("short month", "Feb"), mark_as("short month", "Mar"),
    mark_as("short month", "Apr"), mark_as("short month", "May"), mark_as("short month", "Jun"),
    mark_as("short month", "Jul"), mark_as("short month", "Aug"), mark_as("short month", "Sep"),
    mark_as("short month", "Oct"), mark_as("short month", "Nov"), mark_as("short month", "Dec"),
)  # fmt: skip
_WEEKDAYS = (
    mark_as("weekday", "Monday"), mark_as("weekday", "Tuesday"), mark_as("weekday", "Wednesday"),
    mark_as("weekday", "Thursday"), mark_as("weekday", "Friday"), mark_as("weekday", "Saturday"),
    mark_as("weekday", "Sunday"),
)  # fmt: skip
_WEEKDAYS_SHORT = (
    mark_as("short weekday", "Mon"), mark_as("short weekday", "Tue"), mark_as("short weekday", "Wed"),
    mark_as("short weekday", "Thu"), mark_as("short weekday", "Fri"), mark_as("short weekday", "Sat"),
    mark_as("short weekday", "Sun"),
)  # fmt: skip


def month_name(month: int) -> str:
    """January for 1."""
    return say_as("month", _MONTHS[month - 1])


def month_short(month: int) -> str:
    """Jan for 1."""
    return say_as("short month", _MONTHS_SHORT[month - 1])


def weekday_name(weekday: int) -> str:
    """Monday for 0, as in datetime.date.weekday()."""
    return say_as("weekday", _WEEKDAYS[weekday])


def weekday_short(weekday: int) -> str:
    """Mon for 0."""
    return say_as("short weekday", _WEEKDAYS_SHORT[weekday])


def day_words(on: dt.date) -> str:
    """A calendar day that nobody can misread: 12 Aug 2026."""
    return _told_day(_day, on.year, on.month, on.day, _speaker, _speaker.get_language())


def day_month_words(on: dt.date) -> str:
    """A day of this season: 12 Aug."""
    return say_as("a day without its year", "{day} {month}", day=on.day, month=month_short(on.month))


def weekday_day_words(on: dt.date) -> str:
    """A day to plan for: Sat 22 Aug 2026."""
    return _told_day(_weekday_day, on.year, on.month, on.day, _speaker, _speaker.get_language())


@lru_cache(maxsize=10_000)
def _told_day(
    words: Callable[[dt.date], str], year: int, month: int, day: int, _by: Speaker, _in: str | None
) -> str:
    """A day in the language that is spoken: a page tells the same few days again and again."""
    return words(dt.date(year, month, day))


def _day(on: dt.date) -> str:
    return say_as("a day", "{day} {month} {year}", day=on.day, month=month_short(on.month), year=on.year)


def _weekday_day(on: dt.date) -> str:
    return say_as(
        "a day with its weekday", "{weekday} {day}", weekday=weekday_short(on.weekday()), day=day_words(on)
    )


def month_year_words(on: dt.date) -> str:
    """A month of figures: Aug 2026."""
    return say_as("a month", "{month} {year}", month=month_short(on.month), year=on.year)


def long_month_year_words(on: dt.date) -> str:
    """A month in a sentence: August 2026."""
    return say_as("a month", "{month} {year}", month=month_name(on.month), year=on.year)
