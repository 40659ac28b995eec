"""The words of a medicine record: items, colonies, what is missing, how long it is kept. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from apiaries.language import listed, mark_as, say, say_as
from treatments.medicine import Entry, Item, Kept, NoTerm, Regime, Rule, Term

SHORTEST_RUN = 3
ITEM_WORDS = {
    Item.PRODUCT: mark_as("item of a record", "product"),
    Item.BATCH: mark_as("item of a record", "batch number"),
    Item.REGISTRATION: mark_as("item of a record", "registration number"),
    Item.FIRST_ON: mark_as("item of a record", "first day"),
    Item.DURATION: mark_as("item of a record", "last day"),
    Item.QUANTITY: mark_as("item of a record", "quantity"),
    Item.ANIMALS: mark_as("item of a record", "colonies"),
    Item.YARD: mark_as("item of a record", "yard"),
    Item.SUPPLIER: mark_as("item of a record", "supplier"),
    Item.SUPPLIER_ADDRESS: mark_as("item of a record", "supplier's address"),
    Item.PROOF: mark_as("item of a record", "proof of purchase"),
    Item.VET: mark_as("item of a record", "veterinarian"),
    Item.WITHDRAWAL_DAYS: mark_as("item of a record", "withdrawal period"),
    Item.GIVEN_BY: mark_as("item of a record", "who gave it"),
    Item.BOUGHT_ON: mark_as("item of a record", "day of purchase"),
    Item.DISPOSED_ON: mark_as("item of a record", "day of disposal"),
    Item.HOW: mark_as("item of a record", "how it was disposed of"),
    Item.PLACE: mark_as("item of a record", "where it was disposed of"),
}


def colonies_in_words(names: Sequence[str]) -> str:
    """Names in the order given; three or more numbers that follow each other as one run: 1–4, 6, Heather."""
    runs: list[list[str]] = []
    for name in names:
        if runs and _follows(runs[-1][-1], name):
            runs[-1].append(name)
        else:
            runs.append([name])
    parts = [[f"{run[0]}–{run[-1]}"] if len(run) >= SHORTEST_RUN else run for run in runs]
    return ", ".join(one for part in parts for one in part)


def _follows(earlier: str, later: str) -> bool:
    plain = all(name.isascii() and name.isdigit() and name == str(int(name)) for name in (earlier, later))
    return plain and int(later) == int(earlier) + 1


def missing_words(items: Iterable[Item]) -> str:
    """What is missing, as one line; empty when nothing is."""
    words = [say_as("item of a record", ITEM_WORDS[item]) for item in items]
    return say("Missing: {items}", items=listed(words)) if words else ""


def asked_by_words(entry: Entry, items: Iterable[Item], regime: Regime | None, rules: Sequence[Rule]) -> str:
    """Which clauses ask for these items, each once; empty where no published rule does."""
    wanted = set(items)
    clauses = (
        rule.clause
        for rule in rules
        if rule.entry is entry and rule.item in wanted and rule.clause and not rule.only_if
        and regime in (rule.regime, None)
    )  # fmt: skip
    return listed([say(clause) for clause in dict.fromkeys(clauses)])


def kept_words(kept: Kept, regime: Regime | None, terms: Iterable[Term], day: str) -> str:
    """How long it is kept. `day` is the last day in words, used when there is one."""
    if kept.term is not None:
        years = kept.term.years
        if kept.term.regime is Regime.AU:
            return say("Keep at least until {day}: {years} years.", day=day, years=years)
        return say("Keep until {day}: {years} years.", day=day, years=years)
    if kept.reason is NoTerm.NOT_OVER:
        return say("The term begins when the last day is over.")
    if regime is not Regime.US:
        return say("No term is published here; keep it as your country says.")
    cases = [
        say("{years} years if {case}, says one state.", years=term.years, case=say(term.only_if))
        for term in terms
        if _is_case(term)
    ]
    return " ".join([say("No federal term is published here; keep it as your state says."), *cases])


def _is_case(term: Term) -> bool:
    return term.regime is Regime.US and bool(term.only_if)
