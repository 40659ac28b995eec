"""The words of a medicine record: items, colonies, what is missing, how long it is kept. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from treatments.medicine import Entry, Item, Kept, NoTerm, Regime, Rule, Term

SHORTEST_RUN = 3
ITEM_WORDS = {
    Item.PRODUCT: "product",
    Item.BATCH: "batch number",
    Item.REGISTRATION: "registration number",
    Item.FIRST_ON: "first day",
    Item.DURATION: "last day",
    Item.QUANTITY: "quantity",
    Item.ANIMALS: "colonies",
    Item.YARD: "yard",
    Item.SUPPLIER: "supplier",
    Item.SUPPLIER_ADDRESS: "supplier's address",
    Item.PROOF: "proof of purchase",
    Item.VET: "veterinarian",
    Item.WITHDRAWAL_DAYS: "withdrawal period",
    Item.GIVEN_BY: "who gave it",
    Item.BOUGHT_ON: "day of purchase",
    Item.DISPOSED_ON: "day of disposal",
    Item.HOW: "how it was disposed of",
    Item.PLACE: "where it was disposed of",
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


def in_a_row(words: Sequence[str]) -> str:
    """Words with commas, and before the last."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}" if words else ""


def missing_words(items: Iterable[Item]) -> str:
    """What is missing, as one line; empty when nothing is."""
    words = [ITEM_WORDS[item] for item in items]
    return f"Missing: {in_a_row(words)}" if words else ""


def asked_by_words(entry: Entry, items: Iterable[Item], regime: Regime | None, rules: Sequence[Rule]) -> str:
    """Which clauses ask for these items, each once; empty where no published rule does."""
    wanted = set(items)
    clauses = (
        rule.clause
        for rule in rules
        if rule.entry is entry and rule.item in wanted and rule.clause and not rule.only_if
        and regime in (rule.regime, None)
    )  # fmt: skip
    return in_a_row(list(dict.fromkeys(clauses)))


def kept_words(kept: Kept, regime: Regime | None, terms: Iterable[Term], day: str) -> str:
    """How long it is kept. `day` is the last day in words, used when there is one."""
    if kept.term is not None:
        least = "at least " if kept.term.regime is Regime.AU else ""
        return f"Keep {least}until {day}: {kept.term.years} years."
    if kept.reason is NoTerm.NOT_OVER:
        return "The term begins when the last day is over."
    if regime is not Regime.US:
        return "No term is published here; keep it as your country says."
    cases = (f" {term.years} years if {term.only_if}, says one state." for term in terms if _is_case(term))
    return "No federal term is published here; keep it as your state says." + "".join(cases)


def _is_case(term: Term) -> bool:
    return term.regime is Regime.US and bool(term.only_if)
