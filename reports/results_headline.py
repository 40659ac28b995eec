"""What Treatment results says first: which ways of treating worked in how many treatments, and which fell short."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from apiaries.language import mark, say
from reports.treatment_results import ResultRow
from treatments.ingredients import Ingredient, target_drop
from treatments.outcome import Verdict

CLEAR = (Verdict.WORKED, Verdict.FELL_SHORT, Verdict.DID_NOT_WORK)

WORKED_OF = mark("{name}: worked in {worked} of {clear} treatments with a clear answer.")
BELOW_TOO = mark(
    "{name}: worked in {worked} of {clear} treatments with a clear answer. All of the range of its drop is below "
    "the target."
)


@dataclass(frozen=True)
class Said:
    """One way of treating in one sentence, and the same of other places where that adds something."""

    way: str
    words: str
    below: bool
    """Whether the whole range of its drop lies below the published target."""
    elsewhere: Sequence[str]


def lies_below(row: ResultRow) -> bool:
    """Whether the whole range of the drop lies below the published target: no comparison with others is needed."""
    target = target_drop(Ingredient(row.ingredient))
    return bool(target and row.is_told and row.pooled and row.pooled.high < target.value)


def headline(
    rows: Sequence[ResultRow], place: int | None, ingredient: str, names: Mapping[int, str]
) -> list[Said]:
    """A sentence for each row of the place that has clear answers, what fell short first.

    Of all regions together: with the regions in which it lies below its target. Of one region: with all of them.
    """
    told = [row for row in rows if row.is_told and _clear(row) and ingredient in ("", row.ingredient)]
    own = sorted((row for row in told if row.region == place), key=_worst_first)
    return [_said(row, [one for one in told if _same_way(one, row)], names) for row in own]


def _said(row: ResultRow, others: Sequence[ResultRow], names: Mapping[int, str]) -> Said:
    if row.region is None:
        also = [(names.get(one.region or 0, ""), one) for one in others if one.region and lies_below(one)]
    else:
        also = [(say("All regions together"), one) for one in others if one.region is None]
    elsewhere = [_words(name, one) for name, one in sorted(also, key=lambda pair: pair[0]) if name]
    return Said(say(row.name), _words(say(row.name), row), lies_below(row), elsewhere)


def _words(name: str, row: ResultRow) -> str:
    sentence = BELOW_TOO if lies_below(row) else WORKED_OF
    return say(sentence, name=name, worked=row.words.get(Verdict.WORKED, 0), clear=_clear(row))


def _clear(row: ResultRow) -> int:
    return sum(row.words.get(verdict, 0) for verdict in CLEAR)


def _same_way(one: ResultRow, row: ResultRow) -> bool:
    return (one.ingredient, one.way) == (row.ingredient, row.way) and one.region != row.region


def _worst_first(row: ResultRow) -> tuple[bool, float, str]:
    return not lies_below(row), row.words.get(Verdict.WORKED, 0) / _clear(row), row.name
