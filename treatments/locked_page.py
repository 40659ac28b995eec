"""What is kept of medicine records when somebody is forgotten: told beforehand to the person, later to inspectors."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.utils import timezone

from apiaries.language import mark, say, say_many
from apiaries.models import Person
from apiaries.panels import Panel
from apiaries.zones import zone_of
from treatments.locking import ToLock, to_lock
from treatments.medicine import Entry, Regime, Term
from treatments.models import LockedEntry

RULES = {
    Regime.EU: mark("the rule of the European Union"),
    Regime.GB: mark("the rule of the United Kingdom"),
    Regime.US: mark("the rule of one state of the United States"),
    Regime.AU: mark("the Australian code of practice"),
}
KINDS = {
    Entry.USE: mark("Medicine given"),
    Entry.PURCHASE: mark("Purchase"),
    Entry.DISPOSAL: mark("Disposal"),
}
COLUMN_WORDS = {
    "yard": mark("Yard"),
    "colony": mark("Colony"),
    "date": mark("Date"),
    "out_on": mark("Taken out"),
    "first_on": mark("First day"),
    "last_on": mark("Last day"),
    "days": mark("Days"),
    "ingredient": mark("Active ingredient"),
    "how_given": mark("Way of giving"),
    "product": mark("Product"),
    "batch": mark("Batch number"),
    "registration": mark("Registration number"),
    "quantity": mark("Quantity"),
    "unit": mark("Unit"),
    "total": mark("Total"),
    "supplier": mark("Supplier"),
    "supplier_address": mark("Supplier's address"),
    "proof": mark("Proof of purchase"),
    "vet": mark("Veterinarian"),
    "withdrawal_days": mark("Withdrawal period, days"),
    "clear_date": mark("Clear date"),
    "use_by": mark("Use by"),
    "how": mark("How"),
    "where": mark("Where"),
    "given_by": mark("Given by"),
    "recorded_by": mark("Recorded by"),
    "recorded_on": mark("Recorded on"),
    "changes": mark("Changes"),
    "struck_through": mark("Struck through"),
}
"""Headings of what is under lock; its text is English, as the file for spreadsheets is."""


@dataclass(frozen=True, slots=True)
class LockedLine:
    """One entry under lock as an inspector reads it: what all its doses share, and each dose."""

    entry: LockedEntry
    kind: str
    keeper: str
    rule: str
    facts: list[tuple[str, str]]
    doses: list[list[tuple[str, str]]]


def leaving_panel(person: Person, leaver: Person) -> Panel | None:
    """For the page on which somebody says that they leave: which entries are kept, until when, by which rule."""
    if person.pk != leaver.pk:
        return None
    on = timezone.now().astimezone(zone_of(person.time_zone)).date()
    kept = to_lock(leaver, on=on)
    rows = [
        {
            "day": one.line.on,
            "what": one.line.named,
            "kept_until": one.kept_until,
            "until_in_hive": _in_hive(one),
        }
        for one in kept
    ]
    return Panel("treatments/leaving_panel.html", 10, {"rows": rows, "rules": rules_of(kept)})


def rules_of(kept: Iterable[ToLock]) -> list[tuple[str, str]]:
    """Each rule that something is kept by, in a sentence, with its source."""
    told: dict[tuple[Regime | None, Term], int] = {}
    for one in kept:
        told[one.regime, one.term] = told.get((one.regime, one.term), 0) + 1
    return [(rule_words(regime, term, n), term.source) for (regime, term), n in told.items()]


def rule_words(regime: Regime | None, term: Term, n: int) -> str:
    """Why so many entries are kept for so many years."""
    entries = say_many("{n} entry", "{n} entries", n)
    told = {"entries": entries, "rule": say(RULES[term.regime]), "years": term.years}
    if regime is not term.regime:
        return say(
            "{entries}: no rule is known here for where your club is, so the longest known one is taken: {rule},"
            " {years} years.",
            **told,
        )
    if term.only_if:
        return say(
            "{entries}: {rule} has them kept for {years} years if {case}. Recount cannot tell, and keeps them.",
            **told,
            case=say(term.only_if),
        )
    return say("{entries}: {rule} has them kept for {years} years.", **told)


def locked_lines(entries: Iterable[LockedEntry]) -> list[LockedLine]:
    """As they are shown, in the order given."""
    return [_line(entry) for entry in entries]


def _in_hive(one: ToLock) -> bool:
    return getattr(one.line, "last_on", one.last_on) is None


def _line(entry: LockedEntry) -> LockedLine:
    rows: list[dict[str, str]] = entry.content["rows"]
    shared = {name: told for name, told in rows[0].items() if all(row.get(name) == told for row in rows)}
    own = [[(_heading(name), told) for name, told in row.items() if name not in shared] for row in rows]
    return LockedLine(
        entry,
        say(KINDS[Entry(entry.kind)]),
        entry.content["keeper"],
        say("{rule}, {years} years", rule=say(RULES[Regime(entry.regime)]), years=entry.years),
        [(_heading(name), told) for name, told in shared.items() if name != "entry"],
        [dose for dose in own if dose],
    )


def _heading(name: str) -> str:
    return say(COLUMN_WORDS[name])
