"""Reading what people type: days, places, names of colonies. Pure.

Each reader returns a value or raises `NotRead`, whose text says in a whole sentence what to type instead.
"""

import datetime as dt
import re
from decimal import ROUND_HALF_UP, Decimal

MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
LONG_MONTHS = (
    "january", "february", "march", "april", "may", "june", "july", "august", "september", "october",
    "november", "december",
)  # fmt: skip
EXAMPLE = "for example 12 Aug 2026"
MOST_COLONIES = 200
LONGEST_NAME = 40

_ISO = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})")
_DAY_WORD = re.compile(r"(\d{1,2})(?:st|nd|rd|th)?[ .-]*([a-z]+)\.?[ ,.-]*(\d{4})")
_WORD_DAY = re.compile(r"([a-z]+)\.? *(\d{1,2})(?:st|nd|rd|th)?[ ,.]+(\d{4})")
_DOTTED = re.compile(r"(\d{1,2})\. ?(\d{1,2})\. ?(\d{4})")
_SLASHED = re.compile(r"(\d{1,2})/(\d{1,2})/(\d{4})")
_RANGE = re.compile(r"(\d{1,6})\s*(?:-|–|—|\.\.|…|\bto\b)\s*(\d{1,6})", re.IGNORECASE)
_NUMBER = r"[+-]?\d{1,3}(?:[.,]\d+)?"
_PLACE = re.compile(rf"({_NUMBER})\s*°?\s*([ns]?)(?:\s*[;,]\s*|\s+)({_NUMBER})\s*°?\s*([ew]?)", re.IGNORECASE)
_KM = re.compile(r"(\d{1,6}(?:[.,]\d{1,6})?)\s*(km|m|mi|miles?|kilomet(?:er|re)s?)?\.?", re.IGNORECASE)
KM_OF = {"m": 0.001, "mi": 1.609344, "mile": 1.609344, "miles": 1.609344}


class NotRead(ValueError):
    """What was typed has no single meaning; the text says what to type instead."""


def read_day(text: str, *, today: dt.date | None = None) -> dt.date:
    """A calendar day: 2026-08-12, 12 Aug 2026, August 12, 2026, 12.8.2026; `today` and `yesterday` if today is given.

    Two numbers with slashes are read only where they can mean one day: 25/8/2026 and 8/25/2026, but not 12/8/2026.
    """
    typed = " ".join(text.lower().replace("\N{NON-BREAKING HYPHEN}", "-").split())
    if today is not None and typed in ("today", "yesterday"):
        return today if typed == "today" else today - dt.timedelta(days=1)
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
    raise NotRead(f"Enter the date with the month as a word and all four digits of the year, {EXAMPLE}.")


def read_place(text: str) -> tuple[Decimal, Decimal]:
    """Latitude and longitude in degrees, to five decimals (about a metre): 52.52, 13.405 or 52.52 N, 13.405 E."""
    found = _PLACE.fullmatch(text.strip())
    # "52,13" alone may be one number with a decimal comma.
    if found is None or re.fullmatch(r"[^.;\s]+,[^.;\s]+", text.strip()):
        raise NotRead("Enter latitude and longitude in degrees, for example 52.52000, 13.40500.")
    latitude, longitude = (Decimal(found[number].replace(",", ".")) for number in (1, 3))
    for number, side in ((latitude, found[2]), (longitude, found[4])):
        if side and number < 0:
            raise NotRead("Enter either a minus sign or a letter for south or west, not both.")
    latitude = -latitude if found[2] in ("s", "S") else latitude
    longitude = -longitude if found[4] in ("w", "W") else longitude
    if abs(latitude) > 90:
        raise NotRead("The first number, the latitude, must lie between -90 and 90.")
    if abs(longitude) > 180:
        raise NotRead("The second number, the longitude, must lie between -180 and 180.")
    fine = Decimal("0.00001")
    return latitude.quantize(fine, ROUND_HALF_UP), longitude.quantize(fine, ROUND_HALF_UP)


def read_km(text: str) -> float:
    """A distance in km: 5, 2.5, 2,5 km, 800 m, 3 miles."""
    typed = text.strip()
    if typed.startswith(("-", "\N{MINUS SIGN}")):
        raise NotRead("A distance cannot be negative. Enter a number of kilometres such as 3.")
    found = _KM.fullmatch(typed)
    if found is None:
        raise NotRead("Enter the distance as a number of kilometres, for example 3 or 2.5.")
    km = float(found[1].replace(",", ".")) * KM_OF.get((found[2] or "km").lower(), 1.0)
    if km <= 0:
        raise NotRead("Enter a distance of more than 0 km.")
    return km


def read_names(text: str) -> list[str]:
    """Names of colonies in order, each once: "1–24", "1-6, 9, Blue hive", one a line; empty text gives none."""
    if "\0" in text:
        raise NotRead("A name cannot contain that character.")
    names: list[str] = []
    for part in re.split(r"[,;\n]", text):
        names += _names_of(" ".join(part.split()))
        if len(names) > MOST_COLONIES:
            raise NotRead(f"Add at most {MOST_COLONIES} colonies at once.")
    lower = [name.lower() for name in names]
    if twice := next((name for name in names if lower.count(name.lower()) > 1), None):
        raise NotRead(f"The name {twice} is there twice. Each colony needs its own.")
    return names


def _names_of(part: str) -> list[str]:
    found = _RANGE.fullmatch(part)
    if found is None:
        if len(part) > LONGEST_NAME:
            raise NotRead(f"“{part[:20]}…” is too long: a name has at most {LONGEST_NAME} characters.")
        return [part] if part else []
    first, last = int(found[1]), int(found[2])
    if last < first:
        raise NotRead(f"“{part}” runs backwards. Put the smaller number first.")
    if last - first >= MOST_COLONIES:
        raise NotRead(f"Add at most {MOST_COLONIES} colonies at once.")
    return [str(number) for number in range(first, last + 1)]


def _slashed(one: int, two: int, year: str) -> dt.date:
    if 0 < one <= 12 and 0 < two <= 12 and one != two:
        first, second = (
            f"{day} {MONTHS[month - 1].title()} {year}" for day, month in ((one, two), (two, one))
        )
        raise NotRead(f"Say which month: {first} or {second}?")
    return _day(year, two, str(one)) if two <= 12 else _day(year, one, str(two))


def _month(word: str) -> int:
    for number, (short, long) in enumerate(zip(MONTHS, LONG_MONTHS, strict=True), start=1):
        if word == short or (len(word) >= 3 and long.startswith(word)) or (number == 9 and word == "sept"):
            return number
    raise NotRead(f"“{word}” is not the name of a month. Enter the date, {EXAMPLE}.")


def _day(year: str, month: int, day: str) -> dt.date:
    try:
        return dt.date(int(year), month, int(day))
    except ValueError:
        raise NotRead(f"There is no such day. Enter the date, {EXAMPLE}.") from None
