"""Counts as a phone sends them: one action for each, each answered by its own key, a bad one in nobody's way.

An entry is a count, a correction (`corrects` names the key of the count it puts right) or an undoing (`undo` names it).
It carries the fields of the count form as they were typed, so that form and phone refuse and ask in the same words.
"""

import datetime as dt
import uuid
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import Any

from django.utils import timezone

from apiaries.entries import Answer, Refused, State, echo_of, is_text, key_in, moment_in
from apiaries.language import mark, say
from apiaries.models import Colony, Person
from apiaries.templatetags.recount_words import day
from apiaries.views.asking import today_in
from counts.actions import (
    AlreadyVoided,
    ChangedSince,
    EntryKeyReused,
    NotPossible,
    correct_sample,
    kept_with,
    record_sample,
    record_samples,
    void_sample,
)
from counts.asking import look_up
from counts.forms.sample import CHANGED_NOW, CorrectForm, SampleForm, VoidForm
from counts.models import MiteSample

BYTES_MAX = 128 * 1024
ENTRIES_MAX = 50
VERSION = 1
"""Of what an entry holds. The page writes it into every entry, because a phone may send one of an older page."""
CLOCK_OFF = dt.timedelta(minutes=5)  # a phone's clock that is further off than this is told (our choice)
WRITTEN = frozenset(SampleForm.base_fields) - {"entry_key"}
NOT_YOURS = mark(
    "This colony is in no yard where you log counts. Was it moved, or do you no longer help there?"
)
OTHER_VERSION = mark(
    "This was noted by another version of the page. Open it here with Edit, and save it again."
)


@dataclass(frozen=True, slots=True)
class CountAnswer(Answer):
    """Also problems by field, and what to ask first with the word that answers it; `early`: noted only from then."""

    fields: dict[str, list[str]] = field(default_factory=dict)
    asks: list[str] = field(default_factory=list)
    sure: str = ""
    early: str = ""
    conflict: bool = False


def keep_entries(
    entries: Sequence[object], person: Person, *, off: dt.timedelta | None = None
) -> list[CountAnswer]:
    """Keep each entry on its own. Answers in the order sent; `off` is how far the phone's clock is behind ours.

    New counts of one method and day that follow each other are looked up and kept together, which is what a yard's
    backlog looks like: a batch of fifty then costs little more than one.
    """
    wanted = {told["colony"] for told in entries if isinstance(told, dict) and _is_number(told.get("colony"))}
    colonies = Colony.objects.recordable_by(person).select_related("yard__club").in_bulk(wanted)
    answers: list[CountAnswer] = []
    given = colonies, person, off
    for run in _runs(entries):
        answers += _kept_together(run, *given) if len(run) > 1 else [_kept(run[0], *given)]
    return answers


def _runs(entries: Sequence[object]) -> list[list[Any]]:
    """The entries in their order, new counts of one method and day of different colonies next to each other as one."""
    runs: list[list[Any]] = []
    before, seen = None, set[object]()
    for told in entries:
        alike = _alike(told)
        if alike is None or alike != before or told["colony"] in seen:  # type: ignore[index]
            runs.append([])
            seen = set()
        runs[-1].append(told)
        before = alike
        if alike is not None:
            seen.add(told["colony"])  # type: ignore[index]
    return runs


def _alike(told: object) -> tuple[str, dt.date] | None:
    """Method and day of a new count; None for everything else, and where it is not written as the page writes it."""
    if not isinstance(told, dict) or told.get("undo") is not None or told.get("corrects") is not None:
        return None
    method, on = told.get("method"), told.get("sampled_on")
    if not _is_number(told.get("colony")) or not isinstance(method, str) or not isinstance(on, str):
        return None
    try:
        return method, dt.date.fromisoformat(on)
    except ValueError:
        return None


def clock_off(sent_at: Any) -> dt.timedelta | None:
    """How far the phone's clock is behind ours, from its time of sending; None where it is near, or not told."""
    moment = moment_in(sent_at)
    off = None if moment is None else timezone.now() - moment
    return off if off is not None and abs(off) > CLOCK_OFF else None


def _is_number(told: Any) -> bool:
    """Whether it can be the number of a row."""
    return isinstance(told, int) and not isinstance(told, bool) and 0 < told < 2**63


def _kept_together(
    run: Sequence[dict[str, Any]], colonies: Mapping[int, Colony], person: Person, off: dt.timedelta | None
) -> list[CountAnswer]:
    """New counts of one method and day: looked up at once and kept at once, or else each on its own."""
    answers: dict[int, CountAnswer] = {}
    forms: dict[int, SampleForm] = {}
    for place, told in enumerate(run):
        try:
            forms[place] = _form_of(told, None, colonies, person, off, asks_later=True)
        except Refused as error:
            answers[place] = CountAnswer(echo_of(told), State.REFUSED, str(error))
    read = [form for form in forms.values() if form.is_valid()]
    if read:
        looked_up = look_up([form.count for form in read], person)
        for form in read:
            form.ask(looked_up)
    good = [form for form in read if form.is_valid()]
    at = timezone.now()
    try:
        for form, sample in zip(
            good, record_samples(counts=[form.count for form in good], at=at, by=person), strict=True
        ):
            form.kept = sample
    except (NotPossible, EntryKeyReused):  # one of them: the others are kept without it
        for form in good:
            form.saves(partial(_written, form, None, None, at, person))
    for place, form in forms.items():
        answers[place] = _answer(echo_of(run[place]), form, at)
    return [answers[place] for place in range(len(run))]


def _kept(
    told: object, colonies: Mapping[int, Colony], person: Person, off: dt.timedelta | None
) -> CountAnswer:
    key = echo_of(told)
    try:
        if not isinstance(told, dict):
            raise Refused(say("This is no entry."))
        if told.get("undo") is not None:
            key_in(told.get("key"))
            _known_version(told)
            return CountAnswer(key, _undone(told, person))
        old = None if told.get("corrects") is None else partial(_to_correct, told, person)
        form = _form_of(told, old, colonies, person, off)
    except Refused as error:
        return CountAnswer(key, State.REFUSED, str(error))
    now = timezone.now()
    if form.is_valid():
        form.saves(partial(_written, form, form.corrected, _seen(told), now, person))
    return _answer(key, form, now)


def _known_version(told: dict[str, Any]) -> None:
    if told.get("v") != VERSION:
        raise Refused(say(OTHER_VERSION))


def _form_of(
    told: dict[str, Any],
    old: Callable[[], MiteSample] | None,
    colonies: Mapping[int, Colony],
    person: Person,
    off: dt.timedelta | None,
    *,
    asks_later: bool = False,
) -> SampleForm:
    """The form as if it had been typed in, of a new count or of a correction of `old`. Errors: Refused."""
    entry_key = key_in(told.get("key"))
    _known_version(told)
    colony = colonies.get(told["colony"]) if _is_number(told.get("colony")) else None
    if colony is None:
        raise Refused(say(NOT_YOURS))
    sample = old() if old is not None else None
    typed = _typed(told, entry_key)
    today, doubts = today_in(colony.yard), _doubts(told, colony, off)
    if sample is not None:
        return CorrectForm(typed, sample=sample, person=person, today=today, doubts=doubts)
    return SampleForm(
        typed, colony=colony, person=person, today=today, initial={}, doubts=doubts, asks_later=asks_later
    )


def _answer(key: str | None, form: SampleForm, at: dt.datetime) -> CountAnswer:
    """What became of a form that was kept, if it could be, at this moment."""
    kept = getattr(form, "kept", None)
    if kept is None:
        return _refusal(key, form)
    fresh = kept.entry_key == form.count.entry_key and kept.recorded_at == at
    return CountAnswer(key, State.SAVED if fresh else State.HERE)


def _written(
    form: SampleForm, old: MiteSample | None, seen: int | None, at: dt.datetime, person: Person
) -> None:
    if old is None:
        form.kept = record_sample(count=form.count, at=at, by=person)
        return
    try:
        form.kept = kept_with(form.count, person) or correct_sample(
            sample=old, count=form.count, why=form.cleaned_data["why"], at=at, by=person, seen=seen
        )
    except AlreadyVoided:
        here = kept_with(form.count, person)  # another send of this entry may have been quicker
        if here is None:
            raise
        form.kept = here


def _refusal(key: str | None, form: SampleForm) -> CountAnswer:
    fields = {name: [str(one) for one in found] for name, found in form.errors.items() if name != "__all__"}
    above = [str(one) for one in form.non_field_errors()]
    words = above + [one for found in fields.values() for one in found] + form.questions
    return CountAnswer(
        key,
        State.REFUSED,
        " ".join(words),
        fields=fields,
        asks=form.questions,
        sure=form.sure_value if form.questions else "",
        early=form.colony.started_on.isoformat() if form.questions and form.early else "",
        conflict=bool(above),
    )


def _undone(told: dict[str, Any], person: Person) -> State:
    """Void the count with the key. One that never came counts for nothing, as a voided one does."""
    sample = _editable(told.get("undo"), person)
    if sample is None or sample.voided_at is not None:
        return State.HERE
    form = VoidForm(_typed(told, None, ("why",)))
    if not form.is_valid():
        raise Refused(" ".join(str(one) for one in form.errors["why"]))
    try:
        why = form.cleaned_data["why"]
        void_sample(sample=sample, why=why, at=timezone.now(), by=person, seen=_seen(told))
    except AlreadyVoided:
        return State.HERE
    except ChangedSince as error:
        raise Refused(str(CHANGED_NOW)) from error
    return State.SAVED


def _seen(told: dict[str, Any]) -> int | None:
    """The version of the count that the phone knew, so that a late undoing voids nothing that was restored since."""
    seen = told.get("seen")
    return seen if isinstance(seen, int) and not isinstance(seen, bool) else None


def _to_correct(told: dict[str, Any], person: Person) -> MiteSample:
    sample = _editable(told.get("corrects"), person)
    if sample is None:
        raise Refused(say("The count to be corrected is not here, or not yours to correct."))
    return sample


def _editable(key: Any, person: Person) -> MiteSample | None:
    samples = MiteSample.objects.editable_by(person).select_related("colony", "yard__club")
    return samples.filter(entry_key=key_in(key)).first()


def _typed(
    told: dict[str, Any], key: uuid.UUID | None, names: Sequence[str] = (*WRITTEN, "why")
) -> dict[str, str]:
    """The boxes of the form as they were typed. Errors: Refused where one holds no text and no number."""
    typed = {name: told[name] for name in names if told.get(name) is not None}
    if not all(isinstance(one, int | float) or is_text(one) for one in typed.values()):
        raise Refused(say("A box of this entry holds no text."))
    return {name: str(one) for name, one in typed.items()} | ({"entry_key": str(key)} if key else {})


def _doubts(told: dict[str, Any], colony: Colony, off: dt.timedelta | None) -> list[str]:
    """What to ask where the phone's clock gave the day and was wrong."""
    at = moment_in(told.get("at"))
    if off is None or at is None or not told.get("day_by_clock"):
        return []
    try:
        right = colony.yard.local_date(at + off)
        taken = dt.date.fromisoformat(str(told.get("sampled_on")))
    except (ValueError, OverflowError):
        return []
    words = mark("The phone’s clock is wrong: by the server’s it was {day}. Is {taken} right?")
    return [] if taken == right else [say(words, day=day(right), taken=day(taken))]
