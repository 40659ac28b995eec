"""Reading what people type: days, places, names of colonies. Pure.

Each reader returns a value or raises `NotRead`, whose text says in a whole sentence what to type instead.
"""

import datetime as dt
import re
import unicodedata
from decimal import ROUND_HALF_UP, Decimal

from apiaries.language import month_short, say, say_as

LONG_MONTHS = (
    "january", "february", "march", "april", "may", "june", "july", "august", "september", "october",
    "november", "december",
)  # fmt: skip
GERMAN_MONTHS = (
    "januar", "februar", "märz", "april", "mai", "juni", "juli", "august", "september", "oktober",
    "november", "dezember",
)  # fmt: skip
OTHER_MONTHS = {"sept": 9, "jänner": 1, "jaenner": 1, "jän": 1, "feber": 2, "maerz": 3, "mrz": 3}
"""Austria's names, and what no name of a month begins with."""
DAYS_AGO = {"today": 0, "heute": 0, "yesterday": 1, "gestern": 1}
MOST_COLONIES = 200
LONGEST_NAME = 40

_ISO = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})")
_WORD = r"[a-zä]+"
_DAY_WORD = re.compile(rf"(\d{{1,2}})(?:st|nd|rd|th)?[ .-]*({_WORD})\.?[ ,.-]*(\d{{4}})")
_WORD_DAY = re.compile(rf"({_WORD})\.? *(\d{{1,2}})(?:st|nd|rd|th)?[ ,.]+(\d{{4}})")
_DOTTED = re.compile(r"(\d{1,2})\. ?(\d{1,2})\. ?(\d{4})")
_SLASHED = re.compile(r"(\d{1,2})/(\d{1,2})/(\d{4})")
_RANGE = re.compile(r"(\d{1,6})\s*(?:-|–|—|\.\.|…|\b(?:to|bis)\b)\s*(\d{1,6})", re.IGNORECASE)
_NUMBER = r"[+-]?\d{1,3}(?:[.,]\d+)?"
_SIDES = {"n": 1, "north": 1, "nord": 1, "s": -1, "south": -1, "süd": -1, "sued": -1}
_SIDES |= {"e": 1, "east": 1, "ost": 1, "w": -1, "west": -1}
_PLACE = re.compile(
    rf"({_NUMBER})\s*°?\s*(|n|north|nord|s|south|süd|sued)(?:\s*[;,]\s*|\s+)"
    rf"({_NUMBER})\s*°?\s*(|e|east|ost|o|w|west)",
    re.IGNORECASE,
)
_KM = re.compile(
    r"(\d{1,6}(?:[.,]\d{1,6})?)\s*(km|m|mi|miles?|meilen?|kilomet(?:er|re)s?)?\.?", re.IGNORECASE
)
KM_OF = {"m": 0.001} | dict.fromkeys(("mi", "mile", "miles", "meile", "meilen"), 1.609344)


class NotRead(ValueError):
    """What was typed has no single meaning; the text says what to type instead."""


def read_day(text: str, *, today: dt.date | None = None) -> dt.date:
    """A calendar day: 2026-08-12, 12 Aug 2026, August 12, 2026, 12.8.2026; `today` and `yesterday` if today is given.

    The same in German, whoever reads: no name of a month means another one in the other language. Two numbers with
    slashes are read only where they can mean one day: 25/8/2026 and 8/25/2026, but not 12/8/2026.
    """
    typed = " ".join(
        unicodedata.normalize("NFC", text).lower().replace("\N{NON-BREAKING HYPHEN}", "-").split()
    )
    if today is not None and typed in DAYS_AGO:
        return today - dt.timedelta(days=DAYS_AGO[typed])
    if found := _ISO.fullmatch(typed):
        return _day(found[1], int(found[2]), found[3])
    if found := _DAY_WORD.fullmatch(typed):
        return _day(found[3], _month(found[2]), found[1])
    if found := _WORD_DAY.fullmatch(typed):
        return _day(found[3], _month(found[1]), found[2])
    # Dots put the day first wherever they are used (common practice, no source).
    if found := _DOTTED.fullmatch(typed):
        return _day(found[3], int(found[2]), found[1])
    if found := _SLASHED.fullmatch(typed):
        return _slashed(int(found[1]), int(found[2]), found[3])
    raise NotRead(
        say(
            "Enter the date with the month as a word and all four digits of the year, for example 12 Aug 2026."
        )
    )


def read_place(text: str) -> tuple[Decimal, Decimal]:
    """Latitude and longitude in degrees, to five decimals (about a metre): 52.52, 13.405 or 52.52 N, 13.405 E.

    O is the east in German and the west in other languages: it is read for those who read German, and else asked for.
    """
    found = _PLACE.fullmatch(unicodedata.normalize("NFC", text.strip()))
    # "52,13" alone may be one number with a decimal comma.
    if found is None or re.fullmatch(r"[^.;\s]+,[^.;\s]+", text.strip()):
        raise NotRead(say("Enter latitude and longitude in degrees, for example 52.52000, 13.40500."))
    latitude, longitude = (Decimal(found[number].replace(",", ".")) for number in (1, 3))
    for number, side in ((latitude, found[2]), (longitude, found[4])):
        if side and number < 0:
            raise NotRead(say("Enter either a minus sign or a letter for south or west, not both."))
    latitude, longitude = latitude * _sign(found[2]), longitude * _sign(found[4])
    if abs(latitude) > 90:
        raise NotRead(say("The first number, the latitude, must lie between -90 and 90."))
    if abs(longitude) > 180:
        raise NotRead(say("The second number, the longitude, must lie between -180 and 180."))
    fine = Decimal("0.00001")
    return latitude.quantize(fine, ROUND_HALF_UP), longitude.quantize(fine, ROUND_HALF_UP)


def _sign(side: str) -> int:
    """1 to the north and east, -1 to the south and west."""
    side = side.casefold()  # what the pattern takes for an s is one here too
    if side != "o":
        return _SIDES[side] if side else 1
    if say_as("letter for the east beside E, if there is one", "E") == "O":
        return 1
    raise NotRead(say("Say whether O is the east or the west: write E or W."))


def read_km(text: str) -> float:
    """A distance in km: 5, 2.5, 2,5 km, 800 m, 3 miles."""
    typed = text.strip()
    if typed.startswith(("-", "\N{MINUS SIGN}")):
        raise NotRead(say("A distance cannot be negative. Enter a number of kilometres such as 3."))
    found = _KM.fullmatch(typed)
    if found is None:
        raise NotRead(say("Enter the distance as a number of kilometres, for example 3 or 2.5."))
    km = float(found[1].replace(",", ".")) * KM_OF.get((found[2] or "km").lower(), 1.0)
    if km <= 0:
        raise NotRead(say("Enter a distance of more than 0 km."))
    return km


def read_names(text: str) -> list[str]:
    """Names of colonies in order, each once: "1–24", "1-6, 9, Blue hive", one a line; empty text gives none."""
    if "\0" in text:
        raise NotRead(say("A name cannot contain that character."))
    names: list[str] = []
    for part in re.split(r"[,;\n]", text):
        names += _names_of(" ".join(part.split()))
        if len(names) > MOST_COLONIES:
            raise NotRead(say("Add at most {most} colonies at once.", most=MOST_COLONIES))
    lower = [name.lower() for name in names]
    if twice := next((name for name in names if lower.count(name.lower()) > 1), None):
        raise NotRead(say("The name {name} is there twice. Each colony needs its own.", name=twice))
    return names


def _names_of(part: str) -> list[str]:
    found = _RANGE.fullmatch(part)
    if found is None:
        if len(part) > LONGEST_NAME:
            raise NotRead(
                say(
                    "“{start}…” is too long: a name has at most {most} characters.",
                    start=part[:20],
                    most=LONGEST_NAME,
                )
            )
        return [part] if part else []
    first, last = int(found[1]), int(found[2])
    if last < first:
        raise NotRead(say("“{range}” runs backwards. Put the smaller number first.", range=part))
    if last - first >= MOST_COLONIES:
        raise NotRead(say("Add at most {most} colonies at once.", most=MOST_COLONIES))
    return [str(number) for number in range(first, last + 1)]


def _slashed(one: int, two: int, year: str) -> dt.date:
    if 0 < one <= 12 and 0 < two <= 12 and one != two:
        first, second = (
            say_as("a day", "{day} {month} {year}", day=day, month=month_short(month), year=year)
            for day, month in ((one, two), (two, one))
        )
        raise NotRead(say("Say which month: {first} or {second}?", first=first, second=second))
    return _day(year, two, str(one)) if two <= 12 else _day(year, one, str(two))


def _month(word: str) -> int:
    if word in OTHER_MONTHS:
        return OTHER_MONTHS[word]
    for number, names in enumerate(zip(LONG_MONTHS, GERMAN_MONTHS, strict=True), start=1):
        if len(word) >= 3 and any(name.startswith(word) for name in names):
            return number
    raise NotRead(
        say("“{word}” is not the name of a month. Enter the date, for example 12 Aug 2026.", word=word)
    )


def _day(year: str, month: int, day: str) -> dt.date:
    try:
        return dt.date(int(year), month, int(day))
    except ValueError:
        raise NotRead(say("There is no such day. Enter the date, for example 12 Aug 2026.")) from None
