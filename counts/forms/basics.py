"""What a single count and the counts of a whole yard have in common: method, measure, board, day."""

import datetime as dt
import hashlib
import uuid
from collections.abc import Iterable
from decimal import Decimal
from typing import Any, ClassVar

from django import forms

from apiaries.fields import TypedDate
from apiaries.forms.base import PageForm
from apiaries.models import Brood, Colony, Person, Yard
from apiaries.templatetags.recount_words import day
from counts.actions import EntryKeyReused, NewCount, NotPossible, yards_on
from counts.forms.fields import Days, Whole, YesNo
from counts.measuring import HALF_CUP, way_of, ways_of
from counts.models import METHOD_WORDS, MiteSample
from counts.presenters import raw_words
from counts.samples import (
    JAR_KINDS,
    BeesBy,
    BoardSample,
    JarSample,
    Kind,
    Method,
    Problem,
    kind_of,
    problems_of,
    questions_about,
)
from counts.sentences import PROBLEM_SENTENCES, question_sentence

METHOD_LABELS = {method.value: words[0].upper() + words[1:] for method, words in METHOD_WORDS.items()}
JAR_FIELDS = ("bees_how", "bees")
BOARD_FIELDS = ("board_days", "cells_counted", "cells_total", "treatment_in_hive")
PROBLEM_FIELDS = {
    Problem.BEES_NOT_POSITIVE: "bees",
    Problem.DAYS_NOT_POSITIVE: "board_days",
    Problem.SHARE_NOT_POSSIBLE: "cells_counted",
    Problem.MORE_MITES_THAN_CELLS: "cells_opened",
    Problem.IN_THE_FUTURE: "sampled_on",
}
SAVED_BEFORE = (
    "This form was saved before, with other numbers. To change that count, open it and choose Correct; "
    "for one more count, open the form anew."
)


class CountBasics(PageForm):
    """How and when was counted. What does not belong to the chosen method is left aside, whatever was typed there."""

    entry_key = forms.UUIDField(widget=forms.HiddenInput)
    method = forms.ChoiceField(
        label="How did you count?",
        choices=list(METHOD_LABELS.items()),
        widget=forms.RadioSelect,
        error_messages={"required": "Choose how you counted.", "invalid_choice": "Choose how you counted."},
    )
    bees_how = forms.ChoiceField(
        label="How many bees were in the jar?", required=False, choices=(), widget=forms.RadioSelect
    )
    bees = Whole(
        label="Number of bees",
        required=False,
        wrong="Enter the number of bees as a whole number, at least 1.",
        largest=20_000,
    )
    board_days = Days(
        label="Days the board was in the hive",
        required=False,
        help_text="To one decimal: 3, or 2.5. Three days say more than one.",
        wrong=PROBLEM_SENTENCES[Problem.DAYS_NOT_POSITIVE],
    )
    cells_counted = Whole(
        label="Cells counted", required=False, wrong="Enter the cells you counted, at least 1."
    )
    cells_total = Whole(
        label="Cells on the whole board", required=False, wrong="Enter how many cells the board has."
    )
    treatment_in_hive = YesNo(
        label="Was a treatment in the hive?",
        required=False,
        help_text="Mites that fall under a treatment are not the natural drop; no action level applies.",
        wrong="Say whether a treatment was in the hive while the board lay.",
    )
    brood = forms.ChoiceField(
        label="Brood seen",
        choices=[(brood.value, str(brood.label).capitalize()) for brood in Brood],
        initial=Brood.UNKNOWN.value,
        widget=forms.RadioSelect,
        error_messages={"required": "Say what you saw, or “Not looked”."},
    )
    sampled_on = TypedDate(label="Date of the count")

    methods: ClassVar[tuple[Method, ...]] = tuple(Method)
    refusals: ClassVar = {EntryKeyReused: (None, SAVED_BEFORE)}

    def __init__(
        self, *args: Any, yard: Yard, person: Person, today: dt.date, initial: dict[str, Any], **kwargs: Any
    ) -> None:
        start = {"sampled_on": today, "entry_key": uuid.uuid4()} | initial
        super().__init__(*args, initial=start, **kwargs)
        self.yard, self.person, self.today = yard, person, today
        self.ways = ways_of(yard.club)
        self.fields["sampled_on"].today = today
        self.fields["bees_how"].choices = [(way.key, way.label) for way in self.ways.values()]
        self.fields["method"].choices = [(one.value, METHOD_LABELS[one.value]) for one in self.methods]
        self.questions: list[str] = []

    @property
    def kind(self) -> Kind | None:
        """What the chosen method counts; None while none is chosen."""
        method = self.cleaned_data.get("method")
        return kind_of(Method(method)) if method else None

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        kind = self.kind
        if kind is not None:
            self._leave_aside(JAR_FIELDS if kind not in JAR_KINDS else ())
            self._leave_aside(BOARD_FIELDS if kind is not Kind.BOARD else ())
        if kind in JAR_KINDS:
            self._clean_jar(cleaned)
        if kind is Kind.BOARD:
            self._clean_board(cleaned)
        return cleaned

    def _leave_aside(self, names: Iterable[str]) -> None:
        for name in names:
            self.errors.pop(name, None)
            self.cleaned_data[name] = None

    def _clean_jar(self, cleaned: dict[str, Any]) -> None:
        way = self.ways.get(cleaned.get("bees_how") or "")
        if way is None:
            self._say("bees_how", "Say how many bees were in the jar, or how you measured them.")
        elif way.bees is not None:
            self._leave_aside(["bees"])
            cleaned["bees"] = way.bees
        elif self.needs_bees(way.by) and not cleaned.get("bees"):
            self._say("bees", PROBLEM_SENTENCES[Problem.BEES_NOT_POSITIVE])

    def needs_bees(self, by: BeesBy) -> bool:
        """Whether the number of bees must be typed in the shared box."""
        return True

    def _clean_board(self, cleaned: dict[str, Any]) -> None:
        if not cleaned.get("board_days"):
            self._say("board_days", PROBLEM_SENTENCES[Problem.DAYS_NOT_POSITIVE])
        if cleaned.get("treatment_in_hive") is None:
            self._say("treatment_in_hive", self.fields["treatment_in_hive"].error_messages["required"])
        counted, total = cleaned.get("cells_counted"), cleaned.get("cells_total")
        if (counted is None) != (total is None):
            missing = "cells_counted" if counted is None else "cells_total"
            self._say(missing, "Enter both: the cells you counted, and all cells on the board.")
        elif counted is not None and total is not None and not 1 <= counted <= total:
            self._say("cells_counted", PROBLEM_SENTENCES[Problem.SHARE_NOT_POSSIBLE])

    def _say(self, field: str, words: str) -> None:
        """An error at the field, unless it has one of its own."""
        if field not in self.errors:
            self.add_error(field, words)

    def count_of(
        self, colony: Colony, mites: int, *, bees: int | None, key: uuid.UUID, cells: int | None = None
    ) -> NewCount:
        """The count as typed; `bees` overrides the shared number, `cells` are opened drone cells."""
        cleaned, kind = self.cleaned_data, self.kind
        way = self.ways.get(cleaned.get("bees_how") or "")
        return NewCount(
            colony=colony,
            method=Method(cleaned["method"]),
            sampled_on=cleaned["sampled_on"],
            mites=mites,
            bees=bees if kind in JAR_KINDS else None,
            bees_by=way.by if way and kind in JAR_KINDS else None,
            board_days=cleaned.get("board_days"),
            cells_counted=cells if kind is Kind.DRONE_BROOD else cleaned.get("cells_counted"),
            cells_total=cleaned.get("cells_total"),
            treatment_in_hive=bool(cleaned.get("treatment_in_hive")),
            brood=Brood(cleaned.get("brood") or Brood.UNKNOWN),
            note=cleaned.get("note") or "",
            entry_key=key,
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


def asks_about(count: NewCount, same_day: Iterable[MiteSample]) -> list[str]:
    """What to ask about the numbers themselves, and about counts of the same method and day that are here."""
    value = value_of(count)
    asked = [question_sentence(one, value) for one in questions_about(value)] if value is not None else []
    for sample in same_day:
        asked.append(
            f"Colony {count.colony.name} already has this method's count of {day(sample.sampled_on)}: "
            f"{raw_words(sample)}. Is this one more count?"
        )
    return asked


def asks_about_days(colonies: Iterable[Colony], on: dt.date) -> list[str]:
    """What to ask where a colony is not noted as living on that day."""
    colonies = list(colonies)
    early = [colony.name for colony in colonies if on < colony.started_on]
    late = [colony.name for colony in colonies if colony.ended_on is not None and on > colony.ended_on]
    asked = []
    if early:
        asked.append(f"{_colonies(early)} noted as here only after {day(on)}. Is the date right?")
    if late:
        asked.append(f"{_colonies(late)} noted as gone before {day(on)}. Is the date right?")
    return asked


def _colonies(names: list[str]) -> str:
    return f"Colony {names[0]} is" if len(names) == 1 else f"Colonies {', '.join(names)} are"


def same_day_counts(
    counts: Iterable[NewCount], *, but: MiteSample | None = None
) -> dict[int, list[MiteSample]]:
    """Counts of the same method and day that are here already, by colony. One query."""
    counts = list(counts)
    if not counts:
        return {}
    here = (
        MiteSample.objects.standing()
        .filter(
            colony__in=[count.colony.pk for count in counts],
            method=counts[0].method.value,
            sampled_on=counts[0].sampled_on,
        )
        # The same form sent twice is one count, not two.
        .exclude(entry_key__in=[count.entry_key for count in counts])
    )
    found: dict[int, list[MiteSample]] = {}
    for sample in here.exclude(pk=but.pk if but else None).order_by("pk"):
        found.setdefault(sample.colony_id, []).append(sample)
    return found


def elsewhere(colonies: Iterable[Colony], on: dt.date, person: Person) -> dict[int, Yard]:
    """Colonies that stood on that day in a yard where the person may not count, with that yard."""
    colonies = list(colonies)
    places = dict(zip(colonies, yards_on([(colony, on) for colony in colonies]), strict=True))
    others = {yard.pk for colony, yard in places.items() if yard.pk != colony.yard_id}
    if not others:
        return {}
    allowed = set(Yard.objects.recordable_by(person).filter(pk__in=others).values_list("pk", flat=True))
    shut = others - allowed
    return {colony.pk: yard for colony, yard in places.items() if yard.pk in shut}


def fingerprint(questions: Iterable[str]) -> str:
    """A short word for these very questions: a tick answers what was asked, and nothing that came up later."""
    return hashlib.sha256("\n".join(questions).encode()).hexdigest()[:16]


def words_for(error: NotPossible) -> list[tuple[str, str]]:
    """Field and sentence for each problem that the action found."""
    return [(PROBLEM_FIELDS.get(one, "mites"), PROBLEM_SENTENCES[one]) for one in error.problems]


def remembered(yard: Yard) -> dict[str, Any]:
    """Method and measure of the yard's last count, to start the next form with. Never the mites."""
    last = MiteSample.objects.filter(yard=yard).order_by("-recorded_at", "-pk").first()
    if last is None:
        return {"bees_how": HALF_CUP}
    start: dict[str, Any] = {"method": last.method, "bees_how": HALF_CUP}
    if last.bees_by:
        start["bees_how"] = way_of(last, ways_of(yard.club))
        if last.bees_by == BeesBy.NOMINAL.value:
            start["bees"] = last.bees
    return start
