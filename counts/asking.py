"""What is odd about a count before it is kept, in words: asked once, and the answer is the keeper's."""

import datetime as dt
import hashlib
import uuid
from collections.abc import Iterable, Mapping, Sequence, Set
from dataclasses import dataclass
from decimal import Decimal

from apiaries.language import say, say_many
from apiaries.models import Colony, Person, Yard
from apiaries.standing import yards_on
from apiaries.templatetags.recount_words import day
from counts.actions import NewCount
from counts.around import Around, Near, around
from counts.beside import odd_beside
from counts.models import MiteSample
from counts.presenters import raw_words
from counts.samples import BoardSample, JarSample, Method, Problem, problems_of, questions_about
from counts.sentences import question_sentence


@dataclass(frozen=True, slots=True)
class LookedUp:
    """What the database knows around counts of one method and day, looked up for all of them at once.

    `here`: keys that are kept already. By colony: `stood` the yard in which it stood; `elsewhere` that yard, where
    their person may not count; `same_day` counts of that day; `beside` what is odd beside the yard and the colony's
    last count, in words.
    """

    here: Set[uuid.UUID]
    stood: Mapping[int, Yard]
    elsewhere: Mapping[int, Yard]
    same_day: Mapping[int, list[Near]]
    beside: Mapping[int, list[str]]


def look_up(counts: Sequence[NewCount], person: Person, *, but: MiteSample | None = None) -> LookedUp:
    """All of it for counts of one method and day, each of another colony; as many questions for fifty as for one."""
    if not counts:
        return LookedUp(set(), {}, {}, {}, {})
    colonies, on = [count.colony for count in counts], counts[0].sampled_on
    keys, old = {count.entry_key for count in counts}, but.pk if but else None

    def found_by(places: Iterable[Yard]) -> Around:
        yards = {yard.pk for yard in places}
        return around({colony.pk for colony in colonies}, on, yards=yards, keys=keys, but=old)

    places = [colony.yard for colony in colonies]
    found = found_by(places)
    if found.moved:  # seldom: mostly they stand where they stood
        places = yards_on([(colony, on) for colony in colonies])
        found = found_by(places)
    stood = {colony.pk: yard for colony, yard in zip(colonies, places, strict=True)}
    # Sent twice: whatever there was to ask has been answered.
    fresh = [count for count in counts if count.entry_key not in found.here]
    return LookedUp(
        found.here,
        stood,
        _shut(colonies, stood, person),
        _same_day(fresh, found.near),
        _beside([(count, stood[count.colony.pk]) for count in fresh], found.near),
    )


def value_of(count: NewCount) -> JarSample | BoardSample | None:
    """The pure sample of a count; None for drone brood."""
    if count.bees_by is not None:
        return JarSample(count.mites, count.bees or 0, count.bees_by, count.method)
    if count.method is Method.BOARD:
        share = count.cells_counted / count.cells_total if count.cells_counted and count.cells_total else 1.0
        return BoardSample(count.mites, float(count.board_days or Decimal(0)), share)
    return None


def problems_with(count: NewCount) -> tuple[Problem, ...]:
    """Why the count cannot have happened as typed."""
    value = value_of(count)
    if value is not None:
        return problems_of(value)
    return () if count.mites <= (count.cells_counted or 0) else (Problem.MORE_MITES_THAN_CELLS,)


def asks_about(count: NewCount, same_day: Iterable[Near]) -> list[str]:
    """What to ask about the numbers themselves, and about counts of the same method and day that are here."""
    value = value_of(count)
    asked = [question_sentence(one, value) for one in questions_about(value)] if value is not None else []
    for sample in same_day:
        words = say(
            "Colony {colony} already has this method's count of {day}: {count}. Is this one more count?",
            colony=count.colony.name,
            day=day(sample.sampled_on),
            count=raw_words(sample),
        )
        asked.append(words)
    return asked


def _beside(stood: Sequence[tuple[NewCount, Yard]], among: Sequence[Near]) -> dict[int, list[str]]:
    asked: dict[int, list[str]] = {}
    for yard_id in dict.fromkeys(yard.pk for _, yard in stood):
        mine = [count for count, yard in stood if yard.pk == yard_id]
        first = mine[0]
        found = odd_beside(mine, method=first.method, on=first.sampled_on, yard_id=yard_id, among=among)
        asked |= {colony: [odd.sentence for odd in odds] for colony, odds in found.items()}
    return asked


def not_there_yet(colonies: Iterable[Colony], on: dt.date) -> list[Colony]:
    """Colonies that are noted only from a later day on.

    Looked up anew where it seems so: an answer about one of them may have moved the others since they were read.
    """
    early = {one.pk: one for one in colonies if one.known_start is not None and on < one.known_start}
    if not early:
        return []
    still = Colony.objects.filter(pk__in=early, started_known=True, started_on__gt=on)
    held = set(still.values_list("pk", flat=True))
    return [one for key, one in early.items() if key in held]


def asks_about_start(colonies: Iterable[Colony], on: dt.date) -> list[str]:
    """What to ask where colonies are noted only from a later day on, and what a yes does then."""
    names = [one.name for one in not_there_yet(colonies, on)]
    if not names:
        return []
    return [
        say_many(
            "Colony {names} is noted as here only after {day}. Is the date right? "
            "If yes, it and the colonies noted together with it are here since then.",
            "Colonies {names} are noted as here only after {day}. Is the date right? "
            "If yes, they and the colonies noted together with them are here since then.",
            len(names),
            names=", ".join(names),
            day=day(on),
        )
    ]


def asks_about_end(colonies: Iterable[Colony], on: dt.date) -> list[str]:
    """What to ask where colonies are noted as gone before that day."""
    names = [one.name for one in colonies if one.ended_on is not None and on > one.ended_on]
    if not names:
        return []
    return [
        say_many(
            "Colony {names} is noted as gone before {day}. Is the date right?",
            "Colonies {names} are noted as gone before {day}. Is the date right?",
            len(names),
            names=", ".join(names),
            day=day(on),
        )
    ]


def _same_day(counts: Iterable[NewCount], among: Iterable[Near]) -> dict[int, list[Near]]:
    """Counts of the same method and day that are here already, by colony, in the order in which they came."""
    alike = {(count.colony.pk, count.method, count.sampled_on) for count in counts}
    found: dict[int, list[Near]] = {}
    for one in sorted(among):
        if (one.colony_id, one.method, one.sampled_on) in alike:
            found.setdefault(one.colony_id, []).append(one)
    return found


def _shut(colonies: Iterable[Colony], stood: Mapping[int, Yard], person: Person) -> dict[int, Yard]:
    others = {stood[colony.pk].pk for colony in colonies if stood[colony.pk].pk != colony.yard_id}
    if not others:
        return {}
    allowed = set(Yard.objects.recordable_by(person).filter(pk__in=others).values_list("pk", flat=True))
    shut = others - allowed
    return {key: yard for key, yard in stood.items() if yard.pk in shut}


def fingerprint(questions: Iterable[str]) -> str:
    """A short word for these very questions: a tick answers what was asked, and nothing that came up later."""
    return hashlib.sha256("\n".join(questions).encode()).hexdigest()[:16]
