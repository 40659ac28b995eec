"""What a medicine record is made of: lines of doses, purchases and disposals."""

import datetime as dt
from dataclasses import dataclass

from apiaries.language import say
from apiaries.models import Person, Yard
from apiaries.zones import zone_of
from treatments.chain import Head
from treatments.medicine import Item
from treatments.models import Dose, MedicineDisposal, MedicinePurchase, Treatment
from treatments.record_changes import Change
from treatments.ways import INGREDIENT_WORDS


@dataclass(frozen=True, slots=True)
class Voided:
    """Why an entry is struck through."""

    at: dt.datetime
    by: str
    why: str


@dataclass(frozen=True, slots=True)
class RoundLine:
    """One round: its days, what each colony got, and all of them together."""

    number: int
    given_on: dt.date | None
    out_on: dt.date | None
    doses: tuple[Dose, ...]
    each: tuple[str, ...]
    total: str


@dataclass(frozen=True, slots=True)
class UseLine:
    """One treatment with what a medicine record asks of it."""

    treatment: Treatment
    rounds: tuple[RoundLine, ...]
    first_on: dt.date
    last_on: dt.date | None
    colonies: str
    number: int
    total: str
    bill: MedicinePurchase | None
    clear_on: dt.date | None
    kept_words: str
    changes: tuple[Change, ...]
    voided: Voided | None
    missing: tuple[Item, ...] = ()
    missing_words: str = ""
    asked_by: str = ""

    @property
    def on(self) -> dt.date:
        """The day it is listed by."""
        return self.first_on

    @property
    def anchor(self) -> str:
        """Where it stands on its page."""
        return f"treatment-{self.treatment.pk}"

    @property
    def named(self) -> str:
        """What it is called in a list."""
        return self.treatment.application.name

    @property
    def days(self) -> int | None:
        """Duration in days, both ends counted; None while something is in the hive."""
        return (self.last_on - self.first_on).days + 1 if self.last_on else None

    @property
    def ingredient(self) -> str:
        return say(INGREDIENT_WORDS.get(self.treatment.application.ingredient, ""))

    @property
    def supplier(self) -> str:
        """As noted with the treatment, else as noted with the purchase of that batch."""
        return self.treatment.supplier or (self.bill.supplier if self.bill else "")

    @property
    def supplier_address(self) -> str:
        return self.treatment.supplier_address or (self.bill.supplier_address if self.bill else "")

    @property
    def proof(self) -> str:
        return self.treatment.proof or (self.bill.proof if self.bill else "")

    @property
    def given_by(self) -> str:
        return self.treatment.given_by or self.treatment.recorded_by.name


@dataclass(frozen=True, slots=True)
class KeptLine:
    """One purchase or disposal."""

    entry: MedicinePurchase | MedicineDisposal
    missing: tuple[Item, ...]
    missing_words: str
    voided: Voided | None
    may_edit: bool

    @property
    def on(self) -> dt.date:
        """The day of the purchase or the disposal."""
        return self.entry.bought_on if isinstance(self.entry, MedicinePurchase) else self.entry.disposed_on

    @property
    def anchor(self) -> str:
        """Where it stands on its page."""
        kind = "purchase" if isinstance(self.entry, MedicinePurchase) else "disposal"
        return f"{kind}-{self.entry.pk}"

    @property
    def named(self) -> str:
        """What it is called in a list."""
        if isinstance(self.entry, MedicinePurchase):
            return say("purchase of {product}", product=self.entry.product)
        return say("disposal of {product}", product=self.entry.product)

    @property
    def recorded_on(self) -> dt.date:
        """The day on which it was recorded, where the keeper is."""
        return self.entry.recorded_at.astimezone(zone_of(self.entry.keeper.time_zone)).date()

    @property
    def ingredient(self) -> str:
        return say(INGREDIENT_WORDS.get(getattr(self.entry, "ingredient", ""), ""))


@dataclass(frozen=True, slots=True)
class MedicineRecord:
    """All of it, for one keeper, one year or all, one yard or all."""

    keeper: Person
    year: int | None
    yard: Yard | None
    uses: tuple[UseLine, ...]
    purchases: tuple[KeptLine, ...]
    disposals: tuple[KeptLine, ...]
    sees_purchases: bool
    may_log: bool
    kept_words: str
    head: Head | None = None

    @property
    def missing_anything(self) -> int:
        """How many standing entries lack something."""
        return len(lacking(self))

    @property
    def is_empty(self) -> bool:
        return not (self.uses or self.purchases or self.disposals)


def lacking(record: MedicineRecord) -> list[UseLine | KeptLine]:
    """The standing entries that lack something asked for, in the order of the page."""
    lines: tuple[UseLine | KeptLine, ...] = (*record.uses, *record.purchases, *record.disposals)
    return [line for line in lines if line.missing and line.voided is None]
