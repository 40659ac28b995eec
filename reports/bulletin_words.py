"""The text of a month's bulletin, written from the figures by rules. Pure.

Short sentences, each number with its range. A difference is told only where ranges do not overlap; what cannot be told
is said. Nobody is named, no product, no brand. Nobody is told to treat: the label and the local rules decide.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from apiaries.language import month_name
from counts.samples import Kind
from reports.bulletin_figures import Figure, KindFigures, MonthFigures, RegionFigure, State

COUNTS_OF = {Kind.WASH: "washes", Kind.ROLL: "rolls", Kind.BOARD: "boards"}
EACH_TOLD, NAMED = 4, 3
"""So few regions are told one by one; of more, so many names stand in one sentence (our choice: a page is short)."""
LABEL = (
    "The label in your hand and the rules of your place decide. Where they leave a question, ask your inspector, a "
    "veterinarian or another licensed adviser."
)

Shown = tuple[RegionFigure, Figure]


@dataclass(frozen=True, slots=True)
class Paragraph:
    """A heading and a few sentences."""

    title: str
    text: str


def paragraphs(month: MonthFigures) -> list[Paragraph]:
    """The whole text, in the order of the page. What there is nothing to say about is left out."""
    found = [
        ("What was counted", _counted(month)),
        ("Beside other years", [words for kind in month.kinds[:1] for words in _beside(kind, month.month)]),
        ("What cannot be told", _untold(month)),
        ("After treatments", _treated(month)),
        (f"What comes in {month_name(month.month.month % 12 + 1)}", _next(month)),
    ]
    return [Paragraph(title, " ".join(sentences)) for title, sentences in found if sentences]


def month_words(month: dt.date) -> str:
    """August 2026"""
    return f"{month_name(month.month)} {month.year}"


def listed(names: Sequence[str], most: int = NAMED) -> str:
    """A, B and C; of more than that the first, and how many more."""
    told = [*names[:most], *([f"{len(names) - most} more"] if len(names) > most else [])]
    return told[0] if len(told) == 1 else f"{', '.join(told[:-1])} and {told[-1]}"


def _counted(month: MonthFigures) -> list[str]:
    when = month_words(month.month)
    if not any(kind.shown for kind in month.kinds):
        said = (
            f"Counts came in for {when}, but from too few keepers or yards to show a figure."
            if month.kinds
            else f"No count came in for {when}."
        )
        return [f"{said} That says nothing about how many mites there were."]
    first, *others = (kind for kind in month.kinds if kind.shown)
    return [*_main(first, when), *(words for kind in others for words in _other(kind))]


def _main(kind: KindFigures, when: str) -> list[str]:
    shown = kind.shown
    where = "one region" if len(shown) == 1 else f"{len(shown)} regions"
    said = [
        f"In {when} {COUNTS_OF[kind.kind]} gave figures for {where}. Each is the mean of the yards, in mites "
        f"{kind.unit}, with its range."
    ]
    if len(shown) <= EACH_TOLD:
        said += [f"{one.name}: {_told(figure)}, {_from(one)}.{_doubt(one)}" for one, figure in shown]
    else:
        said += _ends(shown)
    return [*said, *_none_found(shown), *_levels(kind)]


def _ends(shown: Sequence[Shown]) -> list[str]:
    """The lowest and the highest of many, of those that are sure enough.

    Not that they differ where their ranges do not overlap: of forty regions that are all alike, they often do not.
    """
    sure = [pair for pair in shown if not pair[0].uncertain and not pair[1].none_found]
    if len(sure) < 2:
        few = "All but one are" if sure else "All of them are"
        return [
            f"{few} uncertain: few yards or few mites stand behind each. The table has them with their ranges."
        ]
    low, high = min(sure, key=lambda pair: pair[1].rate), max(sure, key=lambda pair: pair[1].rate)
    said = [
        f"The lowest of those that are sure enough is {_named(low)}, {_from(low[0])}.",
        f"The highest is {_named(high)}, {_from(high[0])}.",
    ]
    if high[1].is_above(low[1]):
        return [*said, "Of so many regions, some lie apart by chance alone."]
    return [*said, "Their ranges overlap, so that it cannot be told which has more."]


def _none_found(shown: Sequence[Shown]) -> list[str]:
    none = [(one, figure) for one, figure in shown if figure.none_found]
    if not none or len(shown) <= EACH_TOLD:
        return []  # told one by one above
    most = max(figure.high for _, figure in none)
    return [
        f"No mite was found in {listed([one.name for one, _ in none])}; there could still be up to {most:.1f}. Such "
        "counts count as much as any other."
    ]


def _levels(kind: KindFigures) -> list[str]:
    """Of the action level: shares of yards where regions are few, else those that are wholly above it."""
    shared = [(one, one.share) for one in kind.regions if one.share is not None]
    if not shared:
        return []
    level = f"{shared[0][1].level:g} {kind.unit}"
    if len(kind.shown) <= EACH_TOLD:
        shares = [f"{one.name} {share.told} (range {share.range})" for one, share in shared]
        return [f"Share of yards above the action level of {level}: {'; '.join(shares)}."]
    above = [
        (one, figure)
        for one, figure in kind.shown
        if one.share is not None and figure.low > one.share.level and not one.uncertain
    ]
    if not above:
        return [
            f"In no region does the whole range lie above the action level of {level}. Single yards can still be "
            "above it."
        ]
    above.sort(key=lambda pair: -pair[1].low)
    named = "; ".join(_named(pair) for pair in above[:NAMED])
    more = f"; and {len(above) - NAMED} more" if len(above) > NAMED else ""
    return [
        f"The whole range lies above the action level of {level} in {_number(len(above), 'region')}: {named}{more}. "
        "Single yards there can still be below it: count your own."
    ]


def _other(kind: KindFigures) -> list[str]:
    shown = [pair for pair in kind.shown if not pair[0].uncertain] or kind.shown
    low, high = min(shown, key=lambda pair: pair[1].rate), max(shown, key=lambda pair: pair[1].rate)
    of = f"{COUNTS_OF[kind.kind].capitalize()} are told apart, in mites {kind.unit}"
    if low[0] is high[0]:
        return [f"{of}: {_named(low)}."]
    return [f"{of}: from {_named(low)} to {_named(high)}."]


def _beside(kind: KindFigures, month: dt.date) -> list[str]:
    """The same month a year before, and those that are unusually high beside several years."""
    name, before = month_name(month.month), f"{month_name(month.month)} {month.year - 1}"
    pairs = [(one, figure, one.before) for one, figure in kind.shown if one.before is not None]
    more = [one for one in pairs if one[1].is_above(one[2])]
    less = [one for one in pairs if one[2].is_above(one[1])]
    said = []
    if pairs:
        told = [f"more in {_changes(more)}"] * bool(more) + [f"less in {_changes(less)}"] * bool(less)
        rest = len(pairs) - len(more) - len(less)
        told += [f"no clear difference in {_number(rest, 'region')}"] * bool(rest)
        said.append(f"Beside {before}, as far as ranges tell: {'; '.join(told)}.")
    high = [(one, figure) for one, figure in kind.shown if one.high_beside]
    if high:
        named = listed([_named(pair) + f", beside {pair[0].high_beside} earlier years" for pair in high])
        said.append(
            f"Unusually high for {name}: {named}. Of a hundred usual months about two are called so, so count again "
            "before you make much of it."
        )
    return said


def _changes(changed: Sequence[tuple[RegionFigure, Figure, Figure]]) -> str:
    told = [
        f"{one.name}, {_rate(now)} ({now.range}) after {_rate(then)} ({then.range})"
        for one, now, then in changed[:NAMED]
    ]
    more = [_number(len(changed) - NAMED, "more region")] if len(changed) > NAMED else []
    return " and in ".join([*told, *more])


def _untold(month: MonthFigures) -> list[str]:
    """Hidden months and those that nobody counted; more counts help there."""
    said = []
    for kind in month.kinds[:1]:
        hidden = [one.name for one in kind.of(State.HIDDEN)]
        silent = [one.name for one in kind.of(State.NOT_COUNTED)]
        if hidden:
            said.append(f"Hidden, so that nobody's bees can be told from it: {listed(hidden)}.")
        if silent:
            said.append(
                f"No {COUNTS_OF[kind.kind]} came from {listed(silent)}: that says nothing about mites there."
            )
        if hidden or silent:
            said.append("More counts would help there.")
    doubtful = any(
        one.uncertain and not figure.none_found for kind in month.kinds[:1] for one, figure in kind.shown
    )
    if doubtful:
        said.append("A figure marked uncertain has a wide range: look at the range, not at the figure.")
    if any(kind.shown for kind in month.kinds):
        said.append(
            "Members who count are not all members. A region's mean says little about one colony: only a count of "
            "its own does."
        )
    return said


def _treated(month: MonthFigures) -> list[str]:
    if not month.warned:
        return []
    return [
        f"In unusually many yards the mites fell less than hoped for after treatments with {listed(month.warned)}. "
        "Why, the counts do not say: brood, weather, dose, days and mites from elsewhere do that, too, and it is "
        "nobody's fault.",
        "A count after the treatment tells you whether yours worked. Give nothing more, and nothing stronger, than "
        "the label allows.",
    ]


def _next(month: MonthFigures) -> list[str]:
    """Reminders and cautions that hold in any climate (common practice, no source), then who decides."""
    this, following = month_name(month.month.month), month_name(month.month.month % 12 + 1)
    said = [f"If you treated in {this}, count again: Today shows the days of each recount."]
    if month.count_asked:
        said.append(
            f"In {following} the club asks for a count in every yard. Finding no mite counts as much as finding some."
        )
    if month.week:
        first, last = month.week
        said.append(f"The next count week is from {first} to {last}.")
    said.append("Look for brood before you plan anything: most treatments do not reach mites under cappings.")
    return [*said, LABEL]


def _named(pair: Shown) -> str:
    return f"{pair[0].name}, {_told(pair[1])}"


def _told(figure: Figure) -> str:
    if figure.none_found:
        return f"none found (up to {figure.high:.1f})"
    return f"{figure.rate:.1f} (range {figure.range})"


def _rate(figure: Figure) -> str:
    return "none found" if figure.none_found else f"{figure.rate:.1f}"


def _from(one: RegionFigure) -> str:
    return f"from {one.yards} yards"


def _doubt(one: RegionFigure) -> str:
    return " This one is uncertain." if one.uncertain and not one.none_found else ""


def _number(number: int, noun: str) -> str:
    return f"one {noun}" if number == 1 else f"{number} {noun}s"
