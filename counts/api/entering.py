"""Counts that come from other programs: read strictly, then judged by the form of the pages, in its words.

What is named wrongly or does not belong to the method is refused and not left aside: a program does not see that a
number it sent went nowhere.
"""

import math
import uuid
from collections.abc import Callable, Mapping
from typing import Any, TypeVar

from rest_framework import serializers

from apiaries.api.fields import KeyOf, ShortList
from apiaries.api.problems import Fault, Problem, invalid
from apiaries.entries import is_text
from apiaries.language import say
from apiaries.models import Brood, Colony, Person
from apiaries.views.asking import today_in
from counts.asking import fingerprint
from counts.forms.sample import CorrectForm, SampleForm
from counts.measuring import COUNTED, MEASURES, NOMINAL
from counts.models import MiteSample
from counts.samples import JAR_KINDS, BeesBy, Kind, Method, kind_of

ANSWERS_MOST = 20
"""More questions than this were never asked about one count."""
Form = TypeVar("Form", bound=SampleForm)
API_NAMES = {
    "bees_how": "bees_by",
    "cells_opened": "cells_counted",
    "__all__": "general",
    "entry_key": "general",
}
"""Boxes of the form that have another name here."""
JAR_NAMES, BOARD_NAMES = {"bees", "bees_by", "measure"}, {"board_days", "cells_total", "treatment_in_hive"}


class Strictly(serializers.Serializer[Any]):
    """A body in which nothing is named that is not known."""

    def to_internal_value(self, data: Any) -> Any:
        unknown = sorted(set(map(str, data)) - set(self.fields)) if isinstance(data, Mapping) else []
        if unknown:
            raise serializers.ValidationError({name: [say("No such field here.")] for name in unknown[:20]})
        return super().to_internal_value(data)


class WholeNumber(serializers.IntegerField):
    """A number of JSON; a text or 3.0 is none."""

    def to_internal_value(self, data: Any) -> int:
        if isinstance(data, bool) or not isinstance(data, int):
            self.fail("invalid")
        return data


class Number(serializers.FloatField):
    """Likewise, perhaps with a fraction."""

    def to_internal_value(self, data: Any) -> float:
        if isinstance(data, bool) or not isinstance(data, int | float) or not math.isfinite(data):
            self.fail("invalid")
        return float(data)


class YesOrNo(serializers.BooleanField):
    """true or false of JSON; no word and no number stands for them."""

    def to_internal_value(self, data: Any) -> bool:
        if not isinstance(data, bool):
            self.fail("invalid", input=data)
        return data


class Text(serializers.CharField):
    """Text of JSON that a database can keep."""

    def to_internal_value(self, data: Any) -> str:
        if not is_text(data):
            self.fail("invalid")
        return str(super().to_internal_value(data))


class CountIn(Strictly):
    """What a new count and a correction have in common."""

    method = serializers.ChoiceField([one.value for one in Method])
    sampled_on = serializers.DateField(help_text="The calendar date in the yard; not in the future.")
    mites = WholeNumber(min_value=0, max_value=99_999)
    bees = WholeNumber(
        required=False,
        allow_null=True,
        min_value=1,
        max_value=20_000,
        help_text="Jars; a measure says it itself.",
    )
    bees_by = serializers.ChoiceField(
        [one.value for one in BeesBy],
        required=False,
        allow_null=True,
        help_text="Jars: how you know the bees.",
    )
    measure = serializers.ChoiceField(
        MEASURES, required=False, allow_null=True, help_text="Jars, with bees_by volume: what was filled."
    )
    board_days = Number(
        required=False, allow_null=True, min_value=0, max_value=99, help_text="Boards; to one decimal."
    )
    cells_counted = WholeNumber(
        required=False,
        allow_null=True,
        min_value=1,
        max_value=99_999,
        help_text="Boards counted in part, and drone cells opened.",
    )
    cells_total = WholeNumber(
        required=False, allow_null=True, min_value=1, max_value=99_999, help_text="Boards counted in part."
    )
    treatment_in_hive = YesOrNo(
        required=False, allow_null=True, help_text="Boards: whether a treatment was in the hive meanwhile."
    )
    brood = serializers.ChoiceField(Brood.values, default=Brood.UNKNOWN.value)
    note = Text(required=False, allow_blank=True, default="", max_length=500)
    confirmed = ShortList(
        child=Text(max_length=16),
        default=list,
        max_length=ANSWERS_MOST,
        help_text="Keys of questions that were asked and answered with yes.",
    )

    def validate(self, facts: dict[str, Any]) -> dict[str, Any]:
        kind = kind_of(Method(facts["method"]))
        foreign = (JAR_NAMES if kind not in JAR_KINDS else set()) | (
            BOARD_NAMES if kind is not Kind.BOARD else set()
        )
        foreign |= {"cells_counted"} if kind in JAR_KINDS else set()
        faults = {
            name: [say("This does not belong to the method.")]
            for name in sorted(foreign)
            if facts.get(name) is not None
        }
        faults |= self._measure(facts) if kind in JAR_KINDS else {}
        if faults:
            raise serializers.ValidationError(faults)
        return facts

    @staticmethod
    def _measure(facts: Mapping[str, Any]) -> dict[str, list[str]]:
        by_measure = facts.get("bees_by") == BeesBy.VOLUME
        if by_measure and facts.get("measure") is None:
            return {"measure": [say("Say which measure was filled.")]}
        if not by_measure and facts.get("measure") is not None:
            return {"measure": [say("A measure goes with bees_by volume.")]}
        return {}


class NewCountIn(CountIn):
    """A new count."""

    colony = KeyOf(
        lambda person: Colony.objects.recordable_by(person).select_related("yard__club"),
        help_text="The key of a colony that stands where you log counts.",
    )


class CorrectionIn(CountIn):
    """The whole count as it should have been."""

    why = Text(max_length=200, help_text="What was wrong.")


class WhyIn(Strictly):
    """The reason for a change."""

    why = Text(max_length=200)


class QuestionOut(serializers.Serializer[Any]):
    """Something that is unusual about a count."""

    key = serializers.CharField(help_text="Goes into confirmed, if the answer is yes.")
    question = serializers.CharField()


def new_form(facts: Mapping[str, Any], *, person: Person, key: uuid.UUID) -> SampleForm:
    """The form of a new count, filled in and valid. Errors: Problem."""
    colony: Colony = facts["colony"]
    today = today_in(colony.yard)

    def form(typed: Mapping[str, str]) -> SampleForm:
        return SampleForm(typed, colony=colony, person=person, today=today, initial={})

    return _answered(form, facts, key)


def correct_form(
    facts: Mapping[str, Any], *, sample: MiteSample, person: Person, key: uuid.UUID
) -> CorrectForm:
    """The form of a correction, filled in and valid. Errors: Problem."""
    today = today_in(sample.yard)

    def form(typed: Mapping[str, str]) -> CorrectForm:
        return CorrectForm(typed, sample=sample, person=person, today=today)

    return _answered(form, facts, key)


def _answered(
    form_with: Callable[[Mapping[str, str]], Form], facts: Mapping[str, Any], key: uuid.UUID
) -> Form:
    """The valid form; what it asks was answered by `confirmed`. Errors: Problem, which says what to mend or asks."""
    typed = _typed(facts) | {"entry_key": str(key)}
    form = form_with(typed)
    _check_measure(form, facts)
    if form.is_valid():
        return form
    asked = {fingerprint([question]): question for question in form.questions}
    if asked and not form.errors and set(asked) <= set(facts["confirmed"]):
        # It answers these very questions; looked up anew, others may have come up.
        form = form_with(typed | {"sure": form.sure_value})
        if form.is_valid():
            return form
        asked = {fingerprint([question]): question for question in form.questions}
    if form.errors:
        raise invalid(faults_in(form))
    raise Problem(
        422,
        "Needs a look",
        "Nothing was saved yet. Look at it again; if it is right, send it with these keys in confirmed.",
        type="needs-a-look",
        more={"questions": [{"key": name, "question": question} for name, question in asked.items()]},
    )


def faults_in(form: SampleForm) -> list[Fault]:
    """What the form found, by the names that fields have here."""
    return [
        Fault(name=API_NAMES.get(name, name), detail=str(words))
        for name, found in form.errors.items()
        for words in found
    ]


def _typed(facts: Mapping[str, Any]) -> dict[str, str]:
    """The boxes of the form, as a keeper would fill them in."""
    drone = facts["method"] == Method.DRONE_BROOD
    treated = facts.get("treatment_in_hive")
    how = {BeesBy.COUNTED.value: COUNTED, BeesBy.NOMINAL.value: NOMINAL}.get(facts.get("bees_by") or "")
    boxes = {
        "method": facts["method"],
        "sampled_on": facts["sampled_on"].isoformat(),
        "mites": facts["mites"],
        "bees_how": how or facts.get("measure"),
        "bees": facts.get("bees"),
        "board_days": facts.get("board_days"),
        "cells_opened" if drone else "cells_counted": facts.get("cells_counted"),
        "cells_total": facts.get("cells_total"),
        "treatment_in_hive": None if treated is None else ("no", "yes")[treated],
        "brood": facts["brood"],
        "note": facts["note"],
        "why": facts.get("why"),
    }
    return {name: str(value) for name, value in boxes.items() if value is not None}


def _check_measure(form: SampleForm, facts: Mapping[str, Any]) -> None:
    """A number of bees beside a measure must be the measure's own. Errors: Problem."""
    way = form.ways.get(facts.get("measure") or "")
    bees = facts.get("bees")
    if way is not None and way.bees is not None and bees not in (None, way.bees):
        words = say("Your club takes this measure as {bees} bees.", bees=way.bees)
        raise invalid([Fault(name="bees", detail=words)])
