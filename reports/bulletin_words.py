"""The text of a month's bulletin, written from the figures by rules. Pure.

Short sentences, each number with its range. A difference is told only where ranges do not overlap; what cannot be told
is said. Nobody is named, no product, no brand. Nobody is told to treat: the label and the local rules decide.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from functools import reduce

from apiaries.language import day_words, mark, month_name, say, say_many
from reports.bulletin_counted import counted
from reports.bulletin_figures import KindFigures, MonthFigures, State
from reports.bulletin_pieces import (
    COUNTS_OF,
    NAMED,
    Change,
    Shown,
    figure_words,
    listed,
    month_words,
    rate_words,
)
from reports.kinds import INGREDIENTS_INSIDE

LABEL = mark(
    "The label in your hand and the rules of your place decide. Where they leave a question, ask your inspector, a "
    "veterinarian or another licensed adviser."
)


@dataclass(frozen=True, slots=True)
class Paragraph:
    """A heading and a few sentences."""

    title: str
    text: str


def paragraphs(month: MonthFigures) -> list[Paragraph]:
    """The whole text, in the order of the page. What there is nothing to say about is left out."""
    following = month_name(month.month.month % 12 + 1)
    found = [
        (say("What was counted"), counted(month)),
        (
            say("Beside other years"),
            [words for kind in month.kinds[:1] for words in _beside(kind, month.month)],
        ),
        (say("What cannot be told"), _untold(month)),
        (say("After treatments"), _treated(month)),
        (say("What comes in {month}", month=following), _next(month)),
    ]
    return [Paragraph(title, " ".join(sentences)) for title, sentences in found if sentences]


def _beside(kind: KindFigures, month: dt.date) -> list[str]:
    """The same month a year before, and those that are unusually high beside several years."""
    pairs = [(one, figure, one.before) for one, figure in kind.shown if one.before is not None]
    said = []
    if pairs:
        said.append(
            say(
                "Beside {month}, as far as ranges tell: {changes}.",
                month=month_words(month.replace(year=month.year - 1)),
                changes="; ".join(_more_and_less(pairs)),
            )
        )
    high = [(one, figure) for one, figure in kind.shown if one.high_beside]
    if high:
        said.append(
            say(
                "Unusually high for {month}: {regions}. Of a hundred usual months about two are called so, so count "
                "again before you make much of it.",
                month=month_name(month.month),
                regions=listed([_high(pair) for pair in high]),
            )
        )
    return said


def _more_and_less(pairs: Sequence[Change]) -> list[str]:
    more = [one for one in pairs if one[1].is_above(one[2])]
    less = [one for one in pairs if one[2].is_above(one[1])]
    told = [say("more in {regions}", regions=_changes(more))] if more else []
    told += [say("less in {regions}", regions=_changes(less))] if less else []
    rest = len(pairs) - len(more) - len(less)
    if rest:
        told.append(say_many("no clear difference in one region", "no clear difference in {n} regions", rest))
    return told


def _high(pair: Shown) -> str:
    return say(
        "{region}, {figure}, beside {years} earlier years",
        region=pair[0].name,
        figure=figure_words(pair[1]),
        years=pair[0].high_beside,
    )


def _changes(changed: Sequence[Change]) -> str:
    told = [
        say(
            "{region}, {now} ({now_range}) after {then} ({then_range})",
            region=one.name,
            now=rate_words(now),
            now_range=now.range,
            then=rate_words(then),
            then_range=then.range,
        )
        for one, now, then in changed[:NAMED]
    ]
    if len(changed) > NAMED:
        told.append(say_many("one more region", "{n} more regions", len(changed) - NAMED))
    return reduce(lambda some, other: say("{some} and in {other}", some=some, other=other), told)


def _untold(month: MonthFigures) -> list[str]:
    """Hidden months and those that nobody counted; more counts help there."""
    said = []
    for kind in month.kinds[:1]:
        hidden = [one.name for one in kind.of(State.HIDDEN)]
        silent = [one.name for one in kind.of(State.NOT_COUNTED)]
        if hidden:
            said.append(
                say("Hidden, so that nobody's bees can be told from it: {regions}.", regions=listed(hidden))
            )
        if silent:
            said.append(
                say(
                    "No {counts} came from {regions}: that says nothing about mites there.",
                    counts=say(COUNTS_OF[kind.kind]),
                    regions=listed(silent),
                )
            )
        if hidden or silent:
            said.append(say("More counts would help there."))
    doubtful = any(
        one.uncertain and not figure.none_found for kind in month.kinds[:1] for one, figure in kind.shown
    )
    if doubtful:
        said.append(say("A figure marked uncertain has a wide range: look at the range, not at the figure."))
    if any(kind.shown for kind in month.kinds):
        said.append(
            say(
                "Members who count are not all members. A region's mean says little about one colony: only a count "
                "of its own does."
            )
        )
    return said


def _treated(month: MonthFigures) -> list[str]:
    if not month.warned:
        return []
    ingredients = [say(INGREDIENTS_INSIDE.get(one, one)) for one in month.warned]
    return [
        say(
            "In unusually many yards the mites fell less than hoped for after treatments with {ingredients}. Why, "
            "the counts do not say: brood, weather, dose, days and mites from elsewhere do that, too, and it is "
            "nobody's fault.",
            ingredients=listed(list(dict.fromkeys(ingredients))),
        ),
        say(
            "A count after the treatment tells you whether yours worked. Give nothing more, and nothing stronger, "
            "than the label allows."
        ),
    ]


def _next(month: MonthFigures) -> list[str]:
    """Reminders and cautions that hold in any climate (common practice, no source), then who decides."""
    this, following = month_name(month.month.month), month_name(month.month.month % 12 + 1)
    said = [say("If you treated in {month}, count again: Today shows the days of each recount.", month=this)]
    if month.count_asked:
        said.append(
            say(
                "In {month} the club asks for a count in every yard. Finding no mite counts as much as finding some.",
                month=following,
            )
        )
    if month.week:
        first, last = month.week
        said.append(
            say(
                "The next count week is from {first} to {last}.", first=day_words(first), last=day_words(last)
            )
        )
    said.append(
        say("Look for brood before you plan anything: most treatments do not reach mites under cappings.")
    )
    return [*said, say(LABEL)]
