"""Counts as marks of a season: each of a colony's by itself, those of a yard's day as one mean with its range.

Colonies of a yard differ, so the range of a mean holds what differs between them, on boards as in jars.
"""

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Sequence

from apiaries.language import figure, mark, say
from apiaries.templatetags.recount_words import plain
from counts.constants import DEFAULTS, Constants
from counts.estimate import Refusal, YardEstimate, yard_mean
from counts.models import MiteSample
from counts.presenters import raw_words
from counts.samples import Kind
from counts.standing import SHORT_REFUSALS, exposure_of
from counts.yards import mean_of
from reports.season_marks import Point

NO_ESTIMATE = mark("no estimate")
ROUGH_COLONIES = 2
"""A mean of so few of a larger yard is told as very rough."""


def point_of(sample: MiteSample) -> Point:
    """One count with the range that was kept with it, or why there is none."""
    return _mark([sample], sample, raw=raw_words(sample), note=_why(sample) if sample.rate is None else "")


def points_of_yard(
    samples: Iterable[MiteSample], living: Callable[[dt.date], int], constants: Constants = DEFAULTS
) -> list[Point]:
    """One mark for each day and kind; boards under a treatment are a kind of their own.

    `constants` are those of the yard's club: its own spread comes from washes and is used for jars only.
    """
    days: dict[tuple[dt.date, Kind, bool], list[MiteSample]] = defaultdict(list)
    for sample in samples:
        days[sample.sampled_on, sample.kind, _under_treatment(sample)].append(sample)
    return [_day(days[key], living(key[0]), constants) for key in sorted(days, key=_in_order)]


def _in_order(key: tuple[dt.date, Kind, bool]) -> tuple[dt.date, int, bool]:
    """By day; on one day washes, rolls, boards."""
    on, kind, under_treatment = key
    return on, list(Kind).index(kind), under_treatment


def board_mean(boards: Iterable[MiteSample], colonies: int) -> YardEstimate:
    """Mean drop a day of a yard's colonies, from the boards of some; two boards of one colony are one sample.

    Boards that lay unlike long weigh colonies unlike. What differs between colonies then enters with Σw² − 1/N
    instead of (1 − k/N) Σw², the same where all lay equally long: the number of colonies is raised to fit.
    """
    mites: Counter[int] = Counter()
    found: dict[int, float] = defaultdict(float)
    within = 0.0
    for board in boards:
        mites[board.colony_id] += board.mites
        found[board.colony_id] += exposure_of(board, DEFAULTS)
        within = max(within, board.squared_cv or 0.0)
    exposures = list(found.values())
    uneven = len(exposures) * sum(one**2 for one in exposures) / sum(exposures) ** 2
    return yard_mean(
        [mites[key] for key in found],
        exposures,
        colonies * uneven,
        between_c2=DEFAULTS.between_c2.value,
        within_c2=within,
        prior_weight=DEFAULTS.between_weight.value,
        level=DEFAULTS.level.value,
    )


def _day(samples: Sequence[MiteSample], living: int, constants: Constants) -> Point:
    """A yard's counting day. One colony of several shows its own range: it cannot speak for the yard."""
    known = [sample for sample in samples if sample.rate is not None]
    left_out = _left_out(samples)
    if not known:
        return _mark(samples, samples[0], raw="; ".join(map(raw_words, samples)), note=left_out)
    counted = len({sample.colony_id for sample in known})
    colonies = max(living, counted)
    alone = counted == 1 < colonies
    notes = [
        _speaks_for(known[0], counted, colonies),
        say("left out: {colonies}", colonies=left_out) if left_out else "",
    ]
    says = _says(known, 1 if alone else colonies, constants)
    raw = say(
        "{raw} from {counted} of {colonies} colonies", raw=_raw(known), counted=counted, colonies=colonies
    )
    return _mark(known, says, raw=raw, note="; ".join(filter(None, notes)), alone=alone)


def _says(known: Sequence[MiteSample], colonies: int, constants: Constants) -> MiteSample | YardEstimate:
    """What was kept with a single count of a single colony; else the mean of the colonies counted."""
    if len(known) == 1 == colonies:
        return known[0]
    if known[0].kind is Kind.BOARD:
        return board_mean(known, colonies)
    return mean_of(known, colonies, constants)


def _speaks_for(sample: MiteSample, counted: int, colonies: int) -> str:
    if counted == 1 < colonies:
        return say("colony {name} only, which cannot speak for the yard", name=sample.colony.name)
    if counted == ROUGH_COLONIES < colonies:
        return say("{counted} colonies only, very rough", counted=counted)
    return ""


def _mark(
    samples: Sequence[MiteSample],
    says: MiteSample | YardEstimate,
    *,
    raw: str,
    note: str,
    alone: bool = False,
) -> Point:
    first = samples[0]
    times = 1.0 if first.kind is Kind.BOARD else 100.0
    rate, low, high = (
        None if value is None else float(value) * times for value in (says.rate, says.low, says.high)
    )
    return Point(
        first.sampled_on,
        first.kind,
        raw,
        rate,
        low,
        high,
        note=note,
        none_found=rate == 0,
        under_treatment=_under_treatment(first),
        alone=alone,
    )


def _raw(known: Sequence[MiteSample]) -> str:
    """What was counted that day: 18 in about 1,200 bees, 62 on 2 boards in 6 days."""
    if len(known) == 1:
        return raw_words(known[0])
    mites = sum(sample.mites for sample in known)
    if known[0].kind is not Kind.BOARD:
        bees = sum(sample.bees or 0 for sample in known)
        return say("{mites} in about {bees} bees", mites=figure(f"{mites:,}"), bees=figure(f"{bees:,}"))
    told = {
        "mites": figure(f"{mites:,}"),
        "boards": len(known),
        "days": plain(sum(sample.board_days or 0 for sample in known)),
    }
    if any(sample.cells_total for sample in known):
        return say("{mites} on {boards} boards, in part, {days} days in all,", **told)
    return say("{mites} on {boards} boards, {days} days in all,", **told)


def _left_out(samples: Iterable[MiteSample]) -> str:
    refused = [sample for sample in samples if sample.rate is None]
    return ", ".join(
        say("colony {name} ({why})", name=sample.colony.name, why=_why(sample)) for sample in refused
    )


def _why(sample: MiteSample) -> str:
    why = SHORT_REFUSALS.get(Refusal(sample.refusal)) if sample.refusal else None
    return say(why or NO_ESTIMATE)


def _under_treatment(sample: MiteSample) -> bool:
    return sample.kind is Kind.BOARD and sample.treatment_in_hive
