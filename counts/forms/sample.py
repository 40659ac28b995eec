"""One count: adding, correcting, voiding."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, ClassVar

from django import forms
from django.utils.translation import gettext_lazy as _

from apiaries.fields import OneLine
from apiaries.forms.base import PageForm
from apiaries.language import mark, say
from apiaries.models import Brood, Colony
from counts.actions import AlreadyVoided, ChangedSince, EntryKeyReused, NewCount, NotPossible
from counts.asking import (
    LookedUp,
    asks_about,
    asks_about_end,
    asks_about_start,
    fingerprint,
    look_up,
    problems_with,
)
from counts.forms.basics import SAVED_BEFORE, CountBasics, words_for
from counts.forms.fields import Whole
from counts.measuring import way_of, ways_of
from counts.models import MiteSample
from counts.samples import Kind, Problem
from counts.sentences import PROBLEM_SENTENCES

CHANGED_NOW = _("This count was corrected, voided or restored since you opened this page. Look at it first.")
MITES_MISSING = mark("Enter the number of mites, even if it is 0.")


class SampleForm(CountBasics):
    """A count of one colony. After `is_valid`, `count` is what to keep; `questions` what to ask first."""

    mites = Whole(label=_("Mites found"), wrong=_(MITES_MISSING))
    cells_opened = Whole(
        label=_("Drone cells opened"), wrong=_("Enter how many drone cells you opened, at least 1.")
    )
    note = OneLine(label=_("Note"), required=False, max_length=500)
    sure = forms.CharField(required=False, widget=forms.HiddenInput)

    field_order = ("why", "mites")  # as on the page, for the summary of problems

    count: NewCount
    kept: MiteSample
    early: Sequence[str] = ()
    corrected: ClassVar[MiteSample | None] = None

    def __init__(
        self, *args: Any, colony: Colony, doubts: Sequence[str] = (), asks_later: bool = False, **kwargs: Any
    ) -> None:
        """`doubts` are asked beside what is odd about the count itself.

        With `asks_later` the caller looks things up for several forms at once, and hands them to `ask`.
        """
        super().__init__(*args, yard=kwargs.pop("yard", colony.yard), **kwargs)
        self.colony, self.doubts, self.asks_later = colony, list(doubts), asks_later

    def is_valid(self) -> bool:
        return super().is_valid() and not self.questions

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if self.kind is not Kind.DRONE_BROOD:
            self._leave_aside(["cells_opened"])
        elif not cleaned.get("cells_opened"):
            self._say("cells_opened", self.fields["cells_opened"].error_messages["required"])
        if not self.errors:
            self._look_at_count(cleaned)
        return cleaned

    def _look_at_count(self, cleaned: dict[str, Any]) -> None:
        self.count = count = self.count_of(
            self.colony,
            cleaned["mites"],
            bees=cleaned.get("bees"),
            key=cleaned["entry_key"],
            cells=cleaned.get("cells_opened"),
        )
        for problem in problems_with(count):
            field = "cells_opened" if problem is Problem.MORE_MITES_THAN_CELLS else "mites"
            self.add_error(field, say(PROBLEM_SENTENCES[problem]))
        if not self.errors and not self.asks_later:
            self.ask(look_up([count], self.person, but=self.corrected))

    def ask(self, looked_up: LookedUp) -> None:
        """Refuse or ask, now that it is known what the count stands beside."""
        self.count = count = replace(self.count, stood=looked_up.stood[self.colony.pk])
        if yard := looked_up.elsewhere.get(self.colony.pk):
            words = mark("On that day the colony stood in {yard}, where you do not log counts.")
            self.add_error("sampled_on", say(words, yard=yard.name))
        if self.errors or count.entry_key in looked_up.here:
            return
        self.early = asks_about_start([self.colony], count.sampled_on)
        days = self.doubts + self.early + asks_about_end([self.colony], count.sampled_on)
        asked = asks_about(count, looked_up.same_day.get(self.colony.pk, []))
        asked += [*looked_up.beside.get(self.colony.pk, []), *days]
        if asked and self.data.get(self.add_prefix("sure")) != fingerprint(asked):
            self.questions = asked
        elif self.early:
            self.count = replace(count, there_then=True)

    @property
    def sure_value(self) -> str:
        """What the tick sends: it answers these questions and no others."""
        return fingerprint(self.questions)

    def saves(self, write: Any) -> bool:
        try:
            return super().saves(write)
        except NotPossible as error:
            for field, words in words_for(error):
                self.add_error(field, words)
            return False


class CorrectForm(SampleForm):
    """The same count as it should have been, and why."""

    why = OneLine(
        label=_("What was wrong"),
        max_length=200,
        help_text=_("For example: read the slip wrongly, it was colony 4’s jar."),
        error_messages={"required": _("Say what was wrong, for example: read the slip wrongly.")},
    )

    refusals: ClassVar = {
        EntryKeyReused: (None, SAVED_BEFORE),
        AlreadyVoided: (None, CHANGED_NOW),
        ChangedSince: (None, CHANGED_NOW),
    }

    def __init__(self, *args: Any, sample: MiteSample, **kwargs: Any) -> None:
        self.corrected = sample
        super().__init__(*args, colony=sample.colony, yard=sample.yard, initial=as_typed(sample), **kwargs)


class VoidForm(PageForm):
    """Why a count does not count."""

    why = OneLine(
        label=_("Why does it not count?"),
        max_length=200,
        help_text=_("For example: typed twice, the jar was spilt."),
        error_messages={"required": _("Say why it does not count, for example: typed twice.")},
    )

    refusals: ClassVar = {AlreadyVoided: (None, CHANGED_NOW), ChangedSince: (None, CHANGED_NOW)}


def as_typed(sample: MiteSample) -> dict[str, Any]:
    """A kept count as it would be typed."""
    drone = sample.kind is Kind.DRONE_BROOD
    treated = {True: "yes", False: "no"}[sample.treatment_in_hive] if sample.kind is Kind.BOARD else None
    return {
        "method": sample.method,
        "mites": sample.mites,
        "bees_how": way_of(sample, ways_of(sample.yard.club)),
        "bees": sample.bees,
        "board_days": sample.board_days,
        "cells_counted": None if drone else sample.cells_counted,
        "cells_total": sample.cells_total,
        "cells_opened": sample.cells_counted if drone else None,
        "treatment_in_hive": treated,
        "brood": sample.brood or Brood.UNKNOWN,
        "sampled_on": sample.sampled_on,
        "note": sample.note,
    }
