"""What the words and numbers in a sheet's cells mean, in English and German. Pure."""

from __future__ import annotations

import re
from collections.abc import Mapping
from decimal import ROUND_FLOOR, Decimal

from counts.samples import Method

_METHOD_WORDS: Mapping[Method, str] = {
    Method.ALCOHOL_WASH: "alcohol wash|alcohol|ethanol wash|ethanol|alkohol|alkoholauswaschung|auswaschung mit alkohol|"
    "alkoholwaschung|auswaschen mit alkohol",
    Method.SOAP_WASH: "soap wash|soap|soapy water|detergent|detergent wash|seife|seifenlauge|seifenwasser|spülmittel|"
    "auswaschung mit spülmittel|auswaschung mit seife",
    Method.SUGAR_ROLL: "sugar roll|sugar|sugar shake|powdered sugar|icing sugar|sugar dusting|puderzucker|"
    "puderzuckermethode|zucker|zuckermethode|staubzucker|staubzuckermethode",
    Method.CO2: "co2|co 2|carbon dioxide|co2 test|co2 methode|kohlendioxid|kohlensäure",
    Method.BOARD: "board|sticky board|bottom board|tray|insert|drop|mite drop|natural drop|mite fall|windel|"
    "bodeneinlage|schublade|gemülldiagnose|gemüll|milbenfall|totenfall|natürlicher milbenfall|varroaschublade",
    Method.DRONE_BROOD: "drone brood|drone|drone brood uncapping|uncapping|drohnenbrut|drohnen|drohnenbrut geöffnet",
}  # fmt: skip
"""Words for each way of counting (terms of the trade, from memory). A bare "wash" names no liquid: asked about."""

METHODS: Mapping[str, Method] = {
    word: method for method, words in _METHOD_WORDS.items() for word in words.split("|")
} | {method.value.replace("_", " "): method for method in Method}
YES = frozenset({"yes", "y", "true", "1", "x", "ja", "j", "wahr"})
NO = frozenset({"no", "n", "false", "0", "nein", "falsch"})
NONE_WORDS = frozenset(
    {
        "none",
        "no",
        "nil",
        "zero",
        "no mites",
        "none found",
        "-",
        "–",
        "—",
        "/",
        "keine",
        "kein",
        "null",
        "nichts",
    }
    | {"keine milben", "keine gefunden", "nix", "ohne", "o", "n/a", "na", "k.a.", "k. a."}
)
"""Words that may mean 0, or not counted: only who wrote them knows."""
BROOD: Mapping[str, str] = {
    **dict.fromkeys(("none", "no", "0", "broodless", "keine", "brutfrei", "nein", "ohne"), "none"),
    **dict.fromkeys(("some", "little", "wenig", "etwas", "ja", "yes", "x"), "some"),
    **dict.fromkeys(("plenty", "much", "full", "viel", "reichlich"), "plenty"),
}

_SPLIT = re.compile(r"(\d+)\s*(?:/|of|in|von|auf)\s*(\d+)(?:\s*(?:bees|bienen))?", re.IGNORECASE)
_WHOLE = re.compile(r"(\d+)(?:[.,]0{1,2})?")
_THOUSANDS = re.compile(r"[1-9]\d{0,2}[.,]\d{3}")
_DECIMAL = re.compile(r"(\d{1,6})(?:[.,](\d{1,17}))?")


def method_in(text: str) -> Method | None:
    """The way of counting that a cell names."""
    words = re.sub(r"[\s_-]+", " ", text.casefold()).strip(" .")
    return METHODS.get(words)


def split_in(text: str) -> tuple[int, int] | None:
    """2 and 300 of "2/300", "2 in 300 bees", "2 von 300"."""
    found = _SPLIT.fullmatch(text)
    return (int(found[1]), int(found[2])) if found and max(len(found[1]), len(found[2])) <= 9 else None


def whole_in(text: str) -> int | None:
    """A whole number; 7.0 and 7,00 are one, 1.000 is none: it may be a thousand or one."""
    found = _WHOLE.fullmatch(text) if text.isascii() else None
    return int(found[1]) if found and len(found[1]) <= 12 else None


def decimal_in(text: str, *, small: bool = False) -> Decimal | None:
    """A number with a decimal point or comma; none that may be thousands (1,500 could be both).

    `small`: it is of a kind that never comes to 1,000, such as a percentage, so three decimals are decimals.
    """
    found = _DECIMAL.fullmatch(text) if text.isascii() else None
    if not small and _THOUSANDS.fullmatch(text):
        return None
    return Decimal(f"{found[1]}.{found[2] or 0}") if found else None


def without_unit(text: str, *units: str) -> str:
    """The number in "100 ml" or "2,3 %"."""
    lower = text.casefold()
    unit = next((unit for unit in units if lower.endswith(unit)), "")
    return text[: len(text) - len(unit)].strip() if unit else text


def mites_of_share(text: str, bees: int) -> tuple[Decimal, range] | None:
    """Of "2.3" per cent of so many bees: the mites it is exactly, and all whole numbers that round to it.

    Rounding is taken to the last digit that is written, halves upwards or downwards; digits beyond the 15 that a
    spreadsheet keeps are noise of binary fractions.
    """
    share = decimal_in(text, small=True)
    if share is None:
        return None
    half = Decimal(5) / 10 ** (len(re.split("[.,]", text)[1]) + 1 if re.search("[.,]", text) else 1)
    half = max(half, share.scaleb(-14))
    low, high = (share - half) * bees / 100, (share + half) * bees / 100
    first = max(0, -int((-low).to_integral_value(ROUND_FLOOR)))
    last = int(high.to_integral_value(ROUND_FLOOR))
    return share * bees / 100, range(first, last + 1)
