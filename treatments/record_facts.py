"""The lines of a medicine record as named facts in words, the same on the page and on paper."""

from dataclasses import dataclass

from apiaries.templatetags.recount_words import day, day_and_time, plain
from treatments.medicine import Item
from treatments.models import MedicineDisposal, MedicinePurchase
from treatments.record_lines import KeptLine, RoundLine, UseLine

MISSING = "missing"
EMPTY = "not filled in"


@dataclass(frozen=True, slots=True)
class Fact:
    """One fact: its name, its words line by line, whether it is missing, whether there is nothing to say."""

    label: str
    lines: tuple[str, ...]
    is_missing: bool = False
    is_empty: bool = False


def _fact(label: str, text: str, missing: tuple[Item, ...], item: Item | None = None) -> Fact:
    if item is not None and item in missing:
        return Fact(label, (MISSING,), is_missing=True)
    return Fact(label, (text or EMPTY,), is_empty=not text)


def _days(number: int | None) -> str:
    return "" if number is None else f"{number} day{'' if number == 1 else 's'}"


def _round_words(one: RoundLine) -> str:
    out = f", out {day(one.out_on)}" if one.out_on else ""
    return f"{day(one.given_on)}{out}: {'; '.join(one.each)}"


def _when(line: UseLine) -> str:
    if line.last_on is None:
        return f"from {day(line.first_on)}, still in the hive"
    if line.last_on == line.first_on:
        return f"{day(line.first_on)} (1 day)"
    return f"{day(line.first_on)} to {day(line.last_on)} ({_days(line.days)})"


def _clear(line: UseLine) -> str:
    if line.treatment.withdrawal_days is None:
        return "not known without the withdrawal period"
    return day(line.clear_on) or "not known before the last of it is out"


def given_facts(line: UseLine) -> tuple[Fact, ...]:
    """When, to which colonies, how much, of what."""
    treatment, missing = line.treatment, line.missing
    number = f"{line.number} {'colony' if line.number == 1 else 'colonies'}"
    amounts = tuple(_round_words(one) for one in line.rounds)
    facts = [
        Fact("Given", (_when(line),)),
        Fact("Yard and colonies", (f"{treatment.yard.name}: {line.colonies} ({number})",)),
        Fact("Quantity", (*amounts, f"In all {line.total}")),
        Fact("Ingredient, how given", (treatment.application.name,)),
        _fact("Product", treatment.product, missing, Item.PRODUCT),
        _fact("Batch number", treatment.batch, missing, Item.BATCH),
    ]
    if treatment.registration:
        facts.append(Fact("Registration number", (treatment.registration,)))
    return (*facts, *_noted(treatment.note))


def bill_facts(line: UseLine) -> tuple[Fact, ...]:
    """Where it came from, who prescribed and gave it, when honey is clear of it, how long this is kept."""
    treatment, missing = line.treatment, line.missing
    own = all((treatment.supplier, treatment.supplier_address, treatment.proof))
    from_bill = f" (from the purchase of {day(line.bill.bought_on)})" if line.bill and not own else ""
    recorded_on = treatment.yard.local_date(treatment.recorded_at)
    recorded = f"{treatment.recorded_by.name}, {day(recorded_on)}"
    kept = (Fact("How long to keep", (line.kept_words,)),) if line.kept_words else ()
    return (
        _fact("Supplier", line.supplier and line.supplier + from_bill, missing, Item.SUPPLIER),
        _fact("Supplier's address", line.supplier_address, missing, Item.SUPPLIER_ADDRESS),
        _fact("Proof of purchase", line.proof, missing, Item.PROOF),
        Fact("Veterinarian", (treatment.vet or "none named",)),
        _fact("Withdrawal period", _days(treatment.withdrawal_days), missing, Item.WITHDRAWAL_DAYS),
        Fact("Clear date", (_clear(line),)),
        Fact("Given by", (line.given_by,)),
        Fact("Recorded by", (recorded,)),
        *kept,
    )


def empty_together(facts: tuple[Fact, ...]) -> tuple[Fact, ...]:
    """The same with all that nobody asked for and nobody filled in as one last line."""
    empty = [fact.label[0].lower() + fact.label[1:] for fact in facts if fact.is_empty]
    told = tuple(fact for fact in facts if not fact.is_empty)
    return (*told, Fact(EMPTY.capitalize(), (", ".join(empty),), is_empty=True)) if empty else told


def kept_facts(line: KeptLine) -> tuple[Fact, ...]:
    """A purchase or a disposal."""
    if isinstance(line.entry, MedicinePurchase):
        return _purchase_facts(line, line.entry)
    return _disposal_facts(line, line.entry)


def _recorded(line: KeptLine) -> Fact:
    return Fact("Recorded by", (f"{line.entry.recorded_by.name}, {day(line.recorded_on)}",))


def _noted(note: str) -> tuple[Fact, ...]:
    return (Fact("Note", (note,)),) if note else ()


def _shared(line: KeptLine) -> list[Fact]:
    entry = line.entry
    return [
        Fact("Product", (entry.product + (f" ({line.ingredient.lower()})" if line.ingredient else ""),)),
        _fact("Batch number", entry.batch, line.missing, Item.BATCH),
        Fact("Quantity", (f"{plain(entry.quantity)} {entry.unit}",)),
    ]


def _purchase_facts(line: KeptLine, entry: MedicinePurchase) -> tuple[Fact, ...]:
    missing = line.missing
    return (
        Fact("Bought on", (day(entry.bought_on),)),
        *_shared(line),
        _fact("Supplier", entry.supplier, missing, Item.SUPPLIER),
        _fact("Supplier's address", entry.supplier_address, missing, Item.SUPPLIER_ADDRESS),
        _fact("Proof of purchase", entry.proof, missing, Item.PROOF),
        _fact("Withdrawal period", _days(entry.withdrawal_days), missing, Item.WITHDRAWAL_DAYS),
        _fact("Use by", day(entry.expires_on), missing),
        _recorded(line),
        *_noted(entry.note),
    )


def _disposal_facts(line: KeptLine, entry: MedicineDisposal) -> tuple[Fact, ...]:
    return (
        Fact("Disposed of on", (day(entry.disposed_on),)),
        *_shared(line),
        _fact("How", entry.how, line.missing, Item.HOW),
        _fact("Where", entry.place, line.missing, Item.PLACE),
        _recorded(line),
        *_noted(entry.note),
    )


def voided_words(line: UseLine | KeptLine) -> str:
    """Who struck it through, when and why; empty for what stands."""
    if line.voided is None:
        return ""
    return f"Struck through by {line.voided.by}, {day_and_time(line.voided.at)}: {line.voided.why}"
