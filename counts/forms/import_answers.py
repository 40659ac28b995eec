"""What a sheet does not say by itself: what its columns hold, and what its rows leave open."""

from collections.abc import Callable, Iterable, Sequence
from typing import Any, ClassVar

from django import forms
from django.utils.translation import gettext_lazy as _

from apiaries.forms.base import PageForm
from apiaries.language import say
from apiaries.models import Yard
from counts.forms.imports import NOT_NOW
from counts.imports.actions import NotNow
from counts.imports.columns import FOUND, Column, Meaning, heading_bees, meaning_of, plain
from counts.imports.days import DayOrder
from counts.imports.presenting import COLUMN_WORDS
from counts.imports.said import LEAVE_OUT, Said
from counts.measuring import ways_of
from counts.models import METHOD_WORDS, ImportBatch
from counts.samples import BeesBy, Method


class HeadingsForm(PageForm):
    """What each column holds. Asked in the order of the sheet; each thing may be held by one column only."""

    remember = forms.BooleanField(
        label=_("Remember this for other sheets of the club"), required=False, initial=True
    )
    refusals: ClassVar = {NotNow: (None, NOT_NOW)}

    def __init__(self, *args: Any, batch: ImportBatch, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        taken = batch.taken_for
        self.headings: Sequence[str] = taken["headings"]
        asked = {at for _column, places in taken["unclear"] for at in places}
        choices = [("", _("leave aside")), *((one.value, words_of(one)) for one in Column)]
        for at, heading in enumerate(self.headings):
            samples = taken["samples"][at] if at < len(taken["samples"]) else []
            if not heading.strip() and not samples:
                continue
            column, _bees = taken["columns"].get(str(at), ("", None))
            hint = (
                say("For example: {examples}", examples=" · ".join(samples))
                if samples
                else say("Nothing stands in it.")
            )
            self.fields[f"column_{at}"] = forms.ChoiceField(
                label=heading or say("Column {number}, without a heading", number=at + 1),
                help_text=say("Please look at this one. {hint}", hint=hint) if at in asked else hint,
                choices=choices,
                initial=column,
                required=False,
                error_messages={"invalid_choice": _("Choose what this column holds.")},
            )
        self.order_fields([name for name in self.fields if name != "remember"])

    def columns(self) -> list[Any]:
        """The boxes of the columns, in the order of the sheet."""
        return [self[name] for name in self.fields if name.startswith("column_")]

    def clean(self) -> dict[str, Any]:
        chosen: dict[str, list[str]] = {}
        for name, value in self.cleaned_data.items():
            if name.startswith("column_") and value:
                chosen.setdefault(value, []).append(name)
        for column, names in chosen.items():
            for name in names[1:]:
                what = words_of(Column(column))
                self.add_error(
                    name, say("Another column is already the {what}. Leave one of them aside.", what=what)
                )
        for column in (Column.COLONY, Column.DATE):
            if column not in chosen:
                self.add_error(None, say("Choose the column that holds the {what}.", what=words_of(column)))
        if not set(chosen) & set(FOUND):
            self.add_error(None, say("Choose the column that holds the mites, or their share, or the drop."))
        return self.cleaned_data

    def meanings(self) -> dict[int, Meaning]:
        """What was chosen, by the number of the column."""
        found = {}
        for name, value in self.cleaned_data.items():
            if name.startswith("column_") and value:
                at, column = int(name.removeprefix("column_")), Column(value)
                bees = heading_bees(self.headings[at]) if column is Column.MITES else None
                found[at] = Meaning(column, bees)
        return found

    def to_remember(self) -> dict[str, Meaning | None]:
        """Headings whose meaning is not the one that their words have by themselves."""
        chosen, told = self.meanings(), {}
        for at, heading in enumerate(self.headings):
            known = meaning_of(heading)
            mine = chosen.get(at)
            if plain(heading) and (known is None or not known[1] or known[0] != mine):
                told[plain(heading)] = mine
        return {
            words: mine for words, mine in told.items() if mine is not None or meaning_of(words) is not None
        }


class SheetAnswersForm(PageForm):
    """What rows leave open, said once for the whole sheet, and what was said before. A blank takes an answer back."""

    refusals: ClassVar = {NotNow: (None, NOT_NOW)}

    def __init__(
        self, *args: Any, batch: ImportBatch, said: Said, asked: Sequence[str], method_words: Sequence[str],
        yard_names: Sequence[str], yards: Sequence[Yard], **kwargs: Any,
    ) -> None:  # fmt: skip
        super().__init__(*args, **kwargs)
        methods = [(one.value, words) for one, words in METHOD_WORDS.items()]
        # What was answered is offered again, so that it can be taken back: its rows ask no more.
        self.method_words = _once([*method_words, *said.method_words], plain)
        self.yard_names = _once([*yard_names, *said.yards], yard_word)
        if "order" in asked:
            self._choice(
                "order", _("Which comes first in dates such as 03/04/26?"), said.order,
                [
                    (DayOrder.DAY_FIRST, _("the day: 3 April 2026")),
                    (DayOrder.MONTH_FIRST, _("the month: 4 March 2026")),
                ],
                hint=_("The dates of this sheet can be read both ways."), radio=True,
            )  # fmt: skip
        if "method" in asked:
            hint = _("For the rows that name no method. Leave it open if they differ.")
            self._choice("method", _("How were these counted?"), said.method, methods, hint=hint)
        for at, word in enumerate(self.method_words):
            self._choice(
                f"word_{at}",
                say("Which method is “{word}”?", word=word),
                said.method_words.get(plain(word)),
                methods,
            )
        if "measure" in asked:
            ways = [(way.key, way.label) for way in ways_of(batch.club).values() if way.by is BeesBy.VOLUME]
            hint = _("For the rows that name no number of bees.")
            self._choice("measure", _("How many bees were in a jar?"), said.measure, ways, hint=hint)
        if "treated" in asked:
            known = {True: "yes", False: "no", None: ""}[said.treated]
            words = [("no", _("in none of them")), ("yes", _("in all of them"))]
            hint = _("For the boards of which the sheet does not say so. Leave it open if they differ.")
            self._choice(
                "treated", _("Was a treatment in the hives while the boards lay?"), known, words, hint=hint
            )
        mine = [(str(yard.pk), _yard_words(yard)) for yard in yards]
        if "yard" in asked:
            known = str(said.yard or "")
            self._choice("yard", _("Which yard are the rows about that name none?"), known, mine)
        for at, name in enumerate(self.yard_names):
            known = str(said.yards.get(yard_word(name), ""))
            choices = [*mine, (str(LEAVE_OUT), _("none of these: leave its rows out"))]
            self._choice(f"yard_{at}", say("Which yard is “{name}”?", name=name), known, choices)

    def _choice(
        self,
        name: str,
        label: Any,
        initial: Any,
        choices: Sequence[tuple[Any, Any]],
        *,
        hint: Any = "",
        radio: bool = False,
    ) -> None:
        listed = list(choices) if radio else [("", _("leave it open")), *choices]
        self.fields[name] = forms.ChoiceField(
            label=label, help_text=hint, choices=listed, initial=initial, required=False,
            widget=forms.RadioSelect if radio else forms.Select,
            error_messages={"invalid_choice": _("Choose one of these.")},
        )  # fmt: skip

    def answers(self) -> dict[str, Any]:
        """What changes in what was said."""
        told = self.cleaned_data
        changed: dict[str, Any] = {}
        if told.get("order"):
            changed["order"] = DayOrder(told["order"])
        if "method" in self.fields:
            changed["method"] = Method(told["method"]) if told["method"] else None
        if "measure" in self.fields:
            changed["measure"] = told["measure"] or None
        if "treated" in self.fields:
            changed["treated"] = {"yes": True, "no": False}.get(told["treated"])
        if "yard" in self.fields:
            changed["yard"] = int(told["yard"]) if told["yard"] else None
        changed["method_words"] = {
            plain(word): Method(told[f"word_{at}"])
            for at, word in enumerate(self.method_words)
            if told[f"word_{at}"]
        }
        changed["yards"] = {
            yard_word(name): int(told[f"yard_{at}"])
            for at, name in enumerate(self.yard_names)
            if told[f"yard_{at}"]
        }
        return changed


def words_of(column: Column) -> str:
    """What a column holds, in words."""
    return say(COLUMN_WORDS[column])


def yard_word(name: str) -> str:
    """A yard's name as it is compared."""
    return " ".join(name.casefold().split())


def _once(texts: Iterable[str], key: Callable[[str], str]) -> list[str]:
    """Each text once, as it is compared; the first way of writing it."""
    found: dict[str, str] = {}
    for text in texts:
        found.setdefault(key(text), text)
    return list(found.values())


def _yard_words(yard: Yard) -> str:
    return say("{yard} ({keeper})", yard=yard.name, keeper=yard.keeper.name)
