"""Counts and yards as other programs get them: the presenters of the pages, with their figures not yet in words."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django.db.models import QuerySet

from apiaries.models import Person, Yard
from apiaries.second_lock import by_the_service
from counts.api.shapes import CORRECTED, PER_100_BEES, PER_DAY, STANDING, VOIDED
from counts.constants import METHOD_VERSION, Constants
from counts.estimate import Estimate, Unit, YardEstimate
from counts.measuring import MEASURES, Way, way_of, ways_of
from counts.models import MiteSample
from counts.presenters import CountRow, rows_of
from counts.samples import JAR_KINDS, BeesBy, Kind, Method, kind_of
from counts.saying import no_level_words, sentence_of
from counts.spread import constants_of_club
from counts.standing import Comparison, Published, Said, in_short
from counts.yards import YardSays, yard_says

_ALWAYS = ("level", "certain_at")
_JAR = ("scoop_cv", "jar_bees_min", "jar_bees_rough")
_BOARD = (
    "board_day_cv",
    "board_detection",
    "board_grid_cv",
    "board_days_min",
    "board_days_max",
    "board_share_min",
    "board_share_rough",
    "board_partial_mites_min",
)
_YARD = ("bees_cv_estimated", "bees_cv_counted", "between_c2", "between_weight", "yard_colonies_min")
_RECOVERIES = {
    Method.ALCOHOL_WASH: "recovery_wash",
    Method.SOAP_WASH: "recovery_wash",
    Method.SUGAR_ROLL: "recovery_sugar",
    Method.CO2: "recovery_co2",
}


def tellable(samples: "QuerySet[MiteSample]") -> "QuerySet[MiteSample]":
    """With all that `counts_told` needs, in a number of queries that does not grow with them.

    What many counts have in common is read once: joined to each of them it would be read as often.
    """
    return samples.prefetch_related(
        "colony",
        "yard__club",
        "basis",
        "recorded_by",
        "voided_by",
        "restorations__voided_by",
        "restorations__restored_by",
    )


def counts_told(samples: Iterable[MiteSample], person: Person) -> list[dict[str, Any]]:
    """Each count of `tellable`, in the order given."""
    samples = list(samples)
    rows = rows_of(samples, published := Published())
    after = _corrections_of(samples)
    seen = seen_of({one.corrects_id for one in samples}.union(*after.values()) - {None}, person)
    ways = {club.pk: ways_of(club) for club in {one.yard.club for one in samples}}
    return [_count(row, published, ways[row.sample.yard.club_id], after[row.sample.pk], seen) for row in rows]


def seen_of(pks: Iterable[int | None], person: Person) -> set[int]:
    """Of these counts, those that the person may see: a correction may lie in another yard than what it corrects."""
    wanted = {pk for pk in pks if pk is not None}
    if not wanted:
        return set()
    return set(MiteSample.objects.visible_to(person).filter(pk__in=wanted).values_list("pk", flat=True))


def estimate_told(estimate: Estimate | None, made_by: dict[str, Any]) -> dict[str, Any] | None:
    """The estimate of one count; None for drone brood."""
    if estimate is None:
        return None
    jar = estimate.unit is Unit.PER_BEE
    return _rates(estimate, 100.0 if jar else 1.0) | {
        "unit": PER_100_BEES if jar else PER_DAY,
        "level": made_by["constants"]["level"]["value"],
        "mites": estimate.mites,
        "bees": estimate.bees,
        "board_days": estimate.days,
        "one_sided": estimate.one_sided,
        "rough": estimate.rough,
        "corrected": estimate.corrected,
        "refusal": estimate.reason.value if estimate.reason else None,
        "made_by": made_by,
    }


def estimate_of_count(sample: MiteSample, said: Said) -> dict[str, Any] | None:
    """The estimate kept with a count, with the constants that it was made with."""
    if said.estimate is None or sample.basis is None:
        return None
    return estimate_told(
        said.estimate, made_by(sample.basis.version, sample.basis.constants, _used_by(sample))
    )


def mean_told(estimate: YardEstimate, made_by: dict[str, Any]) -> dict[str, Any]:
    """The figures of a mean over several colonies."""
    return _rates(estimate, 100.0) | {
        "unit": PER_100_BEES,
        "level": made_by["constants"]["level"]["value"],
        "mites": int(estimate.mites),
        "bees": int(estimate.bees),
        "colonies_counted": int(estimate.colonies_sampled),
        "one_sided": bool(estimate.one_sided),
        "rough": bool(estimate.rough),
        "refusal": estimate.reason.value if estimate.reason else None,
        "made_by": made_by,
    }


def mean_made_by(constants: Constants, methods: Iterable[Method]) -> dict[str, Any]:
    """How a mean over colonies is worked out; the constants are the club's, with its own spread between colonies."""
    recoveries = sorted({_RECOVERIES[method] for method in methods})
    return made_by(METHOD_VERSION, constants.as_stored(), [*_JAR, *_YARD, *recoveries])


def made_by(version: str, stored: Mapping[str, Any], names: Iterable[str]) -> dict[str, Any]:
    """Version and the named constants, as they were stored: a number, or one with its standard deviation."""
    told: dict[str, dict[str, float]] = {}
    for name in (*_ALWAYS, *names):
        if name in stored:
            value, sd = stored[name] if isinstance(stored[name], list) else (stored[name], 0.0)
            told[name] = {"value": value, "sd": sd}
    return {"version": version, "constants": told}


def yard_told(yard: Yard, person: Person) -> dict[str, Any]:
    """What the yard's page says of it as a whole."""
    visible = MiteSample.objects.visible_to(person).standing()
    says = yard_says(yard, visible, Published(), living=yard.colonies.living().count())
    return {
        "yard": yard.pk,
        "estimate": _yard_estimate(says, yard) if says else None,
        "standing": {
            "word": says.key if says else in_short(()),
            "why": "",
            "sentence": says.sentence if says else "",
            "levels": [_level(one, 100.0) for one in says.compared] if says else [],
        },
        "settle": says.settle if says else "",
    }


def void_told(at: dt.datetime | None, by: Person | None, why: str) -> dict[str, Any] | None:
    """That something no longer counts; None while it does."""
    return None if at is None or by is None else {"at": at, "by": by.name, "why": why}


def _yard_estimate(says: YardSays, yard: Yard) -> dict[str, Any]:
    kind = Kind.ROLL if says.roll else Kind.WASH
    methods = [method for method in _RECOVERIES if kind_of(method) is kind]
    return mean_told(says.estimate, mean_made_by(constants_of_club(yard.club_id), methods)) | {
        "kind": kind.value,
        "colonies": says.colonies,
        "first_on": says.first,
        "last_on": says.last,
    }


def _count(
    row: CountRow, published: Published, ways: Mapping[str, Way], after: Sequence[int], seen: set[int]
) -> dict[str, Any]:
    sample = row.sample
    board = sample.kind is Kind.BOARD
    return {
        "id": sample.pk,
        "version": sample.version,
        "colony": sample.colony_id,
        "colony_name": sample.colony.name,
        "yard": sample.yard_id,
        "method": sample.method,
        "kind": sample.kind.value,
        "sampled_on": sample.sampled_on,
        "mites": sample.mites,
        "bees": sample.bees,
        "bees_by": sample.bees_by or None,
        "measure": _measure(sample, ways),
        "board_days": float(sample.board_days) if sample.board_days is not None else None,
        "cells_counted": sample.cells_counted,
        "cells_total": sample.cells_total,
        "treatment_in_hive": sample.treatment_in_hive if board else None,
        "brood": sample.brood,
        "note": sample.note,
        "recorded_at": sample.recorded_at,
        "recorded_by": sample.recorded_by.name,
        "state": STANDING if sample.voided_at is None else CORRECTED if after else VOIDED,
        "voided": void_told(sample.voided_at, sample.voided_by, sample.voided_why),
        "restored": [
            {
                "voided": void_told(one.voided_at, one.voided_by, one.voided_why),
                "restored": void_told(one.restored_at, one.restored_by, one.restored_why),
            }
            for one in sample.restorations.all()
        ],
        "corrects": sample.corrects_id if sample.corrects_id in seen else None,
        "corrected_by": next((pk for pk in after if pk in seen), None) if sample.voided_at else None,
        "estimate": estimate_of_count(sample, row.said),
        "standing": _standing(sample, row.said, published),
    }


@by_the_service
def _corrections_of(samples: Iterable[MiteSample]) -> dict[int, list[int]]:
    """By key, the corrections of each, the newest first: an older one may have been voided since. One query.

    Also where the reader may not look: that it was corrected is a count's own state; by which, only some may see.
    """
    found: dict[int, list[int]] = {one.pk: [] for one in samples}
    rows = (
        MiteSample.objects.filter(corrects__in=list(found)).order_by("-pk").values_list("corrects_id", "pk")
    )
    for corrected, pk in rows:
        if corrected is not None:
            found[corrected].append(pk)
    return found


def _measure(sample: MiteSample, ways: Mapping[str, Way]) -> str | None:
    way = way_of(sample, ways) if sample.bees_by == BeesBy.VOLUME else None
    return way if way in MEASURES else None


def _standing(sample: MiteSample, said: Said, published: Published) -> dict[str, Any]:
    acting = [one for one in said.compared if one.level.act_rate is not None]
    issuer = published.issuer_name(sample.yard.club.action_level_issuer)
    return {
        "word": said.key,
        "why": said.note or no_level_words(sample, said, issuer),
        "sentence": sentence_of(said, acting),
        "levels": [_level(one, 1.0 if sample.kind is Kind.BOARD else 100.0) for one in said.compared],
    }


def _level(one: Comparison, per: float) -> dict[str, Any]:
    level = one.level
    first, last = level.months or (None, None)
    return {
        "key": level.key,
        "issuer": level.issuer,
        "region": level.region,
        "from_month": first,
        "to_month": last,
        "brood": level.brood.value if level.brood else None,
        "at": level.act_at,
        "at_inclusive": level.act_inclusive,
        "unit": level.unit.value,
        "rate": None if level.act_rate is None else level.act_rate * per,
        "mark": level.mark,
        "source": level.source,
        "standing": one.standing.value,
    }


def _rates(estimate: Estimate | YardEstimate, per: float) -> dict[str, float | None]:
    ends = {"rate": estimate.rate, "low": estimate.low, "high": estimate.high}
    return {name: None if value is None else float(value) * per for name, value in ends.items()}


def _used_by(sample: MiteSample) -> Sequence[str]:
    if sample.kind not in JAR_KINDS:
        return _BOARD
    counted = sample.bees_by == BeesBy.COUNTED
    bees = "bees_cv_counted" if counted else "bees_cv_estimated"
    return [*_JAR, bees, _RECOVERIES[Method(sample.method)]]
