"""What a bulletin says of the month's counts: regions, lowest and highest, action level. Pure."""

from __future__ import annotations

from collections.abc import Sequence

from apiaries.language import figure as written
from apiaries.language import say, say_many
from reports.bulletin_figures import Figure, KindFigures, MonthFigures, RegionFigure
from reports.bulletin_pieces import COUNTS_OF, NAMED, Shown, figure_words, listed, month_words, named
from reports.kinds import KIND_WORDS

EACH_TOLD = 4
"""So few regions are told one by one (our choice: a page is short)."""


def counted(month: MonthFigures) -> list[str]:
    """The sentences, in order; where nothing can be shown, that."""
    when = month_words(month.month)
    if not any(kind.shown for kind in month.kinds):
        return [_no_figure(month, when)]
    first, *others = (kind for kind in month.kinds if kind.shown)
    return [*_main(first, when), *(words for kind in others for words in _other(kind))]


def _no_figure(month: MonthFigures, when: str) -> str:
    if month.kinds:
        return say(
            "Counts came in for {month}, but from too few keepers or yards to show a figure. That says nothing about "
            "how many mites there were.",
            month=when,
        )
    return say(
        "No count came in for {month}. That says nothing about how many mites there were.",
        month=when,
    )


def _main(kind: KindFigures, when: str) -> list[str]:
    shown = kind.shown
    said = [
        say_many(
            "In {month} {counts} gave figures for one region. Each is the mean of the yards, in mites {unit}, with "
            "its range.",
            "In {month} {counts} gave figures for {n} regions. Each is the mean of the yards, in mites {unit}, with "
            "its range.",
            len(shown),
            month=when,
            counts=say(COUNTS_OF[kind.kind]),
            unit=kind.unit,
        )
    ]
    if len(shown) <= EACH_TOLD:
        said += [words for one, figure in shown for words in _alone(one, figure)]
    else:
        said += _ends(shown)
    return [*said, *_none_found(shown), *_levels(kind)]


def _alone(one: RegionFigure, figure: Figure) -> list[str]:
    words = say(
        "{region}: {figure}, from {yards} yards.",
        region=one.name,
        figure=figure_words(figure),
        yards=one.yards,
    )
    return [words, *([say("This one is uncertain.")] if one.uncertain and not one.none_found else [])]


def _ends(shown: Sequence[Shown]) -> list[str]:
    """The lowest and the highest of many, of those that are sure enough.

    Not that they differ where their ranges do not overlap: of forty regions that are all alike, they often do not.
    """
    sure = [pair for pair in shown if not pair[0].uncertain and not pair[1].none_found]
    if len(sure) < 2:
        return [_unsure(all_of_them=not sure)]
    low, high = min(sure, key=lambda pair: pair[1].rate), max(sure, key=lambda pair: pair[1].rate)
    said = [
        say(
            "The lowest of those that are sure enough is {region}, from {yards} yards.",
            region=named(low),
            yards=low[0].yards,
        ),
        say("The highest is {region}, from {yards} yards.", region=named(high), yards=high[0].yards),
    ]
    if high[1].is_above(low[1]):
        return [*said, say("Of so many regions, some lie apart by chance alone.")]
    return [*said, say("Their ranges overlap, so that it cannot be told which has more.")]


def _unsure(*, all_of_them: bool) -> str:
    if all_of_them:
        return say(
            "All of them are uncertain: few yards or few mites stand behind each. The table has them with their "
            "ranges."
        )
    return say(
        "All but one are uncertain: few yards or few mites stand behind each. The table has them with their ranges."
    )


def _none_found(shown: Sequence[Shown]) -> list[str]:
    none = [(one, figure) for one, figure in shown if figure.none_found]
    if not none or len(shown) <= EACH_TOLD:
        return []  # told one by one above
    return [
        say(
            "No mite was found in {regions}; there could still be up to {most}. Such counts count as much as any "
            "other.",
            regions=listed([one.name for one, _ in none]),
            most=max((figure for _, figure in none), key=lambda figure: figure.high).most,
        )
    ]


def _levels(kind: KindFigures) -> list[str]:
    """Of the action level: shares of yards where regions are few, else those that are wholly above it."""
    shared = [(one, one.share) for one in kind.regions if one.share is not None]
    if not shared:
        return []
    level = f"{written(f'{shared[0][1].level:g}')} {kind.unit}"
    if len(kind.shown) <= EACH_TOLD:
        shares = [
            say("{region} {share} (range {range})", region=one.name, share=share.told, range=share.range)
            for one, share in shared
        ]
        return [
            say(
                "Share of yards above the action level of {level}: {shares}.",
                level=level,
                shares="; ".join(shares),
            )
        ]
    above = [
        (one, figure)
        for one, figure in kind.shown
        if one.share is not None and figure.low > one.share.level and not one.uncertain
    ]
    if not above:
        return [
            say(
                "In no region does the whole range lie above the action level of {level}. Single yards can still be "
                "above it.",
                level=level,
            )
        ]
    return [_wholly_above(above, level)]


def _wholly_above(above: Sequence[Shown], level: str) -> str:
    regions = [named(pair) for pair in sorted(above, key=lambda pair: -pair[1].low)[:NAMED]]
    left = len(above) - NAMED
    return say_many(
        "The whole range lies above the action level of {level} in one region: {regions}. Single yards there can "
        "still be below it: count your own.",
        "The whole range lies above the action level of {level} in {n} regions: {regions}. Single yards there can "
        "still be below it: count your own.",
        len(above),
        level=level,
        regions="; ".join(
            [*regions, *([say_many("and {n} more", "and {n} more", left)] if left > 0 else [])]
        ),
    )


def _other(kind: KindFigures) -> list[str]:
    shown = [pair for pair in kind.shown if not pair[0].uncertain] or kind.shown
    low, high = min(shown, key=lambda pair: pair[1].rate), max(shown, key=lambda pair: pair[1].rate)
    of = {"kind": say(KIND_WORDS[kind.kind]), "unit": kind.unit}
    if low[0] is high[0]:
        return [say("{kind} are told apart, in mites {unit}: {region}.", region=named(low), **of)]
    return [
        say(
            "{kind} are told apart, in mites {unit}: from {low} to {high}.",
            low=named(low),
            high=named(high),
            **of,
        )
    ]
