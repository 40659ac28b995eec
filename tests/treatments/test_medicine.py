"""What a medicine record must hold and how long it is kept, against what the rules say (fixtures/record_rules.csv)."""

import csv
import datetime as dt
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from treatments.medicine import (
    Entry,
    Item,
    NoTerm,
    Regime,
    asked_of,
    is_told,
    keep_until,
    missing_fields,
    regime_of,
    rules_from_rows,
    terms_from_rows,
    who_asks,
    years_after,
)

ROOT = Path(__file__).resolve().parents[2]
with (ROOT / "fixtures" / "record_rules.csv").open(newline="", encoding="utf-8") as file:
    ROWS = list(csv.DictReader(file))
RULES, TERMS = rules_from_rows(ROWS), terms_from_rows(ROWS)
DAY = dt.date(2026, 8, 12)
WHOLE = {
    Item.FIRST_ON: DAY,
    Item.PRODUCT: "acid crystals",
    Item.BATCH: "B 12",
    Item.QUANTITY: Decimal("12.6"),
    Item.SUPPLIER: "Shop",
    Item.SUPPLIER_ADDRESS: "1 High Street",
    Item.PROOF: "invoice 7",
    Item.ANIMALS: ("Colony 1", "Colony 2"),
    Item.WITHDRAWAL_DAYS: 0,
    Item.DURATION: 1,
    Item.GIVEN_BY: "Alice",
}


def test_rules_and_terms_are_all_the_lines() -> None:
    assert len(RULES) + len(TERMS) == len(ROWS) > 40


def test_article_108_is_asked_letter_by_letter() -> None:
    # Regulation (EU) 2019/6, Art. 108(2) (a) to (i), the veterinarian only where there is one.
    letters = {rule.clause[-2]: set() for rule in RULES if rule.regime is Regime.EU}
    for rule in RULES:
        if rule.regime is Regime.EU:
            letters[rule.clause[-2]].add(rule.item)
    assert letters == {
        "a": {Item.FIRST_ON},
        "b": {Item.PRODUCT},
        "c": {Item.QUANTITY},
        "d": {Item.SUPPLIER, Item.SUPPLIER_ADDRESS},
        "e": {Item.PROOF},
        "f": {Item.ANIMALS},
        "g": {Item.VET},
        "h": {Item.WITHDRAWAL_DAYS},
        "i": {Item.DURATION},
    }
    assert Item.VET not in asked_of(Entry.USE, Regime.EU, RULES)
    (vet,) = who_asks(Entry.USE, Item.VET, RULES)
    assert vet.only_if == "it was prescribed"


def test_uk_lists_are_asked() -> None:
    # Veterinary Medicines Regulations 2013 as clubs and the National Bee Unit list them: buy, use, dispose.
    asked = {entry: set(asked_of(entry, Regime.GB, RULES)) for entry in Entry}
    assert asked[Entry.PURCHASE] == {
        Item.PRODUCT,
        Item.BATCH,
        Item.BOUGHT_ON,
        Item.QUANTITY,
        Item.SUPPLIER,
        Item.SUPPLIER_ADDRESS,
        Item.WITHDRAWAL_DAYS,
        Item.PROOF,
    }
    assert asked[Entry.USE] == {
        Item.PRODUCT,
        Item.FIRST_ON,
        Item.QUANTITY,
        Item.WITHDRAWAL_DAYS,
        Item.ANIMALS,
        Item.BATCH,
    }
    assert asked[Entry.DISPOSAL] == {Item.PRODUCT, Item.DISPOSED_ON, Item.QUANTITY, Item.HOW, Item.PLACE}


@pytest.mark.parametrize("regime", [*Regime, None])
def test_record_without_withdrawal_is_not_whole(regime: Regime | None) -> None:
    # Check of the record: a missing withdrawal period is refused, because 0 has to be said (Art. 108(2)(h)).
    assert missing_fields(WHOLE, Entry.USE, regime, RULES) == ()
    assert missing_fields(WHOLE | {Item.WITHDRAWAL_DAYS: None}, Entry.USE, regime, RULES) == (
        Item.WITHDRAWAL_DAYS,
    )


@pytest.mark.parametrize("regime", [None, Regime.AU])
def test_without_rules_of_its_own_the_union_is_asked(regime: Regime | None) -> None:
    union = {item for own in (Regime.EU, Regime.GB, Regime.US) for item in asked_of(Entry.USE, own, RULES)}
    assert set(asked_of(Entry.USE, regime, RULES)) == union
    assert set(missing_fields({}, Entry.USE, regime, RULES)) == union


def test_no_item_is_asked_twice() -> None:
    for entry in Entry:
        for regime in (*Regime, None):
            asked = asked_of(entry, regime, RULES)
            assert len(asked) == len(set(asked)) > 0


@pytest.mark.parametrize("value", [None, "", "  ", (), []])
def test_nothing_is_nothing(value: object) -> None:
    assert not is_told(value)


@pytest.mark.parametrize("value", [0, Decimal(0), "0", DAY, ("Colony 1",)])
def test_nought_is_something(value: object) -> None:
    assert is_told(value)


@pytest.mark.parametrize(
    ("jurisdiction", "regime"),
    [
        ("DE", Regime.EU),
        ("AT", Regime.EU),
        ("FR", Regime.EU),
        ("IE", Regime.EU),
        ("EU", Regime.EU),
        ("GB", Regime.GB),
        ("US", Regime.US),
        ("AU", Regime.AU),
        ("CH", None),
        ("NZ", None),
        ("any", None),
    ],
)
def test_regime_of_a_clubs_labels(jurisdiction: str, regime: Regime | None) -> None:
    assert regime_of(jurisdiction) is regime


@pytest.mark.parametrize(
    ("regime", "last_on", "until"),
    [
        # Five years: Regulation (EU) 2019/6, Art. 108; UK regulations of 2013. Three: Australian code of practice.
        (Regime.EU, DAY, dt.date(2031, 8, 12)),
        (Regime.GB, DAY, dt.date(2031, 8, 12)),
        (Regime.AU, DAY, dt.date(2029, 8, 12)),
        # A 29 February has no day five years on: never a day too short.
        (Regime.EU, dt.date(2028, 2, 29), dt.date(2033, 3, 1)),
        (Regime.AU, dt.date(2024, 2, 29), dt.date(2027, 3, 1)),
    ],
)
def test_keep_until(regime: Regime, last_on: dt.date, until: dt.date) -> None:
    kept = keep_until(last_on, regime, TERMS)
    assert (kept.until, kept.reason) == (until, None)
    assert kept.term is not None and kept.term.source


@pytest.mark.parametrize("regime", [Regime.US, None])
def test_no_term_is_invented(regime: Regime | None) -> None:
    kept = keep_until(DAY, regime, TERMS)
    assert (kept.until, kept.reason) == (None, NoTerm.NO_TERM_HERE)


def test_nothing_is_kept_from_before_its_end() -> None:
    assert keep_until(None, Regime.US, TERMS).reason is NoTerm.NO_TERM_HERE
    assert keep_until(None, Regime.EU, TERMS).reason is NoTerm.NOT_OVER


def test_restricted_use_is_two_years_and_a_case_of_its_own() -> None:
    # North Carolina's summary: within 14 days, kept 2 years; for restricted-use pesticides only.
    (term,) = [term for term in TERMS if term.regime is Regime.US]
    assert term.years == 2 and term.only_if


@given(st.dates(dt.date(1990, 1, 1), dt.date(2090, 12, 31)), st.integers(1, 9))
def test_term_is_never_short_and_at_most_a_day_long(day: dt.date, years: int) -> None:
    end = years_after(day, years)
    assert (end.year, end >= dt.date(day.year + years, day.month, min(day.day, 28))) == (
        day.year + years,
        True,
    )
    assert (end.month, end.day) in ((day.month, day.day), (3, 1))
    assert (end.month, end.day) == (day.month, day.day) or (day.month, day.day) == (2, 29)


@given(st.sets(st.sampled_from(list(Item))), st.sampled_from([*Regime, None]), st.sampled_from(list(Entry)))
def test_missing_is_what_is_asked_and_not_told(told: set[Item], regime: Regime | None, entry: Entry) -> None:
    missing = missing_fields(dict.fromkeys(told, "x"), entry, regime, RULES)
    assert set(missing) == set(asked_of(entry, regime, RULES)) - told
