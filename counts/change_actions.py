"""Lifting the void of a count, and what stands in the place of a count that was corrected."""

import datetime as dt
from collections.abc import Iterable

from apiaries.history import action
from apiaries.models import Person, Yard
from apiaries.second_lock import as_the_service, by_the_service
from counts.actions import ChangedSince, tell_changed
from counts.models import MiteSample, SampleRestored


class NotVoided(ValueError):
    """The count stands; there is nothing to restore."""


class Replaced(ValueError):
    """Another count stands in its place: two would count where one was made."""


@action
def restore_sample(
    *, sample: MiteSample, why: str, at: dt.datetime, by: Person, seen: int | None = None
) -> MiteSample:
    """The count counts again. That it was voided, by whom and why, stays to be seen.

    `seen`: the version that was restored, if the caller knows. Errors: ChangedSince; NotVoided; Replaced
    while a correction of it, or the count that it corrected, stands.
    """
    with as_the_service():  # also what was made of it where this person may not look
        yards = MiteSample.objects.filter(pk__in=_made_of_one(sample)).values_list("yard_id", flat=True)
        Yard.objects.hold(yards)  # before any count, as everybody does who changes one
        # All that were ever made of one count are locked in one order; only then is it certain which of them stands.
        list(MiteSample.objects.select_for_update().filter(pk__in=_made_of_one(sample)).order_by("pk"))
    locked = MiteSample.objects.get(pk=sample.pk)
    if seen is not None and seen != locked.version:
        raise ChangedSince("This count was restored, or restored and voided again, meanwhile.")
    if locked.voided_at is None or locked.voided_by is None:
        raise NotVoided(str(locked))
    if in_its_place(sample) is not None:
        raise Replaced(str(locked))
    SampleRestored.objects.create(
        sample=locked,
        voided_at=locked.voided_at,
        voided_by=locked.voided_by,
        voided_why=locked.voided_why,
        restored_at=at,
        restored_by=by,
        restored_why=why.strip(),
    )
    locked.voided_at, locked.voided_by, locked.voided_why = None, None, ""
    locked.save(update_fields=["voided_at", "voided_by", "voided_why"])
    tell_changed([locked], held=True)
    return locked


@by_the_service
def in_its_place(sample: MiteSample) -> MiteSample | None:
    """Of a count and all its corrections, the one that stands now; None if all are voided.

    Also where the reader may not look, as no count is restored beside its correction: a gate stands before showing it.
    """
    return MiteSample.objects.standing().filter(pk__in=_made_of_one(sample)).first()


@by_the_service
def in_whose_place(sample: MiteSample) -> list[int]:
    """Keys of the counts in whose place this one came, one after the other, the newest first."""
    found: list[int] = []
    before: int | None = sample.corrects_id
    while before is not None and before not in (sample.pk, *found):  # in a circle any one is first
        found.append(before)
        keys: Iterable[int | None] = MiteSample.objects.filter(pk=before).values_list(
            "corrects_id", flat=True
        )
        before = next(iter(keys), None)
    return found


def _made_of_one(sample: MiteSample) -> set[int]:
    """Keys of the first count that was typed and of all corrections that came of it, this one among them."""
    first = [sample.pk, *in_whose_place(sample)][-1]
    found, newest = {first}, {first}
    while newest:
        newest = set(MiteSample.objects.filter(corrects__in=newest).values_list("pk", flat=True)) - found
        found |= newest
    return found
