"""What the newest counts of a yard say about the yard as a whole."""

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from django.contrib.postgres.expressions import ArraySubquery
from django.db.models import DateField, ExpressionWrapper, OuterRef, QuerySet, Subquery

from apiaries.language import figure, say
from apiaries.models import Yard
from counts.action_levels import Standing
from counts.constants import DEFAULTS, Constant, Constants
from counts.estimate import YardEstimate, colonies_to_settle, jar_c2, recovery_of, yard_mean
from counts.models import JAR_METHODS, MiteSample
from counts.samples import BeesBy, Kind, Method
from counts.sentences import estimate_sentence, level_words, settle_yard_sentence
from counts.spread import ROUND_DAYS, constants_of_club
from counts.standing import Comparison, Published, compare_yard, in_short


@dataclass(frozen=True, slots=True)
class YardSays:
    """A yard's mean with its range, from the jars of its newest counting days; figures per 100 bees."""

    estimate: YardEstimate
    compared: tuple[Comparison, ...]
    first: dt.date
    last: dt.date
    counted: int
    colonies: int
    roll: bool
    key: str
    sentence: str
    spread: Constant
    """Squared CV between the yard's colonies before any was counted: the club's own, or the default."""
    settle: str

    @property
    def rate(self) -> float | None:
        return _per_100(self.estimate.rate)

    @property
    def low(self) -> float | None:
        return _per_100(self.estimate.low)

    @property
    def high(self) -> float | None:
        return _per_100(self.estimate.high)

    @property
    def none_found(self) -> bool:
        return bool(self.estimate.mites == 0)

    @property
    def raw(self) -> str:
        """Mites, bees and colonies behind the figures."""
        return say(
            "{mites} in about {bees} bees from {counted} of {colonies} colonies",
            mites=figure(f"{self.estimate.mites:,}"),
            bees=figure(f"{self.estimate.bees:,}"),
            counted=self.counted,
            colonies=self.colonies,
        )

    @property
    def level(self) -> Comparison | None:
        """The level drawn in the picture, if there is exactly one."""
        acting = [one for one in self.compared if one.level.act_rate is not None]
        return acting[0] if len(acting) == 1 else None

    @property
    def levels(self) -> list[str]:
        return [level_words(one.level) for one in self.compared]


def yard_says(
    yard: Yard, visible: "QuerySet[MiteSample]", published: Published, *, living: int
) -> YardSays | None:
    """The yard's mean from the washes (or the rolls) of its newest counting days; None without any."""
    jars = newest_jars(yard, visible)
    if not jars:
        return None
    return yard_says_of(yard, jars, published, constants_of_club(yard.club_id), living=living)


def yard_says_of(
    yard: Yard, jars: Sequence[MiteSample], published: Published, constants: Constants, *, living: int
) -> YardSays:
    """The same from the jars of its newest counting days (`newest_jars`), of which there is one. No statement."""
    of_one_kind = _of_one_kind(jars)
    said = _said(yard, of_one_kind, published, constants, living=living)
    return replace(said, settle=_settle(of_one_kind, said.colonies, said.compared, constants))


def newest_jars(yard: Yard, visible: "QuerySet[MiteSample]") -> list[MiteSample]:
    """The washes and rolls of a yard's newest counting days that allow an estimate, by their keys. One statement."""
    jars = _jars(visible).filter(yard=yard)
    newest = jars.order_by("-sampled_on").values("sampled_on")[:1]
    since = ExpressionWrapper(Subquery(newest) - dt.timedelta(days=ROUND_DAYS), output_field=DateField())
    return list(jars.filter(sampled_on__gt=since).order_by("pk"))


def newest_jars_of(counts: Iterable[MiteSample]) -> list[MiteSample]:
    """The same of counts that stand, all of one yard. No statement."""
    jars = [one for one in counts if one.method in JAR_METHODS and _is_enough(one)]
    if not jars:
        return []
    since = max(jar.sampled_on for jar in jars) - dt.timedelta(days=ROUND_DAYS)
    return sorted((jar for jar in jars if jar.sampled_on > since), key=lambda jar: jar.pk)


def yards_say(
    yards: Iterable[Yard], visible: "QuerySet[MiteSample]", published: Published, *, living: Mapping[int, int]
) -> dict[int, YardSays]:
    """The same for several yards (with `club` selected), by their keys; what would settle them is left out.

    Three queries for all yards of a club, however many.
    """
    by_key = {yard.pk: yard for yard in yards}
    rows = _jars(visible).filter(pk__in=_newest_jars_of(by_key))
    jars: dict[int, list[MiteSample]] = defaultdict(list)
    for jar in rows:
        jars[jar.yard_id].append(jar)
    constants = {club: constants_of_club(club) for club in {by_key[pk].club_id for pk in jars}}
    return {
        pk: _said(yard, _of_one_kind(jars[pk]), published, constants[yard.club_id], living=living.get(pk, 0))
        for pk, yard in by_key.items()
        if pk in jars
    }


def _said(
    yard: Yard, jars: list[MiteSample], published: Published, constants: Constants, *, living: int
) -> YardSays:
    days = [jar.sampled_on for jar in jars]
    newest = max(jars, key=_age)
    newest.yard = yard
    colonies = max(living, len({jar.colony_id for jar in jars}))
    estimate = mean_of(jars, colonies, constants)
    compared = compare_yard(estimate, published.of(yard.club.action_level_issuer, newest))
    return YardSays(
        estimate=estimate,
        compared=compared,
        first=min(days),
        last=max(days),
        counted=int(estimate.colonies_sampled),
        colonies=colonies,
        roll=newest.kind is Kind.ROLL,
        key=in_short(tuple(one for one in compared if one.level.act_rate is not None)),
        sentence=_sentence(estimate, compared, colonies),
        spread=constants.between_c2,
        settle="",
    )


def mean_of(jars: Iterable[MiteSample], colonies: int, constants: Constants = DEFAULTS) -> YardEstimate:
    """The mean of a yard's colonies; two jars of one colony are one sample of it.

    `constants` are those of the yard's club (`counts.spread.constants_of_club`).
    """
    counted = _by_colony(jars, constants)
    return yard_mean(
        counted.mites,
        counted.bees,
        colonies,
        recovery=[found / bees for found, bees in zip(counted.found, counted.bees, strict=True)],
        between_c2=constants.between_c2.value,
        within_c2=counted.within_c2,
        prior_weight=constants.between_weight.value,
        level=constants.level.value,
    )


@dataclass(frozen=True, slots=True)
class _ByColony:
    """Jars added up by colony: mites, bees, bees times what the methods find; and the largest c2 of a jar."""

    mites: list[int]
    bees: list[int]
    found: list[float]
    within_c2: float


def _by_colony(jars: Iterable[MiteSample], constants: Constants) -> _ByColony:
    mites: Counter[int] = Counter()
    bees: Counter[int] = Counter()
    found: dict[int, float] = defaultdict(float)
    within = 0.0
    for jar in jars:
        method = Method(jar.method)
        mites[jar.colony_id] += jar.mites
        bees[jar.colony_id] += jar.bees or 0
        found[jar.colony_id] += (jar.bees or 0) * recovery_of(method, constants).value
        within = max(within, jar_c2(method, BeesBy(jar.bees_by), constants))
    keys = list(bees)
    return _ByColony([mites[key] for key in keys], [bees[key] for key in keys], [*found.values()], within)


def _settle(
    jars: Iterable[MiteSample], colonies: int, compared: tuple[Comparison, ...], constants: Constants
) -> str:
    """How many colonies in all would settle a mean that could be either side; empty where nothing is to settle."""
    acting = [one for one in compared if one.level.act_rate is not None]
    if len(acting) != 1 or acting[0].standing is not Standing.EITHER_SIDE:
        return ""
    counted = _by_colony(jars, constants)
    needed = colonies_to_settle(
        counted.mites,
        counted.found,
        colonies,
        acting[0].level.act_rate or 0.0,
        within_c2=counted.within_c2,
        constants=constants,
    )
    return settle_yard_sentence(needed, len(counted.mites), colonies)


def _jars(visible: "QuerySet[MiteSample]") -> "QuerySet[MiteSample]":
    return visible.filter(method__in=JAR_METHODS, bees__gte=DEFAULTS.jar_bees_min.value)


def _is_enough(jar: MiteSample) -> bool:
    """As `_jars` asks for it: whether it holds enough bees for an estimate."""
    return (jar.bees or 0) >= DEFAULTS.jar_bees_min.value


def _newest_jars_of(yards: Collection[int]) -> list[int]:
    """The keys of the jars of each yard's newest counting days: looked up from yard to yard, not out of all counts."""
    jars = _jars(MiteSample.objects.standing())
    newest = jars.filter(yard=OuterRef(OuterRef("pk"))).order_by("-sampled_on").values("sampled_on")[:1]
    since = ExpressionWrapper(Subquery(newest) - dt.timedelta(days=ROUND_DAYS), output_field=DateField())
    mine = jars.filter(yard=OuterRef("pk"), sampled_on__gt=since).values("pk")
    rows = Yard.objects.filter(pk__in=yards).order_by().values_list(ArraySubquery(mine))
    return [pk for (keys,) in rows for pk in keys]


def _of_one_kind(jars: Sequence[MiteSample]) -> list[MiteSample]:
    """Those of the kind of the newest jar."""
    kind = max(jars, key=_age).kind
    return sorted((jar for jar in jars if jar.kind is kind), key=lambda jar: jar.pk)


def _age(jar: MiteSample) -> tuple[dt.date, int]:
    return jar.sampled_on, jar.pk


def _sentence(estimate: YardEstimate, compared: tuple[Comparison, ...], colonies: int) -> str:
    if estimate.colonies_sampled == 1 and colonies > 1:
        return say("One colony cannot speak for {colonies}. Count at least 3 colonies.", colonies=colonies)
    acting = [one for one in compared if one.level.act_rate is not None]
    if len(acting) == 1:
        return estimate_sentence(estimate, acting[0].level, acting[0].standing)
    return estimate_sentence(estimate)


def _per_100(rate: float | None) -> float | None:
    return None if rate is None else rate * 100.0
