"""The lines of a medicine record as named facts in words, the same on the page and on paper."""

from dataclasses import dataclass

from apiaries.language import mark, say, say_many
from apiaries.templatetags.recount_words import day, day_and_time, plain
from treatments.dose import unit_words
from treatments.medicine import Item
from treatments.models import MedicineDisposal, MedicinePurchase
from treatments.record_lines import KeptLine, RoundLine, UseLine
from treatments.way_words import ingredient_within

MISSING = mark("missing")
EMPTY = mark("not filled in")
GIVEN, YARD = mark("Given"), mark("Yard and colonies")
PRODUCT, BATCH, REGISTRATION = mark("Product"), mark("Batch number"), mark("Registration number")
INGREDIENT, QUANTITY = mark("Ingredient, how given"), mark("Quantity")
SUPPLIER, ADDRESS = mark("Supplier"), mark("Supplier's address")
PROOF, VET = mark("Proof of purchase"), mark("Veterinarian")
WITHDRAWAL, CLEAR = mark("Withdrawal period"), mark("Clear date")
GIVEN_BY, RECORDED_BY = mark("Given by"), mark("Recorded by")
KEEP, NOTE = mark("How long to keep"), mark("Note")
BOUGHT_ON, USE_BY = mark("Bought on"), mark("Use by")
DISPOSED_ON, HOW, WHERE = mark("Disposed of on"), mark("How"), mark("Where")
NOT_FILLED_IN = mark("Also not filled in")
IN_A_LIST = {
    BATCH: mark("batch number"),
    SUPPLIER: mark("supplier"),
    ADDRESS: mark("supplier's address"),
    PRODUCT: mark("product"),
    PROOF: mark("proof of purchase"),
    WITHDRAWAL: mark("withdrawal period"),
    USE_BY: mark("use by"),
    HOW: mark("how"),
    WHERE: mark("where"),
}
"""Those that may be empty, as they stand within a line."""
OWN_LINE = (PRODUCT, BATCH, SUPPLIER, WITHDRAWAL)


@dataclass(frozen=True, slots=True)
class Fact:
    """One fact: its name, its words line by line, whether it is missing, whether there is nothing to say."""

    name: str
    lines: tuple[str, ...]
    is_missing: bool = False
    is_empty: bool = False

    @property
    def label(self) -> str:
        """Its name in the reader's language."""
        return say(self.name)


def _fact(name: str, text: str, missing: tuple[Item, ...], item: Item | None = None) -> Fact:
    if item is not None and item in missing:
        return Fact(name, (say(MISSING),), is_missing=True)
    return Fact(name, (text or say(EMPTY),), is_empty=not text)


def _days(number: int | None) -> str:
    return "" if number is None else say_many("{n} day", "{n} days", number)


def _round_words(one: RoundLine) -> str:
    each = "; ".join(one.each)
    if one.out_on:
        return say("{day}, out {out}: {each}", day=day(one.given_on), out=day(one.out_on), each=each)
    return f"{day(one.given_on)}: {each}"


def _when(line: UseLine) -> str:
    if line.last_on is None:
        return say("from {day}, still in the hive", day=day(line.first_on))
    if line.last_on == line.first_on:
        return f"{day(line.first_on)} ({_days(1)})"
    first, last = day(line.first_on), day(line.last_on)
    return say("{first} to {last} ({days})", first=first, last=last, days=_days(line.days))


def _clear(line: UseLine) -> str:
    if line.treatment.withdrawal_days is None:
        return say("not known without the withdrawal period")
    return day(line.clear_on) or say("not known before the last of it is out")


def given_facts(line: UseLine) -> tuple[Fact, ...]:
    """When, to which colonies, how much, of what."""
    treatment, missing = line.treatment, line.missing
    number = say_many("{n} colony", "{n} colonies", line.number)
    amounts = tuple(_round_words(one) for one in line.rounds)
    facts = [
        Fact(GIVEN, (_when(line),)),
        Fact(YARD, (f"{treatment.yard.name}: {line.colonies} ({number})",)),
        Fact(QUANTITY, (*amounts, say("In all {amount}", amount=line.total))),
        Fact(INGREDIENT, (treatment.application.name,)),
        _fact(PRODUCT, treatment.product, missing, Item.PRODUCT),
        _fact(BATCH, treatment.batch, missing, Item.BATCH),
    ]
    if treatment.registration:
        facts.append(Fact(REGISTRATION, (treatment.registration,)))
    return (*facts, *_noted(treatment.note))


def bill_facts(line: UseLine) -> tuple[Fact, ...]:
    """Where it came from, who prescribed and gave it, when honey is clear of it, how long this is kept."""
    treatment, missing = line.treatment, line.missing
    own = all((treatment.supplier, treatment.supplier_address, treatment.proof))
    supplier = line.supplier
    if supplier and line.bill and not own:
        bought_on = day(line.bill.bought_on)
        supplier = say("{supplier} (from the purchase of {day})", supplier=supplier, day=bought_on)
    recorded_on = treatment.yard.local_date(treatment.recorded_at)
    recorded = f"{treatment.recorded_by.name}, {day(recorded_on)}"
    kept = (Fact(KEEP, (line.kept_words,)),) if line.kept_words else ()
    return (
        _fact(SUPPLIER, supplier, missing, Item.SUPPLIER),
        _fact(ADDRESS, line.supplier_address, missing, Item.SUPPLIER_ADDRESS),
        _fact(PROOF, line.proof, missing, Item.PROOF),
        Fact(VET, (treatment.vet or say("none named"),)),
        _fact(WITHDRAWAL, _days(treatment.withdrawal_days), missing, Item.WITHDRAWAL_DAYS),
        Fact(CLEAR, (_clear(line),)),
        Fact(GIVEN_BY, (line.given_by,)),
        Fact(RECORDED_BY, (recorded,)),
        *kept,
    )


def empty_together(facts: tuple[Fact, ...]) -> tuple[Fact, ...]:
    """The same with what is empty and seldom asked for as one last line.

    What every form asks for first keeps its own line, so that a reader finds it in its place.
    """
    folded = [fact for fact in facts if fact.is_empty and fact.name not in OWN_LINE]
    empty = [say(IN_A_LIST[fact.name]) for fact in folded]
    told = tuple(fact for fact in facts if fact not in folded)
    return (*told, Fact(NOT_FILLED_IN, (", ".join(empty),), is_empty=True)) if empty else told


def kept_facts(line: KeptLine) -> tuple[Fact, ...]:
    """A purchase or a disposal."""
    if isinstance(line.entry, MedicinePurchase):
        return _purchase_facts(line, line.entry)
    return _disposal_facts(line, line.entry)


def _recorded(line: KeptLine) -> Fact:
    return Fact(RECORDED_BY, (f"{line.entry.recorded_by.name}, {day(line.recorded_on)}",))


def _noted(note: str) -> tuple[Fact, ...]:
    return (Fact(NOTE, (note,)),) if note else ()


def _shared(line: KeptLine) -> list[Fact]:
    entry = line.entry
    ingredient = getattr(entry, "ingredient", "")
    return [
        Fact(
            PRODUCT, (f"{entry.product} ({ingredient_within(ingredient)})" if ingredient else entry.product,)
        ),
        _fact(BATCH, entry.batch, line.missing, Item.BATCH),
        Fact(QUANTITY, (f"{plain(entry.quantity)} {unit_words(entry.unit)}",)),
    ]


def _purchase_facts(line: KeptLine, entry: MedicinePurchase) -> tuple[Fact, ...]:
    missing = line.missing
    return (
        Fact(BOUGHT_ON, (day(entry.bought_on),)),
        *_shared(line),
        _fact(SUPPLIER, entry.supplier, missing, Item.SUPPLIER),
        _fact(ADDRESS, entry.supplier_address, missing, Item.SUPPLIER_ADDRESS),
        _fact(PROOF, entry.proof, missing, Item.PROOF),
        _fact(WITHDRAWAL, _days(entry.withdrawal_days), missing, Item.WITHDRAWAL_DAYS),
        _fact(USE_BY, day(entry.expires_on), missing),
        _recorded(line),
        *_noted(entry.note),
    )


def _disposal_facts(line: KeptLine, entry: MedicineDisposal) -> tuple[Fact, ...]:
    return (
        Fact(DISPOSED_ON, (day(entry.disposed_on),)),
        *_shared(line),
        _fact(HOW, entry.how, line.missing, Item.HOW),
        _fact(WHERE, entry.place, line.missing, Item.PLACE),
        _recorded(line),
        *_noted(entry.note),
    )


def voided_words(line: UseLine | KeptLine) -> str:
    """Who struck it through, when and why; empty for what stands."""
    if line.voided is None:
        return ""
    voided = line.voided
    return say(
        "Struck through by {name}, {at}: {why}", name=voided.by, at=day_and_time(voided.at), why=voided.why
    )
