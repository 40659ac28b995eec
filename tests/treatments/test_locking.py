"""Medicine records that are kept when their keeper is forgotten: which, until when, who reads them."""

import datetime as dt
import re
from collections.abc import Callable
from decimal import Decimal
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import IntegrityError, transaction
from django.test import Client

from apiaries.actions import ask_to_leave, forget_person
from apiaries.models import Club, How, Person, Yard
from tests.cast import Cast
from tests.treatments.making import GIVEN, treat
from treatments.actions import cancel_treatment
from treatments.locking import let_go, to_lock
from treatments.medicine import Regime, Term, term_under_lock
from treatments.medicine_actions import NewPurchase, record_purchase
from treatments.models import LockedEntry

AT = dt.datetime(2026, 12, 1, 12, tzinfo=dt.UTC)
PAGE = "/records/former-members/"
EU = Term(regime=Regime.EU, years=5, only_if="", mark="published", source="a")
GB = Term(regime=Regime.GB, years=5, only_if="", mark="published", source="b")
US = Term(regime=Regime.US, years=2, only_if="it is a restricted-use pesticide", mark="published", source="c")
AU = Term(regime=Regime.AU, years=3, only_if="", mark="published", source="d")


@pytest.fixture(autouse=True)
def journal(settings: Any, tmp_path: Path) -> None:
    settings.ERASURE_JOURNAL = tmp_path / "journal.jsonl"


def _follows(cast: Cast, jurisdiction: str) -> None:
    Club.objects.filter(pk=cast.club.pk).update(jurisdiction=jurisdiction)


def _forget(person: Person) -> None:
    forget_person(leaving=ask_to_leave(person=person, how=How.OWN, at=AT, now=True, by=person), at=AT)


@pytest.mark.parametrize(("regime", "term"), [(Regime.EU, EU), (Regime.AU, AU), (Regime.US, US), (None, EU)])
def test_the_term_leans_to_the_side_of_what_may_be_the_law(regime: Regime | None, term: Term) -> None:
    assert term_under_lock(regime, [EU, GB, US, AU]) == term


@pytest.mark.parametrize(
    ("jurisdiction", "until"),
    [  # years as in fixtures/record_rules.csv; given on 3 Aug 2026
        ("DE", dt.date(2031, 8, 3)),
        ("GB", dt.date(2031, 8, 3)),
        ("AU", dt.date(2029, 8, 3)),
        ("US", dt.date(2028, 8, 3)),
        ("any", dt.date(2031, 8, 3)),
    ],
)
def test_kept_until(cast: Cast, reference: None, jurisdiction: str, until: dt.date) -> None:
    _follows(cast, jurisdiction)
    treat(cast.colonies[:2])

    (kept,) = to_lock(cast.alice, on=AT.date())

    assert (kept.last_on, kept.kept_until) == (GIVEN, until)


def test_what_is_past_its_term_is_not_kept(cast: Cast, reference: None) -> None:
    _follows(cast, "DE")
    treat(cast.colonies[:2])

    assert len(to_lock(cast.alice, on=dt.date(2031, 8, 3))) == 1
    assert to_lock(cast.alice, on=dt.date(2031, 8, 4)) == []


def test_what_is_still_in_the_hive_counts_from_that_day(cast: Cast, reference: None) -> None:
    _follows(cast, "DE")
    treat(cast.colonies[:2], dt.date(2026, 11, 25), way="formic_gel_strip_us")

    (kept,) = to_lock(cast.alice, on=dt.date(2026, 11, 26))

    assert (kept.last_on, kept.kept_until) == (dt.date(2026, 11, 26), dt.date(2031, 11, 26))


def test_voided_entries_are_kept_too(cast: Cast, reference: None) -> None:
    cancel_treatment(treatment=treat(cast.colonies[:2]), why="before I go", at=AT, by=cast.alice)

    _forget(cast.alice)

    assert "before I go" in LockedEntry.objects.get().content["rows"][0]["struck_through"]


def test_the_whole_entry_is_kept_and_nothing_of_it_stands_elsewhere(cast: Cast, reference: None) -> None:
    _follows(cast, "DE")
    treatment = treat(
        cast.colonies[:2], product="Strips of my own", batch="B 7", withdrawal_days=0, note="windy"
    )

    _forget(cast.alice)

    entry = LockedEntry.objects.get()
    assert entry.content["keeper"] == "Alice"
    first, second = entry.content["rows"]
    assert (first["yard"], first["colony"], second["colony"]) == ("Home yard", "1", "2")
    assert (first["product"], first["batch"], first["withdrawal_days"]) == ("Strips of my own", "B 7", "0")
    assert "note" not in first
    treatment.refresh_from_db()
    assert (treatment.product, treatment.batch, treatment.note, treatment.withdrawal_days) == ("", "", "", 0)
    assert [dose.amount for dose in treatment.rounds.get().doses.all()] == [Decimal(1)] * 2
    assert Yard.objects.get(pk=cast.alice_yard.pk).name == "Former yard"


def _text(response: Any) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", response.content.decode()))


def test_inspectors_of_the_region_read_it_and_nobody_else(
    cast: Cast, reference: None, client_for: Callable[[Person | None], Client]
) -> None:
    _follows(cast, "DE")
    treat(cast.colonies[:2], product="Strips of my own")
    new = NewPurchase(product="Strips", bought_on=GIVEN, quantity=Decimal(1), unit="packs", supplier="Shop 9")
    record_purchase(keeper=cast.alice, new=new, at=AT, by=cast.alice)
    _forget(cast.alice)

    page = _text(client_for(cast.ines).get(PAGE))

    for words in ("Alice", "Home yard", "Strips of my own", "Shop 9", "Kept until 3 Aug 2031", "5 years"):
        assert words in page
    assert "Alice" not in _text(client_for(cast.ivan).get(PAGE))
    for other in (cast.bob, cast.dana, cast.adam, cast.zoe):
        assert client_for(other).get(PAGE).status_code == 404


def test_told_beforehand_with_day_and_source(
    cast: Cast, reference: None, client_for: Callable[[Person | None], Client]
) -> None:
    _follows(cast, "DE")
    treat(cast.colonies[:2])

    page = _text(client_for(cast.alice).get("/me/leave/"))

    assert "1 entry: the rule of the European Union has them kept for 5 years." in page
    assert "Regulation (EU) 2019/6, Article 108" in page and "3 Aug 2031" in page
    other = _text(client_for(cast.charlie).get("/me/leave/"))
    assert "Nothing: your medicine record has no entry" in other


@pytest.mark.parametrize(
    ("jurisdiction", "words"),
    [("US", "for 2 years if it is a restricted-use pesticide"), ("any", "no rule is known here")],
)
def test_a_rule_that_may_not_hold_says_so(
    cast: Cast,
    reference: None,
    client_for: Callable[[Person | None], Client],
    jurisdiction: str,
    words: str,
) -> None:
    _follows(cast, jurisdiction)
    treat(cast.colonies[:2])

    assert words in _text(client_for(cast.alice).get("/me/leave/"))


def test_the_console_lists_without_a_name_and_shows_one(cast: Cast, reference: None) -> None:
    treat(cast.colonies[:2], product="Strips of my own")
    _forget(cast.alice)
    entry, out, shown = LockedEntry.objects.get(), StringIO(), StringIO()

    call_command("locked_records", stdout=out)
    call_command("locked_records", "--show", str(entry.pk), stdout=shown)

    assert str(entry.kept_until) in out.getvalue() and "Alice" not in out.getvalue()
    assert "Alice" in shown.getvalue() and "Strips of my own" in shown.getvalue()
    with pytest.raises(CommandError):
        call_command("locked_records", "--show", "0", stdout=out)


def test_let_go_once_the_day_is_over_everywhere(cast: Cast, reference: None) -> None:
    treat(cast.colonies[:2])
    _forget(cast.alice)
    last = LockedEntry.objects.get().kept_until
    midnight = dt.datetime.combine(last, dt.time(), dt.UTC) + dt.timedelta(days=1)

    assert let_go(at=midnight + dt.timedelta(hours=11)) == 0
    assert let_go(at=midnight + dt.timedelta(hours=12)) == 1
    assert let_go(at=midnight + dt.timedelta(hours=12)) == 0


def test_an_entry_is_locked_once_and_ends_later_than_it_began(cast: Cast, reference: None) -> None:
    treat(cast.colonies[:2])
    _forget(cast.alice)
    entry = LockedEntry.objects.get()

    for rule, fields in {
        "treatments_lockedentry_once": {"pk": None},
        "treatments_lockedentry_ends_later": {"kept_until": entry.last_on},
    }.items():
        with pytest.raises(IntegrityError, match=rule), transaction.atomic():
            again = LockedEntry.objects.get(pk=entry.pk)
            for name, value in fields.items():
                setattr(again, name, value)
            again.save()
