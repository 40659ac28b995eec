"""The only writers of sheets that are brought in. Callers have passed a gate first."""

import datetime as dt
import hashlib
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from django.db import models
from django.db.models import F, Min, Q
from django.db.models.functions import TruncMonth

from apiaries.actions.colonies import MOST_AT_ONCE, add_colonies, move_starts_back
from apiaries.actions.colony_life import end_colony
from apiaries.history import action
from apiaries.models import Club, Colony, Person, Yard
from counts.adding import basis_for
from counts.constants import DEFAULTS
from counts.imports.columns import Meaning
from counts.imports.places import Places
from counts.imports.refusing import CHANGED
from counts.imports.said import Said, said_in
from counts.imports.staging import count_beside, insert_counts, mark_now_here
from counts.models import (
    ImportBatch,
    ImportRow,
    ImportState,
    ImportWork,
    KnownHeading,
    MiteSample,
    RowStatus,
)
from counts.signals import tell_samples_changed


class NotNow(ValueError):
    """The batch is not in a state for that: somebody else was quicker, or it is being read."""


class ChangedMeanwhile(ValueError):
    """Yards, colonies or counts changed since the rows were looked at; the sheet is read again."""


class NothingReady(ValueError):
    """No row of the sheet makes a count."""


@dataclass(frozen=True, slots=True)
class NewColony:
    """A colony of the sheet that is not here: set up from its first count on; `gone_on`: it is no more."""

    yard: Yard
    name: str
    started_on: dt.date
    gone_on: dt.date | None = None


@action
def take_in_sheet(
    *,
    club: Club,
    name: str,
    data: bytes,
    said: Said,
    at: dt.datetime,
    by: Person,
    keeper: Person | None = None,
) -> ImportBatch:
    """Keep a file that is to be looked at. Nothing of it counts yet."""
    batch = ImportBatch.objects.create(
        club=club,
        keeper=keeper,
        by=by,
        at=at,
        file_name=name[-200:],
        size=len(data),
        sha256=hashlib.sha256(data).hexdigest(),
        choices=said.stored(),
    )
    ImportWork.objects.create(batch=batch, data=data)
    return batch


@action
def answer_about_sheet(*, batch: ImportBatch, said: Said, by: Person) -> ImportBatch:
    """Keep what was said about the sheet: it is read again, and what was agreed to before is asked anew.

    Errors: NotNow once it is brought in or put aside.
    """
    locked = locked_batch(batch, ImportState.LOOK, ImportState.READING, ImportState.FAILED)
    locked.choices, locked.state, locked.refusal = said.stored(), ImportState.READING, None
    locked.save(update_fields=["choices", "state", "refusal"])
    ImportWork.objects.filter(pk=batch.pk).update(held_by=None, seen_at=None, attempts=0, rows_done=0)
    return locked


@action
def remember_headings(
    *, club: Club, meanings: Mapping[str, Meaning | None], at: dt.datetime, by: Person
) -> None:
    """Keep what headings mean in this club's sheets, by their `plain` words; None: nothing that counts."""
    KnownHeading.objects.bulk_create(
        [
            KnownHeading(
                club=club,
                heading=words[:200],
                column=meaning.column.value if meaning else "",
                bees=meaning.bees if meaning else None,
                said_at=at,
                said_by=by,
            )
            for words, meaning in sorted(meanings.items())
        ],
        update_conflicts=True,
        unique_fields=["club", "heading"],
        update_fields=["column", "bees", "said_at", "said_by"],
    )


@action
def agree_to_rows(
    *, batch: ImportBatch, by: Person, kinds: Collection[str] = (), numbers: Collection[int] = ()
) -> int:
    """Say that rows which needed a look are right: all with these kinds of question, or these rows alone.

    A row with questions of several kinds is agreed to when all of them are. How many rows it concerned.
    """
    locked = locked_batch(batch, ImportState.LOOK)
    looks = ImportRow.objects.filter(batch=locked, status=RowStatus.LOOK, entry_key__isnull=False)
    changed = []
    for row in looks.filter(Q(open__overlap=list(kinds)) | Q(number__in=list(numbers))).only(
        "open", "number"
    ):
        row.open = [] if row.number in numbers else [kind for kind in row.open if kind not in kinds]
        changed.append(row)
    return ImportRow.objects.bulk_update(changed, ["open"], batch_size=1000)


@action
def take_agreement_back(*, batch: ImportBatch, by: Person) -> int:
    """All rows that needed a look need it again."""
    locked = locked_batch(batch, ImportState.LOOK)
    return ImportRow.objects.filter(batch=locked, status=RowStatus.LOOK).update(open=F("kinds"))


@action
def put_sheet_aside(*, batch: ImportBatch, by: Person) -> ImportBatch:
    """Nothing of the sheet is brought in; that it was here stays to be seen, its file and rows go."""
    locked = locked_batch(batch, ImportState.LOOK, ImportState.READING, ImportState.FAILED)
    locked.state = ImportState.REFUSED
    locked.save(update_fields=["state"])
    forget_file(locked)
    return locked


@action
def begin_bringing_in(*, batch: ImportBatch, by: Person) -> ImportBatch:
    """Leave the bringing in to the worker. Errors: NotNow; NothingReady."""
    locked = locked_batch(batch, ImportState.LOOK)
    if not wanted(locked).exists():
        raise NothingReady(str(locked))
    locked.state, locked.refusal = ImportState.BRINGING, None
    locked.save(update_fields=["state", "refusal"])
    return locked


@action
def bring_in_sheet(*, batch: ImportBatch, at: dt.datetime, by: Person) -> ImportBatch:
    """Make the counts of all ready rows and of those that were agreed to: all of them, or none.

    The same rows twice make one count each. Errors: NotNow; NothingReady; ChangedMeanwhile, if the yards and colonies
    are not as they were when the rows were looked at, if another count of a row's colony, day and method came in
    since, or if estimates are worked out in another way by now.
    """
    locked = locked_batch(batch, ImportState.LOOK, ImportState.BRINGING)
    rows = wanted(locked)
    Yard.objects.hold(rows.values_list("yard_id", flat=True))
    said = said_in(locked.choices)
    today = at.date()
    stale = rows.exclude(Q(basis=None) | Q(basis=basis_for(DEFAULTS))).exists()
    if stale or Places(locked.by, locked.keeper, said, today).world() != locked.world:
        raise ChangedMeanwhile(str(locked))
    numbers = mark_now_here(locked)
    if not rows.exists():
        raise NothingReady(str(locked))
    if count_beside(locked):
        raise ChangedMeanwhile(str(locked))
    _starts_back(locked)
    insert_counts(locked, at)
    told = numbers | {
        "state": ImportState.IN, "refusal": None, "brought_at": at, "brought": locked.counts.count()
    }  # fmt: skip
    for name, value in told.items():
        setattr(locked, name, value)
    locked.save(update_fields=list(told))
    _tell(locked)
    return locked


@action
def look_again(*, batch: ImportBatch, by: Person, changed: bool = False) -> ImportBatch:
    """The sheet is read again, as it was said before; `changed`: somebody else changed something, which is told."""
    locked = locked_batch(batch, ImportState.LOOK, ImportState.BRINGING, ImportState.FAILED)
    locked.state = ImportState.READING
    locked.refusal = {"code": CHANGED, "values": {}} if changed else None
    locked.save(update_fields=["state", "refusal"])
    ImportWork.objects.filter(pk=batch.pk).update(held_by=None, seen_at=None, attempts=0, rows_done=0)
    return locked


@action
def set_up_missing(*, colonies: Sequence[NewColony], why_gone: str, by: Person) -> list[Colony]:
    """Set up colonies that a sheet names: all or none. Their beginning is not known, but that they were there.

    Errors: NameTaken of `apiaries.actions`, if somebody else was quicker.
    """
    made = []
    for yard in sorted({one.yard.pk: one.yard for one in colonies}.values(), key=lambda yard: yard.pk):
        mine = [one for one in colonies if one.yard.pk == yard.pk]
        for at in range(0, len(mine), MOST_AT_ONCE):
            some = mine[at : at + MOST_AT_ONCE]
            first = min(one.started_on for one in some)
            new = add_colonies(
                yard=yard, names=[one.name for one in some], started_on=first, started_known=False, by=by
            )
            for colony, one in zip(new, some, strict=True):
                if one.gone_on is not None:
                    end_colony(colony=colony, ended_on=one.gone_on, why=why_gone, by=by)
            made += new
    return made


def forget_file(batch: ImportBatch) -> None:
    """For actions: the file and the rows of a batch are no longer needed.

    The work goes first: an attempt that is at it ends its portion before, and adds no row after.
    """
    ImportWork.objects.filter(pk=batch.pk).delete()
    ImportRow.objects.filter(batch=batch).delete()


def wanted(batch: ImportBatch) -> "models.QuerySet[ImportRow]":
    """Rows that make a count now: the ready ones, and those whose every question was agreed to."""
    rows = ImportRow.objects.filter(batch=batch, entry_key__isnull=False)
    return rows.filter(Q(status=RowStatus.READY) | Q(status=RowStatus.LOOK, open=[]))


def _starts_back(batch: ImportBatch) -> None:
    """Colonies were there on their first count's day; who agreed to an early row has said so."""
    firsts = dict(wanted(batch).values_list("colony").annotate(first=Min("sampled_on")))
    early = Colony.objects.filter(pk__in=firsts).in_bulk()
    move_starts_back([(early[key], first, True) for key, first in sorted(firsts.items())])


def _tell(batch: ImportBatch) -> None:
    touched = touched_by(MiteSample.objects.filter(imported__batch=batch))
    if touched:
        tell_samples_changed(MiteSample, touched)


def touched_by(samples: "models.QuerySet[MiteSample]") -> frozenset[tuple[int, dt.date]]:
    """Yard and month of each of the counts."""
    return frozenset(samples.order_by().values_list("yard_id", TruncMonth("sampled_on")).distinct())


def locked_batch(batch: ImportBatch, *states: ImportState) -> ImportBatch:
    """For actions: the batch, held, if it is in one of these states. Errors: NotNow.

    Held so that a reader may still add rows to it: it waits for the work, never the work for it.
    """
    held = ImportBatch.objects.select_for_update(of=("self",), no_key=True)
    locked = held.select_related("club", "by", "keeper")
    found = locked.get(pk=batch.pk)
    if found.state not in states:
        raise NotNow(found.state)
    return found
