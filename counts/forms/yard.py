"""The counts of a whole yard on one screen: what they share on top, one row for each colony below."""

import uuid
from dataclasses import replace
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from apiaries.language import mark, say
from apiaries.models import Colony
from counts.actions import NewCount, NotPossible
from counts.asking import (
    LookedUp,
    asks_about,
    asks_about_end,
    asks_about_start,
    fingerprint,
    look_up,
    problems_with,
)
from counts.forms.basics import CountBasics, words_for
from counts.forms.fields import Whole
from counts.measuring import COUNTED
from counts.samples import JAR_KINDS, BeesBy, Method
from counts.sentences import PROBLEM_SENTENCES


class OneForm(forms.Form):
    """Mites and bees of one colony, as the phone's page asks for them; a script reads it, it is never sent."""

    mites = Whole(label=_("Mites"), wrong=_("Enter a whole number of mites, 0 if none were found."))
    bees = Whole(
        label=_("Bees"), wrong=_("Enter the number of bees as a whole number, at least 1."), largest=20_000
    )


class RowForm(OneForm):
    """One colony. Nothing typed means not counted; 0 means counted and none found."""

    def __init__(self, *args: Any, colony: Colony, **kwargs: Any) -> None:
        super().__init__(*args, prefix=f"c{colony.pk}", **kwargs)
        for name in ("mites", "bees"):
            self.fields[name].required = False
        self.colony, self.row_name = colony, say("Colony {name}", name=colony.name)
        self.questions: list[str] = []

    @property
    def is_empty(self) -> bool:
        """Whether nothing at all was typed."""
        return not any(str(self.data.get(self.add_prefix(name), "")).strip() for name in ("mites", "bees"))

    @property
    def sure_name(self) -> str:
        return self.add_prefix("sure")

    @property
    def sure_value(self) -> str:
        return fingerprint(self.questions)

    def ask(self, questions: list[str]) -> None:
        """Keep the questions unless the tick that was sent answers these very ones."""
        self.questions = questions if self.data.get(self.sure_name) != fingerprint(questions) else []


class Rows(list[RowForm]):
    """The rows as the summary of problems reads them."""

    @property
    def total_error_count(self) -> int:
        return sum(len(row.errors) for row in self)

    def non_form_errors(self) -> list[str]:
        return []


class YardCountForm(CountBasics):
    """All or nothing: a problem in one row keeps every row as typed and saves none."""

    methods = tuple(method for method in Method if method is not Method.DRONE_BROOD)

    def __init__(self, *args: Any, colonies: list[Colony], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        data = self.data if self.is_bound else None
        self.rows = Rows(RowForm(data, colony=colony) for colony in colonies)
        self.counts: list[NewCount] = []
        self.fields["bees"].help_text = say("The number taken for every jar.")

    def needs_bees(self, by: BeesBy) -> bool:
        return by is not BeesBy.COUNTED  # counted bees are typed in their rows

    def is_valid(self) -> bool:
        good = super().is_valid() and not self.rows.total_error_count
        return good and not self.questions and not any(row.questions for row in self.rows)

    @property
    def asks(self) -> bool:
        """Whether there is something to ask, and nothing to mend."""
        return bool(self.questions) or any(row.questions for row in self.rows)

    @property
    def sure_value(self) -> str:
        return fingerprint(self.questions)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        filled = [row for row in self.rows if not row.is_empty]
        for row in filled:
            self._look_at_row(row, cleaned)
        if not filled and not self.errors:
            self.add_error(
                None,
                say("Nothing is typed yet. Enter the mites of at least one colony, 0 if none were found."),
            )
        if not self.errors and not self.rows.total_error_count:
            self._look_at_counts(filled, cleaned)
        return cleaned

    def _look_at_row(self, row: RowForm, cleaned: dict[str, Any]) -> None:
        if row.errors:
            return
        if row.cleaned_data["mites"] is None:
            row.add_error(
                "mites",
                say("Enter the mites too, 0 if none were found. Empty both boxes if it was not counted."),
            )
        if self.kind not in JAR_KINDS:
            row.cleaned_data["bees"] = None
        elif row.cleaned_data["bees"] == 0:
            row.add_error("bees", row.fields["bees"].error_messages["min_value"])
        elif row.cleaned_data["bees"] is None and cleaned.get("bees_how") == COUNTED:
            row.add_error("bees", say("Enter how many bees were counted in this jar."))

    def _look_at_counts(self, filled: list[RowForm], cleaned: dict[str, Any]) -> None:
        self.counts = [self._count(row, cleaned) for row in filled]
        looked_up = look_up(self.counts, self.person)
        self.counts = [replace(count, stood=looked_up.stood[count.colony.pk]) for count in self.counts]
        away = self.away(looked_up)
        for row, count in zip(filled, self.counts, strict=True):
            for problem in problems_with(count):
                row.add_error("mites", say(PROBLEM_SENTENCES[problem]))
            if words := away.get(row.colony.pk):
                row.add_error("mites", words)
        if not self.rows.total_error_count:
            self._ask(filled, looked_up)

    def away(self, looked_up: LookedUp) -> dict[int, str]:
        """By colony, why it cannot be counted here on that day."""
        words = mark("On that day it stood in {yard}, where you do not log counts.")
        return {colony: say(words, yard=yard.name) for colony, yard in looked_up.elsewhere.items()}

    def _ask(self, filled: list[RowForm], looked_up: LookedUp) -> None:
        if looked_up.here:
            return  # sent twice: whatever there was to ask has been answered
        by_colony = self.asked_of(self.counts, looked_up)
        for row in filled:
            row.ask(by_colony[row.colony.pk])
        colonies, on = [row.colony for row in filled], self.counts[0].sampled_on
        early = asks_about_start(colonies, on)
        asked = early + asks_about_end(colonies, on)
        self.questions = asked if self.data.get("sure") != fingerprint(asked) else []
        if early and not self.questions:
            self.counts = [replace(count, there_then=True) for count in self.counts]

    def asked_of(self, counts: list[NewCount], looked_up: LookedUp) -> dict[int, list[str]]:
        """By colony, what is odd about its count."""
        return {
            count.colony.pk: asks_about(count, looked_up.same_day.get(count.colony.pk, []))
            + looked_up.beside.get(count.colony.pk, [])
            for count in counts
        }

    def _count(self, row: RowForm, cleaned: dict[str, Any]) -> NewCount:
        bees = row.cleaned_data["bees"]
        return self.count_of(
            row.colony,
            row.cleaned_data["mites"],
            bees=cleaned.get("bees") if bees is None else bees,
            key=uuid.uuid5(cleaned["entry_key"], str(row.colony.pk)),
        )

    def saves(self, write: Any) -> bool:
        try:
            return super().saves(write)
        except NotPossible as error:
            colony = self.counts[error.row].colony
            row = next(row for row in self.rows if row.colony == colony)
            for _, words in words_for(error):
                row.add_error("mites", words)
            return False
