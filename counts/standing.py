"""What kept counts say: the stored estimate of each, and how it stands to the levels its club goes by.

Lists hand their rows (with `yard__club` and `basis` selected) to one `Published`, which reads the levels once; no
row then costs a query. Stored figures are shown as they are; only the chance of being above a level is worked out,
from the stored squared CV and the exposure under the stored constants.
"""

import datetime as dt
import json
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any

from django.db.models import QuerySet, TextField
from django.db.models.functions import Cast

from apiaries.built_once import BuiltOnce
from apiaries.language import mark, say
from apiaries.on_page import OnPage
from counts.action_levels import (
    UNDEFINED,
    Level,
    LevelKind,
    Standing,
    band_of,
    level_from_row,
    levels_for,
    standing,
)
from counts.constants import DEFAULTS, Constants
from counts.estimate import Estimate, Refusal, Unit, YardEstimate, recovery_of
from counts.models import ActionLevel, MiteSample
from counts.samples import Kind, Method
from counts.sentences import REFUSAL_SENTENCES

LEVEL_KINDS = {
    Kind.WASH: LevelKind.JAR,
    Kind.ROLL: LevelKind.JAR,
    Kind.BOARD: LevelKind.BOARD,
    Kind.DRONE_BROOD: LevelKind.DRONE_BROOD,
}

NO_ISSUER = mark("no action level chosen")
NO_LEVEL = mark("no action level for this month")
SEVERAL = mark("the issuer has two levels for this day")

SHORT_REFUSALS = {
    Refusal.FEW_BEES: mark("too few bees"),
    Refusal.SHORT_BOARD: mark("board too short"),
    Refusal.SMALL_SHARE: mark("too small a part of the board"),
    Refusal.FEW_MITES_ON_PART: mark("too few mites on a part"),
    Refusal.TREATMENT_FALL: mark("fell under a treatment"),
}


@dataclass(frozen=True, slots=True)
class Comparison:
    """One published level of the chosen issuer, and how the count stands to it."""

    level: Level
    standing: Standing
    gap: bool = False
    """Whether the issuer's own table says nothing about this rate."""

    @property
    def per_100_or_day(self) -> float | None:
        """The action level as rates are shown: per 100 bees, or per day."""
        rate = self.level.act_rate
        return rate if rate is None or self.level.kind is LevelKind.BOARD else rate * 100.0


@dataclass(frozen=True, slots=True)
class Said:
    """What one count says: `key` and `note` are for parts/standing.html."""

    estimate: Estimate | None
    compared: tuple[Comparison, ...]
    key: str
    note: str = ""


def _levels() -> "QuerySet[ActionLevel, Any]":
    told = ActionLevel.objects.annotate(text=Cast("row", TextField()))
    return told.values_list("issuer", "issuer_name", "text")


_LEVELS = BuiltOnce(_levels)


class Published:
    """The published action levels, read once for a page."""

    @cached_property
    def _rows(self) -> list[tuple[str, str, Level]]:
        return [(issuer, name, _level_of(text)) for issuer, name, text in _LEVELS.rows()]

    @cached_property
    def _by_issuer(self) -> dict[str, list[Level]]:
        found: dict[str, list[Level]] = defaultdict(list)
        for issuer, _, level in self._rows:
            found[issuer].append(level)
        return dict(found)

    def issuer_name(self, issuer: str) -> str:
        """The issuer in words; empty if nothing of theirs is known."""
        return next((name for key, name, _ in self._rows if key == issuer), "")

    def of(self, issuer: str, sample: MiteSample) -> tuple[Level, ...]:
        """The levels of one issuer for this count's kind, day and brood."""
        brood = None if sample.brood == "unknown" else sample.brood
        return self.for_day(issuer, sample.kind, sample.sampled_on, brood)

    def for_day(self, issuer: str, kind: Kind, on: dt.date, brood: str | None) -> tuple[Level, ...]:
        """The levels of one issuer for that kind of count and day; `brood` is none, some, plenty, None if not known."""
        return levels_for(self._by_issuer.get(issuer, ()), LEVEL_KINDS[kind], on, brood)

    def others(self, issuer: str, sample: MiteSample) -> tuple[Level, ...]:
        """What the other issuers publish for such a count; never merged with the chosen one's."""
        levels = [level for key, _, level in self._rows if key != issuer]
        brood = None if sample.brood == "unknown" else sample.brood
        return levels_for(levels, LEVEL_KINDS[sample.kind], sample.sampled_on, brood)

    def said(self, sample: MiteSample) -> Said:
        """What the count says, by the levels of its club's issuer."""
        estimate, issuer = stored_estimate(sample), sample.yard.club.action_level_issuer
        if estimate is None:
            return Said(None, (), "not_enough", say("drone brood gives no rate"))
        levels = self.of(issuer, sample)
        compared = tuple(_compare(estimate, level) for level in levels)
        return Said(estimate, compared, *_in_short(estimate, compared, issuer))


@lru_cache(maxsize=1000)
def _level_of(text: str) -> Level:
    """The level that a row of the table tells, as JSON: the same text is always the same level."""
    return level_from_row(json.loads(text))


def published_for(page: OnPage) -> Published:
    """The levels for all parts of a page: `page.once(published_for)`."""
    return Published()


def stored_estimate(sample: MiteSample) -> Estimate | None:
    """The estimate as it was kept with the count; None for drone brood, which allows none."""
    if sample.basis is None:
        return None
    constants = constants_of(sample)
    board = sample.kind is Kind.BOARD
    days = float(sample.board_days) if sample.board_days is not None else None
    known = sample.rate is not None
    return Estimate(
        rate=sample.rate,
        low=sample.low,
        high=sample.high,
        unit=Unit.PER_DAY if board else Unit.PER_BEE,
        one_sided=known and sample.mites == 0,
        reason=Refusal(sample.refusal) if sample.refusal else None,
        mites=sample.mites,
        exposure=exposure_of(sample, constants) if known else 0.0,
        c2=sample.squared_cv or 0.0,
        rough=_rough(sample, constants),
        corrected=board and sample.share_counted < 1 or not board and _recovery(sample, constants) != 1.0,
        bees=sample.bees,
        days=days,
        method=sample.basis.version,
    )


def constants_of(sample: MiteSample) -> Constants:
    """The constants that the count's estimate was made with; today's for one that has none."""
    return sample.basis.as_constants if sample.basis else DEFAULTS


def exposure_of(sample: MiteSample, constants: Constants) -> float:
    """Bees times recovery, or days times the share of the board counted times detection."""
    if sample.kind is Kind.BOARD:
        return float(sample.board_days or 0) * sample.share_counted * constants.board_detection.value
    return (sample.bees or 0) * _recovery(sample, constants)


def compare_yard(estimate: YardEstimate, levels: Iterable[Level]) -> tuple[Comparison, ...]:
    """How a yard's mean stands to each level."""
    return tuple(_compare(estimate, level) for level in levels)


def in_short(compared: tuple[Comparison, ...]) -> str:
    """The key of one standing for all: the one they agree on, else that it could be either side."""
    found = {one.standing for one in compared}
    if len(found) == 1:
        return found.pop().value
    return Standing.EITHER_SIDE.value if found else Standing.NOT_ENOUGH.value


def _compare(estimate: Estimate | YardEstimate, level: Level) -> Comparison:
    rate = estimate.rate
    gap = rate is not None and bool(level.bands) and band_of(level, level.in_unit(rate)) == UNDEFINED
    return Comparison(level, standing(estimate, level), gap)


def _in_short(estimate: Estimate, compared: tuple[Comparison, ...], issuer: str) -> tuple[str, str]:
    if estimate.reason is not None:
        return "not_enough", say(SHORT_REFUSALS.get(estimate.reason, REFUSAL_SENTENCES[estimate.reason]))
    acting = tuple(one for one in compared if one.level.act_rate is not None)
    if not acting:
        key = "trend" if estimate.unit is Unit.PER_DAY else "not_enough"
        return key, say(NO_LEVEL if issuer else NO_ISSUER)
    mixed = len({one.standing for one in acting}) > 1
    return in_short(acting), say(SEVERAL) if mixed else ""


def _recovery(sample: MiteSample, constants: Constants) -> float:
    return recovery_of(Method(sample.method), constants).value


def _rough(sample: MiteSample, constants: Constants) -> bool:
    if sample.kind is Kind.BOARD:
        long = float(sample.board_days or 0) > constants.board_days_max.value
        return long or sample.share_counted < constants.board_share_rough.value
    return (sample.bees or 0) < constants.jar_bees_rough.value
