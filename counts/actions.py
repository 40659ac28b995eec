"""The only writers of counts. Callers have passed a gate first.

Every change is told (`counts.signals`) inside the same transaction which yards and months it touched, so that what
others materialise from counts can never disagree with them.
"""

import datetime as dt
import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from apiaries.actions.colonies import move_starts_back
from apiaries.history import action
from apiaries.models import Brood, Colony, Person, Visit, Yard
from apiaries.standing import yards_on
from counts.adding import add, basis_for
from counts.constants import DEFAULTS, Constants
from counts.estimate import Estimate, estimate_board, estimate_jar
from counts.models import EstimateBasis, MiteSample
from counts.samples import BeesBy, BoardSample, JarSample, Method, Problem, problems_of
from counts.signals import tell_samples_changed


@dataclass(frozen=True)
class NewCount:
    """A count as it was made, before it is kept. Bees for a jar; days (and cells) for a board; cells for drone brood.

    `there_then`: the person said that the colony stood there on that day, although it is noted only from a later one.
    `stood`: the yard in which it stood on that day, where that was looked up to ask about the count, so that it is kept
    in the yard that was asked about. `visit` is the inspector's visit at which it was made. `entry_key` is minted where
    the count is typed, when the form opens: the same key never makes two counts.
    """

    colony: Colony
    method: Method
    sampled_on: dt.date
    mites: int
    bees: int | None = None
    bees_by: BeesBy | None = None
    board_days: Decimal | None = None
    cells_counted: int | None = None
    cells_total: int | None = None
    treatment_in_hive: bool = False
    brood: Brood = Brood.UNKNOWN
    note: str = ""
    there_then: bool = False
    stood: Yard | None = None
    visit: Visit | None = None
    entry_key: uuid.UUID = field(default_factory=uuid.uuid4)


SAME = (
    "method",
    "sampled_on",
    "mites",
    "bees",
    "board_days",
    "cells_counted",
    "cells_total",
    "treatment_in_hive",
    "brood",
)
"""What a count with a key that is known must say again, as it was said before."""


class NotPossible(ValueError):
    """The count cannot have happened: `problems` says why, `row` which of several it was (from 0)."""

    def __init__(self, problems: Sequence[Problem], row: int = 0) -> None:
        super().__init__(f"row {row}: {', '.join(problems)}")
        self.problems, self.row = tuple(problems), row


class EntryKeyReused(ValueError):
    """Another count already has this entry key."""


class AlreadyVoided(ValueError):
    """The count was voided or corrected before."""


class ChangedSince(ValueError):
    """The count is not as it was when the form opened."""


@action
def record_sample(*, count: NewCount, at: dt.datetime, by: Person) -> MiteSample:
    """Keep one count and its estimate. The same entry key again returns the count that is already here."""
    return _record([count], at=at, by=by)[0]


@action
def record_samples(*, counts: Sequence[NewCount], at: dt.datetime, by: Person) -> list[MiteSample]:
    """Keep several counts, all or none, in the order given.

    Errors: NotPossible names the first row that cannot be; EntryKeyReused if a key belongs to another count.
    """
    return _record(counts, at=at, by=by)


@action
def correct_sample(
    *, sample: MiteSample, count: NewCount, why: str, at: dt.datetime, by: Person, seen: int | None = None
) -> MiteSample:
    """Put a corrected count in the place of `sample`, which stays, struck through, with who and why.

    `seen`: the version that was corrected, if the caller knows. Errors: AlreadyVoided; ChangedSince; NotPossible;
    EntryKeyReused, and then nothing is voided either.
    """
    (yard,) = _stood([count])
    Yard.objects.hold([sample.yard_id, yard.pk])
    _there_then([count])
    voided = _void(sample, why=why, at=at, by=by, seen=seen)
    corrected = _unsaved(count, yard=yard, basis=basis_for(DEFAULTS), at=at, by=by, row=0)
    corrected.corrects, corrected.visit = voided, voided.visit
    if add([corrected]):
        raise EntryKeyReused("Another count has this entry key.")
    tell_changed([voided, corrected], held=True)
    return corrected


@action
def void_sample(
    *, sample: MiteSample, why: str, at: dt.datetime, by: Person, seen: int | None = None
) -> MiteSample:
    """The count no longer counts, but stays to be seen. Errors: AlreadyVoided; ChangedSince, as `correct_sample`."""
    Yard.objects.hold([sample.yard_id])
    voided = _void(sample, why=why, at=at, by=by, seen=seen)
    tell_changed([voided], held=True)
    return voided


def kept_with(count: NewCount, by: Person) -> MiteSample | None:
    """The count that is here under this key, if any. Errors: EntryKeyReused if it says something else."""
    found = _with_keys([count.entry_key])
    return _already_here(found[count.entry_key], count, by) if found else None


def estimate_of(
    value: JarSample | BoardSample | None, *, treatment_in_hive: bool, constants: Constants
) -> Estimate | None:
    """What a pure sample says; None where no estimate exists (drone brood)."""
    if isinstance(value, JarSample):
        return estimate_jar(value, constants)
    if isinstance(value, BoardSample):
        return estimate_board(value, constants, treatment_in_hive=treatment_in_hive)
    return None


def _record(counts: Sequence[NewCount], *, at: dt.datetime, by: Person) -> list[MiteSample]:
    yards = _stood(counts)
    Yard.objects.hold(yard.pk for yard in yards)  # a second send of the same counts waits here, not halfway
    _there_then(counts)
    basis = basis_for(DEFAULTS)

    def made(here: Mapping[uuid.UUID, MiteSample]) -> list[MiteSample]:
        return [
            _already_here(here[count.entry_key], count, by)
            if count.entry_key in here
            else _unsaved(count, yard=yards[row], basis=basis, at=at, by=by, row=row)
            for row, count in enumerate(counts)
        ]

    try:
        kept = made({})
    except NotPossible:
        kept = made(_with_keys([count.entry_key for count in counts]))  # what is here is not asked once more
    fresh = [sample for sample in kept if sample._state.adding]
    taken = {id(sample) for sample in add(fresh)}
    tell_changed([sample for sample in fresh if id(sample) not in taken], held=True)
    return _with_those_here(counts, kept, by) if taken else kept


def _stood(counts: Sequence[NewCount]) -> list[Yard]:
    """The yards in which the colonies stood, in the order of their counts."""
    unknown = [count for count in counts if count.stood is None]
    found = iter(yards_on([(count.colony, count.sampled_on) for count in unknown]))
    return [count.stood or next(found) for count in counts]


def _with_those_here(counts: Sequence[NewCount], kept: Sequence[MiteSample], by: Person) -> list[MiteSample]:
    """In the place of what could not be added, what has its key. Errors: EntryKeyReused, also of a key sent twice."""
    added = {sample.entry_key for sample in kept if not sample._state.adding}
    here = _with_keys({sample.entry_key for sample in kept} - added)
    if any(sample._state.adding and sample.entry_key not in here for sample in kept):
        raise EntryKeyReused("Another count has this entry key.")
    return [
        _already_here(here[count.entry_key], count, by) if sample._state.adding else sample
        for count, sample in zip(counts, kept, strict=True)
    ]


def _unsaved(
    count: NewCount, *, yard: Yard, basis: EstimateBasis, at: dt.datetime, by: Person, row: int
) -> MiteSample:
    sample = MiteSample(
        colony=count.colony,
        yard=yard,
        method=count.method.value,
        sampled_on=count.sampled_on,
        mites=count.mites,
        bees=count.bees,
        bees_by=count.bees_by.value if count.bees_by else "",
        board_days=count.board_days,
        cells_counted=count.cells_counted,
        cells_total=count.cells_total,
        treatment_in_hive=count.treatment_in_hive,
        brood=count.brood,
        note=count.note.strip(),
        visit=count.visit,
        entry_key=count.entry_key,
        recorded_at=at,
        recorded_by=by,
    )
    problems = sample_problems(sample, at)
    if problems:
        raise NotPossible(problems, row)
    estimate_sample(sample, basis)
    return sample


def sample_problems(sample: MiteSample, at: dt.datetime) -> list[Problem]:
    """Why a count that was noted then cannot have been made; empty if it can. ValueError for an unknown method."""
    value = sample.as_value()
    problems = list(problems_of(value)) if value is not None else []
    if value is None and not 0 <= sample.mites <= (sample.cells_counted or 0):
        problems.append(Problem.MORE_MITES_THAN_CELLS)
    if sample.sampled_on > sample.yard.local_date(at):
        problems.append(Problem.IN_THE_FUTURE)
    return problems


def estimate_sample(sample: MiteSample, basis: EstimateBasis) -> None:
    """Work out what the count says, by today's method, and set it beside the facts."""
    estimate = estimate_of(sample.as_value(), treatment_in_hive=sample.treatment_in_hive, constants=DEFAULTS)
    if estimate is None:
        return
    sample.basis, sample.refusal = basis, estimate.reason or ""
    if estimate.rate is not None:
        sample.rate, sample.low, sample.high = estimate.rate, estimate.low, estimate.high
        sample.exposure, sample.squared_cv = estimate.exposure, estimate.c2


def _there_then(counts: Iterable[NewCount]) -> None:
    """A counted colony was there: what is noted of its beginning says so from now on, and nobody asks again."""
    move_starts_back([(count.colony, count.sampled_on, count.there_then) for count in counts])


def _with_keys(keys: Iterable[uuid.UUID]) -> dict[uuid.UUID, MiteSample]:
    found = MiteSample.objects.filter(entry_key__in=keys).select_related("colony", "yard")
    return {sample.entry_key: sample for sample in found}


def _already_here(sample: MiteSample, count: NewCount, by: Person) -> MiteSample:
    """The kept count, if it is the same person's and says the same; a key is nobody else's to look up."""
    same = (
        sample.recorded_by_id == by.pk
        and sample.colony_id == count.colony.pk
        and sample.bees_by == (count.bees_by.value if count.bees_by else "")
        and sample.note == count.note.strip()
        and all(getattr(sample, name) == getattr(count, name) for name in SAME)
    )
    if not same:
        raise EntryKeyReused("Another count has this entry key.")
    return sample


def _void(sample: MiteSample, *, why: str, at: dt.datetime, by: Person, seen: int | None) -> MiteSample:
    locked = MiteSample.objects.select_for_update().get(pk=sample.pk)
    if locked.voided_at is not None:
        raise AlreadyVoided("This count was voided or corrected before.")
    if seen is not None and seen != locked.version:
        raise ChangedSince("This count was voided and restored meanwhile.")
    locked.voided_at, locked.voided_by, locked.voided_why = at, by, why.strip()
    locked.save(update_fields=["voided_at", "voided_by", "voided_why"])
    return locked


def tell_changed(samples: Iterable[MiteSample], *, held: bool = False) -> None:
    """Tell other apps which yards and months these counts touch; `held`: the caller holds the yards already."""
    touched = frozenset((sample.yard_id, sample.sampled_on.replace(day=1)) for sample in samples)
    if touched:
        if not held:
            Yard.objects.hold(yard_id for yard_id, _ in touched)  # whoever hears it finds them held
        tell_samples_changed(MiteSample, touched)
