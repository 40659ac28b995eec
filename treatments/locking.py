"""Puts medicine records under lock when their keeper is forgotten, and lets them go after the day a rule names.

The whole entry is copied, with the keeper's name and the yard's; the rows it came from then lose all that was typed.
So what is kept lies in one table, nothing else reads it, and there is one place to delete from.
"""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass

from django.db import transaction
from django.utils.translation import override

from apiaries.models import Club, Membership, Person, Region, Yard
from treatments.chain_actions import end_locked, lock_chain
from treatments.medicine import Entry, Regime, Term, regime_of, term_under_lock, years_after
from treatments.medicine_record import record_of, terms
from treatments.models import LockedEntry, MedicinePurchase
from treatments.record_csv import entry_rows
from treatments.record_lines import KeptLine, MedicineRecord, UseLine

NOT_ASKED = ("note", "missing", "keep")
"""Columns of the file for spreadsheets that no rule asks for."""
ANYWHERE = dt.timedelta(hours=12)
"""A day is over everywhere so long after it ended in UTC."""


@dataclass(frozen=True, slots=True)
class ToLock:
    """One entry that a rule has kept, and until when."""

    line: UseLine | KeptLine
    kind: Entry
    entry_id: int
    club: Club | None
    regime: Regime | None
    term: Term
    last_on: dt.date
    kept_until: dt.date


def to_lock(person: Person, *, on: dt.date) -> list[ToLock]:
    """What would be kept of the person's medicine record if they were forgotten on that day, first let go first."""
    record = record_of(person, person, year=None, yard=None, on=on)
    found = [one for one in _entries(person, record, on) if one.kept_until >= on]
    return sorted(found, key=lambda one: (one.kept_until, one.kind, one.entry_id))


def lock_records(person: Person, at: dt.datetime) -> None:
    """Copy the entries that must be kept; for whoever forgets the person, in the same transaction."""
    with override("en-gb"):  # what is stored is in no reader's language
        wanted = to_lock(person, on=at.date())
        rows = [_locked(person, one, at) for one in wanted]
    everywhere = list(Region.objects.filter(yards__keeper=person).distinct())
    for one, row in zip(wanted, LockedEntry.objects.bulk_create(rows), strict=True):
        here = [one.line.treatment.yard.region] if isinstance(one.line, UseLine) else everywhere
        row.regions.set(here)
    lock_chain(person)


@transaction.atomic
def let_go(*, at: dt.datetime) -> int:
    """Delete what was kept until a day that is over everywhere; how many entries."""
    over = LockedEntry.objects.over((at - ANYWHERE).date())
    end_locked(over)
    _, by_model = over.delete()
    return by_model.get("treatments.LockedEntry", 0)


def _entries(person: Person, record: MedicineRecord, on: dt.date) -> Iterator[ToLock]:
    for use in record.uses:
        # Still in the hive: as if it were taken out that day.
        yield _to_lock(use, Entry.USE, use.treatment.pk, use.treatment.yard.club, use.last_on or on)
    club = _club_of(person)
    for line in (*record.purchases, *record.disposals):
        kind = Entry.PURCHASE if isinstance(line.entry, MedicinePurchase) else Entry.DISPOSAL
        yield _to_lock(line, kind, line.entry.pk, club, line.on)


def _to_lock(
    line: UseLine | KeptLine, kind: Entry, entry_id: int, club: Club | None, last_on: dt.date
) -> ToLock:
    regime = regime_of(club.jurisdiction) if club else None
    term = term_under_lock(regime, terms())
    return ToLock(line, kind, entry_id, club, regime, term, last_on, years_after(last_on, term.years))


def _club_of(person: Person) -> Club | None:
    """Theirs, or the last one that was."""
    membership = (
        Membership.objects.filter(person=person).select_related("club").order_by("-started_at").first()
    )
    if membership is not None:
        return membership.club
    yard = Yard.objects.filter(keeper=person).select_related("club").order_by("-pk").first()
    return yard.club if yard else None


def _locked(person: Person, one: ToLock, at: dt.datetime) -> LockedEntry:
    rows = [
        {name: told for name, told in row.items() if told and name not in NOT_ASKED}
        for row in entry_rows(one.line)
    ]
    return LockedEntry(
        keeper=person,
        club=one.club,
        kind=one.kind,
        entry_id=one.entry_id,
        last_on=one.last_on,
        kept_until=one.kept_until,
        regime=one.term.regime,
        years=one.term.years,
        only_if=one.term.only_if,
        source=one.term.source,
        content={"keeper": person.name, "rows": rows},
        locked_at=at,
    )
