"""Kinds of batteries: what is reckoned with for each while the keeper says nothing else, and from where."""

from dataclasses import dataclass
from decimal import Decimal

from django.db import models
from django.utils.translation import gettext_lazy as _

from apiaries.language import figure, mark, say
from counts.constants import Constant, Mark
from treatments.constants import DEFAULTS


class Kind(models.TextChoices):
    """What feeds a heater."""

    NONE = "none", _("No battery: mains or gas")
    FLOODED = "flooded", _("Lead-acid, flooded: with caps or vents")
    AGM = "agm", _("Lead-acid, AGM: sealed")
    LITHIUM = "lithium", _("Lithium")


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


_MARK_WORDS = {
    Mark.SOURCE: mark("published"),
    Mark.COMMON_PRACTICE: mark("common practice, no source"),
    Mark.MEMORY: mark("from memory"),
    Mark.CHOICE: mark("our choice"),
    Mark.COMPUTED: mark("computed"),
}
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
        _told(say("lead-acid, share used: {share}", share=percent(lead.usable_share)), lead.share),
        _told(say("lithium, share used: {share}", share=percent(lithium.usable_share)), lithium.share),
        *(_told(_exponent_words(kind, of), of.exponent) for kind, of in DEFAULTS_OF.items()),
        _told(say("lead-acid, hours: {hours}", hours=figure(f"{_HOURS.value:g}")), _HOURS),
    ]


_EXPONENT_WORDS = {
    Kind.FLOODED: mark("flooded lead-acid, Peukert exponent: {exponent}"),
    Kind.AGM: mark("AGM lead-acid, Peukert exponent: {exponent}"),
    Kind.LITHIUM: mark("lithium, Peukert exponent: {exponent}"),
}


def _exponent_words(kind: Kind, usual: Usual) -> str:
    return say(_EXPONENT_WORDS[kind], exponent=figure(f"{usual.exponent.value:g}"))


def told_of(what: str, value: Decimal, constant: Constant | None) -> Told:
    """A battery's figure beside its source: the usual one's, or the keeper's own."""
    if constant is not None and value == _decimal(constant):
        return _told(what, constant)
    return Told(what, say("your own figure"))


def percent(share: Decimal) -> str:
    """A share as it was typed: 50 %, 62.5 %."""
    return figure(f"{float(share * 100):g}\N{NO-BREAK SPACE}%")


def _told(what: str, constant: Constant) -> Told:
    return Told(what, say(_MARK_WORDS[constant.mark]), constant.source)
