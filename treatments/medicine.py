"""What a medicine record must hold, which rule asks for it, what is missing, and how long it is kept. Pure.

The rules are lines of fixtures/record_rules.csv, each with its source; here is only what follows from them.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

_EU_MEMBERS = ("AT", "DE", "FR", "IE", "EU")
_KEEP = "keep"
_EVERY_ENTRY = "all"


class Regime(StrEnum):
    """Whose rules about medicine records hold."""

    EU = "eu"
    GB = "gb"
    US = "us"
    AU = "au"


class Entry(StrEnum):
    """The three kinds of entries in a medicine record."""

    USE = "use"
    PURCHASE = "purchase"
    DISPOSAL = "disposal"


class Item(StrEnum):
    """What a rule can ask for."""

    PRODUCT = "product"
    BATCH = "batch"
    REGISTRATION = "registration"
    FIRST_ON = "first_on"
    DURATION = "duration"
    QUANTITY = "quantity"
    ANIMALS = "animals"
    YARD = "yard"
    SUPPLIER = "supplier"
    SUPPLIER_ADDRESS = "supplier_address"
    PROOF = "proof"
    VET = "vet"
    WITHDRAWAL_DAYS = "withdrawal_days"
    GIVEN_BY = "given_by"
    BOUGHT_ON = "bought_on"
    DISPOSED_ON = "disposed_on"
    HOW = "how"
    PLACE = "place"


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """One rule asks for one item. `only_if`: in words, the case in which it does; empty for always."""

    regime: Regime
    entry: Entry
    item: Item
    clause: str
    only_if: str
    mark: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Term:
    """For how many years a record is kept, after the rule of a regime. `only_if` as above."""

    regime: Regime
    years: int
    only_if: str
    mark: str
    source: str


class NoTerm(StrEnum):
    """Why there is no day until which a record is kept."""

    NOT_OVER = "not_over"
    NO_TERM_HERE = "no_term_here"


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """The day until which a record is kept, with the term; or the reason why there is none."""

    until: dt.date | None = None
    term: Term | None = None
    reason: NoTerm | None = None


Told = str | int | Decimal | dt.date | Sequence[str] | None
"""What an entry says of one item. Nothing is None, an empty text or an empty list; a nought is something."""


def rules_from_rows(rows: Iterable[Mapping[str, str]]) -> tuple[Rule, ...]:
    """The rules among the lines of the file, in its order."""
    return tuple(
        Rule(
            regime=Regime(row["regime"]),
            entry=Entry(row["entry"]),
            item=Item(row["item"]),
            clause=row["clause"],
            only_if=row["only_if"],
            mark=row["mark"],
            source=row["source"],
        )
        for row in rows
        if row["item"] != _KEEP
    )


def terms_from_rows(rows: Iterable[Mapping[str, str]]) -> tuple[Term, ...]:
    """The terms among the lines of the file, in its order."""
    return tuple(
        Term(
            regime=Regime(row["regime"]),
            years=int(row["value"]),
            only_if=row["only_if"],
            mark=row["mark"],
            source=row["source"],
        )
        for row in rows
        if (row["entry"], row["item"]) == (_EVERY_ENTRY, _KEEP)
    )


def regime_of(jurisdiction: str) -> Regime | None:
    """Whose rules hold where a club follows these labels; None where no rule about records is kept here."""
    if jurisdiction in _EU_MEMBERS:
        return Regime.EU
    return next((regime for regime in Regime if regime.value == jurisdiction.lower()), None)


def who_asks(entry: Entry, item: Item, rules: Iterable[Rule]) -> tuple[Rule, ...]:
    """The rules that ask for the item in such an entry, in their order."""
    return tuple(rule for rule in rules if (rule.entry, rule.item) == (entry, item))


def asked_of(entry: Entry, regime: Regime | None, rules: Iterable[Rule]) -> tuple[Item, ...]:
    """Items that are always asked for in such an entry, each once.

    Where the regime has no rule about such entries, or is not known, what any of them asks: a record that
    satisfies the strictest satisfies the others.
    """
    always = [rule for rule in rules if rule.entry is entry and not rule.only_if]
    own = [rule for rule in always if rule.regime is regime]
    return tuple(dict.fromkeys(rule.item for rule in own or always))


def missing_fields(
    told: Mapping[Item, Told], entry: Entry, regime: Regime | None, rules: Iterable[Rule]
) -> tuple[Item, ...]:
    """Items that are asked for and not told. A withdrawal period of 0 days is told; an empty one is missing."""
    return tuple(item for item in asked_of(entry, regime, rules) if not is_told(told.get(item)))


def is_told(value: Told) -> bool:
    """Whether anything is said: 0 is, nothing but blanks is not."""
    if isinstance(value, str):
        return bool(value.strip())
    if isinstance(value, Sequence):
        return bool(value)
    return value is not None


def years_after(day: dt.date, years: int) -> dt.date:
    """The same day so many years on; 1 March where a 29 February has none, so that no term is a day too short."""
    try:
        return day.replace(year=day.year + years)
    except ValueError:
        return dt.date(day.year + years, 3, 1)


def keep_until(last_on: dt.date | None, regime: Regime | None, terms: Iterable[Term]) -> Kept:
    """The day until which a record of something that ended on `last_on` is kept; no term is invented.

    A term that holds in a certain case only sets no day; it is left to be told in words.
    """
    term = next((one for one in terms if one.regime is regime and not one.only_if), None)
    if term is None:
        return Kept(reason=NoTerm.NO_TERM_HERE)
    if last_on is None:
        return Kept(reason=NoTerm.NOT_OVER)
    return Kept(until=years_after(last_on, term.years), term=term)


def term_under_lock(regime: Regime | None, terms: Iterable[Term]) -> Term:
    """The term for which a record stays when its keeper leaves: on the side of what may be the law.

    The regime's own; where that holds in a certain case only, as if the case held; where none is known, the longest.
    """
    known = tuple(terms)
    own = [term for term in known if term.regime is regime]
    always = [term for term in own if not term.only_if]
    return max(always or own or known, key=lambda term: term.years)
