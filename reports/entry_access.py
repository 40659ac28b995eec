"""The only way for a signed link from a mail to get anything: this recount, for the person it was sent to."""

import datetime as dt
from dataclasses import dataclass
from enum import StrEnum

from apiaries.models import Colony, Person
from apiaries.second_lock import by_the_service
from counts.samples import Kind
from reports.due_days import local_day
from reports.links import EntryWord, address_mark, entry_word_of, last_use
from reports.models import Suspension
from reports.owed import open_for_their_keepers
from treatments.around import Around, read_around
from treatments.choosing import wanted
from treatments.models import Recount
from treatments.recount_rules import RecountStatus
from treatments.results import recount_statuses


class Shut(StrEnum):
    """Why a link opens no form."""

    UNKNOWN = "unknown"
    OVER = "over"
    COUNTED = "counted"


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """What a link opens: the treated colonies of one yard, for one person, on one day there."""

    person: Person
    recount: Recount
    colonies: tuple[Colony, ...]
    kinds: frozenset[Kind]
    today: dt.date


@by_the_service  # its signature is what lets it through
def entry_with(token: str, *, at: dt.datetime) -> Entry | Shut:
    """The entry that a link leads to at this moment, or why there is none."""
    word = entry_word_of(token)
    if word is None:
        return Shut.UNKNOWN
    recount = open_for_their_keepers().filter(pk=word.recount_pk).first()
    if recount is None or not _is_for(word, recount, at):
        return Shut.OVER
    person = recount.treatment.yard.keeper
    today = local_day(at, person.time_zone)
    status = recount_statuses([recount], today)[recount.pk]
    if status is RecountStatus.DONE:
        return Shut.COUNTED
    if status not in (RecountStatus.DUE, RecountStatus.LATE):
        return Shut.OVER
    return _entry(recount, today=today, in_yard=recount.treatment.yard.local_date(at))


def _is_for(word: EntryWord, recount: Recount, at: dt.datetime) -> bool:
    """Whether the link was sent to who keeps the yard now, at the address they have now, not too long ago."""
    person = recount.treatment.yard.keeper
    return (
        word.person_pk == person.pk
        and word.address == address_mark(person)
        and at < last_use(word, recount)
        and not Suspension.objects.filter(person=person).exists()
    )


def _entry(recount: Recount, *, today: dt.date, in_yard: dt.date) -> Entry | Shut:
    around = read_around([recount.treatment], today, with_others=False)[recount.treatment_id]
    colonies = _living_here(around)
    if not colonies:
        return Shut.OVER
    return Entry(
        person=recount.treatment.yard.keeper,
        recount=recount,
        colonies=colonies,
        kinds=frozenset(kind for colony in colonies for kind in wanted(around, colony)),
        today=in_yard,
    )


def _living_here(around: Around) -> tuple[Colony, ...]:
    """Treated colonies that live and still stand in the yard."""
    yard = around.treatment.yard_id
    return tuple(one for one in around.colonies if one.ended_on is None and one.yard_id == yard)
