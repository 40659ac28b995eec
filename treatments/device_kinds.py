"""Kinds of batteries: what is reckoned with for each while the keeper says nothing else, and from where."""

from dataclasses import dataclass
from decimal import Decimal

from django.db import models

from counts.constants import Constant, Mark
from treatments.constants import DEFAULTS


class Kind(models.TextChoices):
    """What feeds a heater."""

    NONE = "none", "No battery: mains or gas"
    FLOODED = "flooded", "Lead-acid, flooded: with caps or vents"
    AGM = "agm", "Lead-acid, AGM: sealed"
    LITHIUM = "lithium", "Lithium"


@dataclass(frozen=True, slots=True, kw_only=True)
class Usual:
    """The constants of one kind; without hours where no loss is reckoned with, as they change nothing there."""

    share: Constant
    exponent: Constant
    hours: Constant | None

    @property
    def usable_share(self) -> Decimal:
        return _decimal(self.share)

    @property
    def peukert(self) -> Decimal:
        return _decimal(self.exponent)

    @property
    def rated_hours(self) -> Decimal | None:
        return _decimal(self.hours) if self.hours else None


@dataclass(frozen=True, slots=True)
class Told:
    """A figure in words, and how far to trust it."""

    what: str
    mark: str
    source: str = ""


def _decimal(constant: Constant) -> Decimal:
    return Decimal(str(constant.value))


_LEAD, _HOURS = DEFAULTS.battery_usable_share, DEFAULTS.battery_rated_hours
DEFAULTS_OF: dict[Kind, Usual] = {
    Kind.FLOODED: Usual(share=_LEAD, exponent=DEFAULTS.peukert_flooded, hours=_HOURS),
    Kind.AGM: Usual(share=_LEAD, exponent=DEFAULTS.peukert_agm, hours=_HOURS),
    Kind.LITHIUM: Usual(share=DEFAULTS.lithium_usable_share, exponent=DEFAULTS.peukert_none, hours=None),
}


def kind_of(batteries: int, exponent: Decimal | None) -> Kind:
    """The kind that a battery's figures speak of: it is not kept, its figures are."""
    if not batteries:
        return Kind.NONE
    if exponent is None or exponent <= DEFAULTS_OF[Kind.LITHIUM].peukert:
        return Kind.LITHIUM
    return Kind.FLOODED if exponent >= DEFAULTS_OF[Kind.FLOODED].peukert else Kind.AGM


def usual_lines() -> list[Told]:
    """The usual figures of all kinds, each with its mark and source."""
    lead, lithium = DEFAULTS_OF[Kind.FLOODED], DEFAULTS_OF[Kind.LITHIUM]
    return [
        _told(f"lead-acid, share used: {percent(lead.usable_share)}", lead.share),
        _told(f"lithium, share used: {percent(lithium.usable_share)}", lithium.share),
        *(_told(f"{words}, Peukert exponent: {of.exponent.value:g}", of.exponent) for words, of in _named()),
        _told(f"lead-acid, hours: {_HOURS.value:g}", _HOURS),
    ]


def _named() -> list[tuple[str, Usual]]:
    words = {Kind.FLOODED: "flooded lead-acid", Kind.AGM: "AGM lead-acid", Kind.LITHIUM: "lithium"}
    return [(words[kind], usual) for kind, usual in DEFAULTS_OF.items()]


def told_of(what: str, value: Decimal, constant: Constant | None) -> Told:
    """A battery's figure beside its source: the usual one's, or the keeper's own."""
    if constant is not None and value == _decimal(constant):
        return _told(what, constant)
    return Told(what, "your own figure")


def percent(share: Decimal) -> str:
    """A share as it was typed: 50 %, 62.5 %."""
    return f"{float(share * 100):g}\N{NO-BREAK SPACE}%"


def _told(what: str, constant: Constant) -> Told:
    mark = "published" if constant.mark is Mark.SOURCE else str(constant.mark)
    return Told(what, mark, constant.source)
