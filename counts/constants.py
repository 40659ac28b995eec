"""The tuning constants of the sums, each with its mark and source. Pure.

A club may replace any of them (`dataclasses.replace`). What was used is stored with every estimate
(`Constants.as_stored`), so that an old page does not change silently when a default does.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, fields, replace
from enum import StrEnum
from typing import Any

from apiaries.language import mark, say

METHOD_VERSION = "nb-jeffreys-1"
"""Name of the method behind every estimate; raised whenever a displayed number would change."""


class Mark(StrEnum):
    """How far a value can be trusted; said where it is shown."""

    SOURCE = mark("source")
    COMMON_PRACTICE = mark("common practice, no source")
    MEMORY = mark("from memory")
    CHOICE = mark("our choice")
    COMPUTED = mark("computed")


@dataclass(frozen=True, slots=True)
class Constant:
    """One tuning value; `sd` is its own standard deviation where it is uncertain, in the same unit."""

    value: float
    mark: Mark
    source: str
    sd: float = 0.0

    @property
    def cv(self) -> float:
        """The standard deviation as a share of the value."""
        return self.sd / self.value

    @property
    def where_from(self) -> str:
        """Its mark and its source, as a page tells them."""
        trust = say(self.mark.value)
        return f"{trust}: {say(self.source)}" if self.source else trust


def _practice(value: float, note: str = "", sd: float = 0.0) -> Constant:
    return Constant(value, Mark.COMMON_PRACTICE, note, sd)


def _choice(value: float, note: str, sd: float = 0.0) -> Constant:
    return Constant(value, Mark.CHOICE, note, sd)


RECOVERY_SUGAR_UNTRAINED = _practice(0.80, "powdered sugar in the field, untrained hands", sd=0.10)
"""A club whose keepers are new to the sugar roll sets `recovery_sugar` to this."""

_INERT_DUSTS = mark(
    "Macedo et al. 2002, J. Apic. Res., abstract (title from memory: Using inert dusts to detect and assess "
    "varroa infestations in honey bee colonies): 92.9 +/- 5.5 % in a jar in the laboratory"
)
_BEEBOOK_WASH = mark("Dietemann et al. 2013 and papers on washing, remembered; taken as 90-100 %")
_OSTIGUY = mark(
    "Ostiguy & Sammataro 2000, A simplified technique for counting Varroa jacobsoni Oud. on sticky boards, "
    "Apidologie, abstract: a third of the cells, mean error 0.4 +/- 9.5 %"
)
_SIMULATED = mark("chosen from simulations of whole yards; replaced by the club's own pooled value")


@dataclass(frozen=True, slots=True)
class Tuned:
    """What the constants of every app share: their names in order, and how they are stored."""

    version: str = ""

    def named(self) -> Iterator[tuple[str, Constant]]:
        """Every constant with its name, in order, for the reference pages."""
        for one in fields(self):
            value = getattr(self, one.name)
            if isinstance(value, Constant):
                yield one.name, value

    def as_stored(self) -> dict[str, str | float | list[float]]:
        """Plain values for storing beside an estimate: a number, or [value, sd] where it is uncertain."""
        stored: dict[str, str | float | list[float]] = {"method": self.version}
        for name, one in self.named():
            stored[name] = [one.value, one.sd] if one.sd else one.value
        return stored


@dataclass(frozen=True, slots=True)
class Constants(Tuned):
    """All tuning constants. CVs are standard deviations as a share of the mean.

    The sources that pages show (`counts.saying.sums_behind`) are marked for translation; the others stand in docs only.
    """

    level: Constant = _practice(0.95, mark("two-sided level of every range"))
    certain_at: Constant = _choice(
        0.90, mark("chance from which a count is called above; below at 1 minus this")
    )

    bees_cv_estimated: Constant = _practice(0.10, mark("bees by volume or taken as a nominal number"))
    bees_cv_counted: Constant = Constant(0.0, Mark.COMPUTED, mark("bees counted one by one"))
    scoop_cv: Constant = _practice(0.20, mark("from scoop to scoop inside one colony, 0.1-0.35"))
    recovery_wash: Constant = Constant(0.95, Mark.MEMORY, _BEEBOOK_WASH, 0.03)
    recovery_sugar: Constant = Constant(0.929, Mark.SOURCE, _INERT_DUSTS, 0.055)
    recovery_co2: Constant = _choice(
        1.0, mark("not known: uncorrected, spread as an untrained sugar roll"), 0.125
    )

    between_c2: Constant = _choice(0.8, _SIMULATED)
    between_weight: Constant = _choice(4.0, _SIMULATED)
    yard_colonies_min: Constant = _choice(3, "fewer sampled colonies give no verdict on a yard")

    board_day_cv: Constant = _practice(0.30, mark("drop from day to day"))
    board_grid_cv: Constant = Constant(0.095, Mark.SOURCE, _OSTIGUY)
    board_detection: Constant = _choice(1.0, mark("every mite on the counted cells is seen"))
    board_days_min: Constant = _choice(0.5, "shorter boards give no estimate")
    board_days_max: Constant = _practice(7.0, "longer boards lose mites to scavengers and debris")
    board_share_rough: Constant = _choice(0.33, "less than a third of the cells is a rough count")
    board_share_min: Constant = _choice(0.11, "less than a ninth of the cells cannot speak for the board")
    board_partial_mites_min: Constant = _choice(20, "fewer mites on part of a board cannot speak for it")

    jar_bees_min: Constant = _choice(50, "fewer bees give no estimate")
    jar_bees_rough: Constant = _choice(100, "fewer bees give a rough estimate")
    jar_bees_asked: Constant = _choice(1000, "more bees than this are asked about")
    jar_rate_asked: Constant = _choice(0.15, "more mites per bee than this are asked about")
    jar_rate_max: Constant = _choice(3.0, "more mites per bee than this are a typing error")

    settle_jars_max: Constant = _choice(20, "more jars of one colony than this are never advised")

    club_yards_min: Constant = _choice(30, "fewer yards of two colonies do not replace the spread; simulated")
    prior_samples_min: Constant = _choice(30, "fewer counts of a region and month are no prior; simulated")
    prior_keepers_min: Constant = _practice(3, "counts of fewer keepers stay their own: no prior is shown")
    prior_yards_min: Constant = _practice(5, "nor counts of fewer yards")
    prior_keeper_share_max: Constant = _practice(0.6, "nor where one keeper made a larger part of them")
    prior_c2_min: Constant = _choice(0.05, "colonies of a region never count as more alike than this")
    prior_c2_max: Constant = _choice(6.0, "nor as less alike than this")

    odd_chance: Constant = _choice(0.001, "a colony less likely than this beside its yard is asked about")
    odd_between_c2: Constant = _choice(1.5, "colonies count as at least so unlike there; from simulations")
    odd_colonies_min: Constant = _choice(3, "fewer colonies cannot show one of them as odd")
    odd_change_days_max: Constant = _choice(90, "two counts of a colony further apart are not held together")
    odd_z: Constant = _choice(3.0, "a change beyond so many standard errors is asked about")
    growth_max_per_day: Constant = _choice(0.05, "no growth inside a colony is faster; from simulations")
    heaped_mites_min: Constant = _choice(10, "only counts from here on should end in every digit alike")
    heaped_counts_min: Constant = _choice(10, "fewer counts show no habit")
    empty_washes_min: Constant = _choice(10, "so many washes without a mite in a row are remarkable")
    empty_wash_chance: Constant = _choice(0.06, "only washes that find no mite less often at 1 per 100 count")

    version: str = field(default=METHOD_VERSION)

    @classmethod
    def from_stored(cls, stored: Mapping[str, Any]) -> Constants:
        """The constants an old estimate was made with; those it did not store yet keep today's default.

        The version is the stored one: a caller that finds another than `METHOD_VERSION` shows the stored numbers.
        """
        kept = {}
        for name, today in cls().named():
            if name in stored:
                value, sd = stored[name] if isinstance(stored[name], list) else (stored[name], 0.0)
                kept[name] = replace(today, value=value, sd=sd)
        return cls(**kept, version=stored["method"])


DEFAULTS = Constants()
