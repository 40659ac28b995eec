"""What a single count and the counts of a whole yard have in common: method, measure, board, day."""

import datetime as dt
import uuid
from collections.abc import Iterable
from typing import Any, ClassVar

from django import forms
from django.utils.text import capfirst
from django.utils.translation import gettext_lazy as _

from apiaries.fields import TypedDate
from apiaries.forms.base import PageForm
from apiaries.language import say
from apiaries.models import Brood, Colony, Person, Yard
from counts.actions import EntryKeyReused, NewCount, NotPossible
from counts.forms.fields import Days, Whole, YesNo
from counts.measuring import HALF_CUP, way_of, ways_of
from counts.models import METHOD_WORDS, MiteSample
from counts.samples import (
    JAR_KINDS,
    BeesBy,
    Kind,
    Method,
    Problem,
    kind_of,
)
from counts.sentences import PROBLEM_SENTENCES

METHOD_LABELS: dict[str, Any] = {method.value: capfirst(words) for method, words in METHOD_WORDS.items()}
JAR_FIELDS = ("bees_how", "bees")
BOARD_FIELDS = ("board_days", "cells_counted", "cells_total", "treatment_in_hive")
PROBLEM_FIELDS = {
    Problem.BEES_NOT_POSITIVE: "bees",
    Problem.DAYS_NOT_POSITIVE: "board_days",
    Problem.SHARE_NOT_POSSIBLE: "cells_counted",
    Problem.MORE_MITES_THAN_CELLS: "cells_opened",
    Problem.IN_THE_FUTURE: "sampled_on",
}
BEES_UNKNOWN = _("Say how many bees were in the jar, or how you measured them.")
SAVED_BEFORE = _(
    "This form was saved before, with other numbers. To change that count, open it and choose Correct; "
    "for one more count, open the form anew."
)


class CountBasics(PageForm):
    """How and when was counted. What does not belong to the chosen method is left aside, whatever was typed there."""

    entry_key = forms.UUIDField(widget=forms.HiddenInput)
    method = forms.ChoiceField(
        label=_("How did you count?"),
        choices=list(METHOD_LABELS.items()),
        widget=forms.RadioSelect,
        error_messages={
            "required": _("Choose how you counted."),
            "invalid_choice": _("Choose how you counted."),
        },
    )
    bees_how = forms.ChoiceField(
        label=_("How many bees were in the jar?"),
        choices=(),
        widget=forms.RadioSelect,
        error_messages={"required": BEES_UNKNOWN, "invalid_choice": BEES_UNKNOWN},
    )
    bees = Whole(
        label=_("Number of bees"),
        wrong=_("Enter the number of bees as a whole number, at least 1."),
        largest=20_000,
    )
    board_days = Days(
        label=_("Days the board was in the hive"),
        help_text=_("To one decimal: 3, or 2.5. Three days say more than one."),
        wrong=_(PROBLEM_SENTENCES[Problem.DAYS_NOT_POSITIVE]),
    )
    cells_counted = Whole(
        label=_("Cells counted"), required=False, wrong=_("Enter the cells you counted, at least 1.")
    )
    cells_total = Whole(
        label=_("Cells on the whole board"), required=False, wrong=_("Enter how many cells the board has.")
    )
    treatment_in_hive = YesNo(
        label=_("Was a treatment in the hive?"),
        help_text=_("Mites that fall under a treatment are not the natural drop; no action level applies."),
        wrong=_("Say whether a treatment was in the hive while the board lay."),
    )
    brood = forms.ChoiceField(
        label=_("Brood seen"),
        choices=[(brood.value, capfirst(brood.label)) for brood in Brood],
        initial=Brood.UNKNOWN.value,
        widget=forms.RadioSelect,
        error_messages={"required": _("Say what you saw, or “Not looked”.")},
    )
    sampled_on = TypedDate(label=_("Date of the count"))

    methods: tuple[Method, ...] = tuple(Method)
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
    def settled(self) -> str:
        """What the last count of the yard already said, in words, so that only the mites are left to type.

        Empty where there is more to fill in, or something to mend.
        """
        way = self.ways.get(str(self["bees_how"].value() or ""))
        method = self["method"].value()
        if (
            self.errors
            or way is None
            or way.bees is None
            or not method
            or kind_of(Method(method)) not in JAR_KINDS
            or not self["sampled_on"].value()  # the day is still to be asked for
        ):
            return ""
        return f"{METHOD_LABELS[method]}. {way.label}."

    @property
    def kind(self) -> Kind | None:
        """What the chosen method counts; None while none is chosen."""
        method = self.cleaned_data.get("method")
        return kind_of(Method(method)) if method else None

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        kind = self.kind
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
        if way is None or way.bees is not None or not self.needs_bees(way.by):
            self._leave_aside(["bees"])
            cleaned["bees"] = way.bees if way else None
        elif not cleaned.get("bees"):
            self._say("bees", say(PROBLEM_SENTENCES[Problem.BEES_NOT_POSITIVE]))

    def needs_bees(self, by: BeesBy) -> bool:
        """Whether the number of bees must be typed in the shared box."""
        return True

    def _clean_board(self, cleaned: dict[str, Any]) -> None:
        if not cleaned.get("board_days"):
            self._say("board_days", say(PROBLEM_SENTENCES[Problem.DAYS_NOT_POSITIVE]))
        counted, total = cleaned.get("cells_counted"), cleaned.get("cells_total")
        if (counted is None) != (total is None):
            missing = "cells_counted" if counted is None else "cells_total"
            self._say(missing, say("Enter both: the cells you counted, and all cells on the board."))
        elif counted is not None and total is not None and not 1 <= counted <= total:
            self._say("cells_counted", say(PROBLEM_SENTENCES[Problem.SHARE_NOT_POSSIBLE]))

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


def words_for(error: NotPossible) -> list[tuple[str, str]]:
    """Field and sentence for each problem that the action found."""
    return [(PROBLEM_FIELDS.get(one, "mites"), say(PROBLEM_SENTENCES[one])) for one in error.problems]


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
