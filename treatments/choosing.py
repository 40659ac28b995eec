"""Which counts stand before and after a treatment: the choice for one colony and one kind of count."""

from collections.abc import Sequence

from apiaries.models import Colony
from counts.models import MiteSample
from counts.samples import Kind
from treatments.around import Around
from treatments.recount_rules import Fit, after_fit, before_fit, wanted_kinds

KINDS = (Kind.WASH, Kind.ROLL, Kind.BOARD)
"""In the order in which they are preferred: a wash misses the fewest mites."""

Counted = tuple[MiteSample, ...]


def wanted(around: Around, colony: Colony) -> list[Kind]:
    before = [kind for kind in KINDS if before_counts(around, colony, kind)]
    wanted = wanted_kinds(around.treatment.recount.kind, before)
    return [kind for kind in KINDS if kind in wanted]


def before_counts(around: Around, colony: Colony, kind: Kind) -> Counted:
    """The latest suitable before-count: every sample of its day and kind. Of an untreated colony, by the yard's
    first dose."""
    doses = around.doses_of(colony)
    first = doses[0].on if doses else around.first_dose_on()
    if first is None:
        return ()
    other = max((one.on for one in around.other_doses_of(colony) if one.on < first), default=None)
    fits = [
        sample
        for sample in _telling(around, colony)
        if before_fit(
            sample_kind=sample.kind,
            sampled_on=sample.sampled_on,
            voided=False,
            wanted_kind=kind,
            first_dose_on=first,
            treatment_in_hive=sample.treatment_in_hive,
            other_dose_on=other,
        )
        is Fit.SUITABLE
    ]
    return tuple(sample for sample in fits if sample.sampled_on == fits[-1].sampled_on)


def after_counts(around: Around, colony: Colony, kind: Kind) -> Counted:
    """The first suitable after-count: every sample of its day and kind."""
    fits = [
        sample for sample in _telling(around, colony) if _fit(around, colony, sample, kind) is Fit.SUITABLE
    ]
    return tuple(sample for sample in fits if sample.sampled_on == fits[0].sampled_on)


def _telling(around: Around, colony: Colony) -> list[MiteSample]:
    """Counts that allow an estimate: what is refused on its own page cannot decide whether a treatment worked."""
    return [sample for sample in around.samples.get(colony.pk, ()) if sample.rate is not None]


def _fit(around: Around, colony: Colony, sample: MiteSample, kind: Kind) -> Fit:
    doses = around.doses_of(colony)
    last = doses[-1].on if doses else around.first_dose_on() or sample.sampled_on
    return after_fit(
        sample_kind=sample.kind,
        sampled_on=sample.sampled_on,
        voided=False,
        wanted_kind=kind,
        window=around.treatment.recount.window,
        treatment_in_hive=sample.treatment_in_hive,
        next_dose_on=min((one.on for one in around.other_doses_of(colony) if one.on > last), default=None),
    )


def dosed_between(around: Around, colony: Colony, before: Counted, after: Counted) -> bool:
    first, last = before[0].sampled_on, after[0].sampled_on
    return any(one.on < last and one.last_on >= first for one in around.other_doses_of(colony))


def mites_of(counted: Sequence[Counted]) -> list[int]:
    return [sum(sample.mites for sample in one) for one in counted]


def bees_of(counted: Sequence[Counted]) -> list[int]:
    return [sum(sample.bees or 0 for sample in one) for one in counted]


def days_of(counted: Sequence[Counted], most: float) -> list[float]:
    """Days on the board, each worth as much as its counted share to the largest share among them."""
    return [sum(float(s.board_days or 0) * s.share_counted / most for s in one) for one in counted]


def rate_of(kind: Kind, counted: Counted) -> float:
    exposure = days_of([counted], 1.0) if kind is Kind.BOARD else bees_of([counted])
    return mites_of([counted])[0] / exposure[0] if exposure[0] else 0.0
