"""What the headings of a club's sheet stand for, in English and German. Pure.

A heading is known by what the club said of it before, or by its words. Where two columns could be the same thing, the
clearer word wins ("Hive" before "#"); where none is clearer, or what every count needs is missing, it must be asked.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum


class Column(StrEnum):
    """What a column of the sheet may hold."""

    YARD = "yard"
    COLONY = "colony"
    DATE = "date"
    METHOD = "method"
    MITES = "mites"
    PERCENT = "percent"
    DROP = "drop"
    PER_DAY = "per_day"
    BEES = "bees"
    VOLUME = "volume"
    WEIGHT = "weight"
    DAYS = "days"
    CELLS = "cells"
    CELLS_TOTAL = "cells_total"
    TREATED = "treated"
    BROOD = "brood"
    NOTE = "note"


FOUND = (Column.MITES, Column.PERCENT, Column.DROP, Column.PER_DAY)
"""A sheet of counts has at least one of these."""

CLEAR: Mapping[Column, str] = {
    Column.YARD: "yard|apiary|site|place|location|stand|bienenstand|standort|platz",
    Column.COLONY: "colony|hive|colony no|hive no|colony number|hive number|colony name|hive name|volk|volk nr|"
    "volksnummer|volknummer|stock|stock nr|stocknummer|beute|bienenvolk",
    Column.DATE: "date|date counted|count date|counted on|sampled on|date of count|sampling date|datum|zähldatum|"
    "zaehldatum|gezählt am|datum der zählung|datum der probe",
    Column.METHOD: "method|how|how counted|methode|verfahren|zählweise|art der zählung",
    Column.MITES: "mites|varroa|mite count|mites found|mites counted|mites/bees|mites of bees|varroa mites|milben|"
    "milbenzahl|anzahl milben|varroamilben|milben gezählt|gezählte milben",
    Column.PERCENT: "%|mites %|% mites|percent|infestation|infestation %|infestation rate|mites per 100 bees|"
    "mites/100 bees|befall|befall %|befall in %|befallsgrad|befallsrate|milben %|milben je 100 bienen|"
    "milben/100 bienen|prozent",
    Column.DROP: "drop|mite drop|mites on board|board count|natural drop|mite fall|abfall|milbenfall|milbenabfall|"
    "totenfall|gefallene milben|windel|windel milben|natürlicher milbenfall|natürlicher totenfall",
    Column.PER_DAY: "drop per day|drop/day|mites per day|mites/day|daily drop|daily mite drop|milben pro tag|"
    "milben/tag|milben je tag|milbenfall pro tag|milbenfall/tag|milbenfall je tag|milben am tag|tagesabfall",
    Column.BEES: "bees|bees counted|sample size|number of bees|bees in jar|bees in the jar|bienen|anzahl bienen|"
    "bienenzahl|gezählte bienen|probengröße",
    Column.VOLUME: "volume|volume ml|ml|bees ml|ml of bees|ml bees|millilitres|milliliter|volumen|volumen ml|"
    "bienen ml|ml bienen|menge ml",
    Column.WEIGHT: "g|grams|gram|weight|weight g|bees g|g of bees|gramm|gewicht|gewicht g|bienen g|g bienen|menge g",
    Column.DAYS: "days|days on board|board days|days in hive|no of days|tage|liegetage|anzahl tage|tage windel|"
    "tage auf der windel|einlage tage|dauer tage|liegedauer",
    Column.CELLS: "cells|cells counted|cells opened|drone cells|squares|squares counted|zellen|zellen geöffnet|"
    "geöffnete zellen|drohnenzellen|felder|felder gezählt|gezählte felder",
    Column.CELLS_TOTAL: "cells total|total cells|all cells|cells on board|of cells|squares total|felder gesamt|"
    "alle felder|zellen gesamt",
    Column.TREATED: "treatment in hive|treatment in the hive|treated|under treatment|during treatment|"
    "behandlung im volk|in behandlung|unter behandlung|behandelt|während behandlung",
    Column.BROOD: "brood|brood seen|brut|brutstatus|brut gesehen|brut vorhanden",
    Column.NOTE: "note|notes|remark|remarks|comment|comments|bemerkung|bemerkungen|notiz|notizen|anmerkung|"
    "anmerkungen|kommentar",
}  # fmt: skip
"""Words that mean one thing."""

VAGUE: Mapping[Column, str] = {
    Column.COLONY: "#|no|nr|number|nummer|id|name",
    Column.DATE: "day|tag|am|when|wann",
    Column.METHOD: "kind|type|art",
    Column.MITES: "count|number of mites|m|anzahl|zahl|zählung",
    Column.BEES: "n|sample|probe",
    Column.YARD: "ort|garden|garten",
}
"""Words taken so only where nothing clearer stands in the sheet."""


def plain(heading: str) -> str:
    """A heading as it is compared: one case, no points and brackets, one space between words."""
    text = unicodedata.normalize("NFC", heading).casefold()
    text = re.sub(r"[^\w%#/]+|_+", " ", text)
    return re.sub(r"\s*/\s*", "/", text).strip()


def _known(words: Mapping[Column, str]) -> dict[str, Column]:
    return {plain(word): column for column, several in words.items() for word in several.split("|")}


_CLEAR, _VAGUE = _known(CLEAR), _known(VAGUE)
_PER_BEES = re.compile(
    r"(?:mites|varroa|milben)\s*(?:/|per|in|of|pro|je|auf|von)\s*(\d{2,4})(?:\s*(?:bees|bienen))?"
)


@dataclass(frozen=True, slots=True)
class Meaning:
    """What a column holds; `bees` where its heading says in how many bees the mites were found ("mites/300")."""

    column: Column
    bees: int | None = None


@dataclass(frozen=True, slots=True)
class Unclear:
    """What must be asked: which of `places` (numbers of columns, from 0) is it? None: no column seems to be it."""

    column: Column
    places: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Matched:
    """Meanings by the number of the column, what must be asked, and the columns that mean nothing here."""

    meanings: Mapping[int, Meaning]
    unclear: tuple[Unclear, ...] = ()
    aside: tuple[int, ...] = ()


@dataclass(slots=True)
class _Wanted:
    clear: list[int] = field(default_factory=list)
    vague: list[int] = field(default_factory=list)


def meaning_of(heading: str) -> tuple[Meaning, bool] | None:
    """What one heading alone stands for, and whether its words mean only that."""
    words = plain(heading)
    if found := _PER_BEES.fullmatch(words):
        bees = int(found[1])
        # "Mites/100" may be a rate or a jar of 100 bees: only the club knows.
        return (Meaning(Column.PERCENT), False) if bees == 100 else (Meaning(Column.MITES, bees), True)
    if words in _CLEAR:
        return Meaning(_CLEAR[words]), True
    return (Meaning(_VAGUE[words]), False) if words in _VAGUE else None


def heading_bees(heading: str) -> int | None:
    """300 of "mites/300": in how many bees the mites were found."""
    found = _PER_BEES.fullmatch(plain(heading))
    return int(found[1]) if found else None


def match(headings: Sequence[str], remembered: Mapping[str, Meaning | None] | None = None) -> Matched:
    """What each column stands for. `remembered`: what the club said before, by `plain` heading; None: nothing."""
    said = remembered or {}
    found: dict[int, Meaning] = {}
    wanted: dict[Column, _Wanted] = {}
    settled: set[Column] = set()
    for place, heading in enumerate(headings):
        words = plain(heading)
        if words and words in said:
            meaning = said[words]
            if meaning is not None and meaning.column not in settled:
                found[place] = meaning
                settled.add(meaning.column)
        elif words and (known := meaning_of(heading)) is not None:
            meaning, clear = known
            found[place] = meaning
            one = wanted.setdefault(meaning.column, _Wanted())
            (one.clear if clear else one.vague).append(place)
    unclear = _settle(found, wanted, settled)
    unclear += _asked_alone(found, headings, said)
    have = {meaning.column for meaning in found.values()}
    unclear += [Unclear(column) for column in (Column.COLONY, Column.DATE) if column not in have]
    if not have & set(FOUND):
        unclear.append(Unclear(Column.MITES))
    asked = {one.column: one for one in reversed(unclear)}
    aside = tuple(place for place, heading in enumerate(headings) if heading.strip() and place not in found)
    return Matched(found, tuple(reversed(asked.values())), aside)


def _settle(
    found: dict[int, Meaning], wanted: Mapping[Column, _Wanted], settled: set[Column]
) -> list[Unclear]:
    """Leave one column for each meaning: the remembered, the clear, the vague; of several the first, and a question."""
    asked = []
    for column, one in wanted.items():
        best = one.clear or one.vague
        losing = (
            one.clear + one.vague if column in settled else [*best[1:], *(one.vague if one.clear else [])]
        )
        for place in losing:
            del found[place]
        if column not in settled and len(best) > 1:
            asked.append(Unclear(column, tuple(best)))
    return asked


def _asked_alone(
    found: Mapping[int, Meaning], headings: Sequence[str], said: Mapping[str, Meaning | None]
) -> list[Unclear]:
    """A heading such as “mites/100” that may be two things, unless the club said which."""
    return [
        Unclear(Column.PERCENT, (place,))
        for place, meaning in found.items()
        if meaning.column is Column.PERCENT
        and _PER_BEES.fullmatch(plain(headings[place]))
        and "100" in headings[place]
        and not plain(headings[place]).endswith(("bees", "bienen"))
        and plain(headings[place]) not in said
    ]
