"""The text of a bulletin: every month of the golden file was read through before it was kept."""

import datetime as dt
import json
import re
from dataclasses import replace
from pathlib import Path

import pytest

from counts.samples import Kind
from reports.bulletin_figures import Figure, KindFigures, MonthFigures, RegionFigure, Share, State, in_order
from reports.bulletin_pieces import listed
from reports.bulletin_words import LABEL, paragraphs

GOLDEN = Path(__file__).parents[1] / "golden" / "bulletins.txt"
OCTOBER, JULY, DECEMBER = dt.date(2026, 10, 1), dt.date(2026, 7, 1), dt.date(2026, 12, 1)
ALARMING = re.compile(
    r"\b(must|should|danger|alarm|outbreak|infest\w*|safe|clean|mite-free|significant)\b", re.I
)


def shown(name, rate, low, high, *, before=None, share=None, years=0, doubt=False, none=False):
    return RegionFigure(
        name,
        State.SHOWN,
        figure=Figure(rate, low, high, none_found=none),
        median=rate,
        share=Share(*share) if share else None,
        keepers="5–9",
        yards="5–9" if doubt else "10–19",
        bees=9000,
        before=Figure(*before) if before else None,
        high_beside=years,
        uncertain=doubt or none,
    )


def hidden(name):
    return RegionFigure(name, State.HIDDEN, why_hidden="too few keepers")


def silent(name):
    return RegionFigure(name, State.NOT_COUNTED)


def washes(*regions):
    return KindFigures(Kind.WASH, regions)


def many(number):
    return washes(
        *(
            shown(f"Region {n:02}", 0.5 + n / 10, 0.2 + n / 12, 1.0 + n / 8, share=(0.1, 0.02, 0.3, 3.0))
            for n in range(1, number + 1)
        )
    )


MONTHS = {
    "two regions, one clearly more than a year before": MonthFigures(
        OCTOBER,
        (
            washes(
                hidden("East"),
                shown("North", 3.4, 2.6, 4.5, before=(1.1, 0.7, 1.8), share=(0.54, 0.33, 0.74, 3.0)),
                shown("South", 0.8, 0.4, 1.6, before=(1.0, 0.5, 1.9), share=(0.001, 0.0, 0.14, 3.0)),
                silent("West"),
            ),
        ),
        count_asked=False,
        week=(dt.date(2027, 5, 4), dt.date(2027, 5, 10)),
    ),
    "none found, and one on few counts": MonthFigures(
        DECEMBER,
        (washes(shown("North", 0.0, 0.0, 0.3, none=True), shown("South", 4.0, 1.0, 13.5, doubt=True)),),
    ),
    "many regions, three kinds, one unusually high, an early warning": MonthFigures(
        JULY,
        (
            washes(
                *many(9).regions,
                shown("Heath", 5.2, 4.1, 6.6, years=5, before=(2.0, 1.4, 2.9), share=(0.8, 0.6, 0.93, 3.0)),
                shown("Lake", 0.0, 0.0, 0.2, none=True),
                shown("Marsh", 12.0, 2.0, 40.0, doubt=True),
                *(hidden(f"Small {n}") for n in range(5)),
            ),
            KindFigures(Kind.ROLL, (shown("Heath", 1.2, 0.7, 2.1), shown("Lake", 0.4, 0.1, 1.3))),
            KindFigures(Kind.BOARD, (shown("Heath", 8.5, 6.0, 12.1),)),
        ),
        warned=("oxalic acid",),
        count_asked=True,
    ),
    "only hidden months": MonthFigures(OCTOBER, (washes(hidden("North"), silent("South")),)),
    "nobody counted": MonthFigures(OCTOBER, ()),
    "many, all uncertain": MonthFigures(
        OCTOBER, (washes(*(shown(f"R{n}", 1.0, 0.1, 4.0, doubt=True) for n in range(6))),)
    ),
}


def told(month):
    return "\n".join(f"[{one.title}] {one.text}" for one in paragraphs(month))


def everything():
    return "\n\n".join(f"=== {name}\n{told(month)}" for name, month in MONTHS.items()) + "\n"


def test_months_are_told_as_they_were_read_through():
    assert everything() == GOLDEN.read_text()


@pytest.mark.parametrize("name", MONTHS)
def test_text_alarms_nobody_and_defers_to_the_label(name):
    words = told(MONTHS[name])
    assert not ALARMING.search(words)
    assert words.endswith(LABEL)
    assert all(len(sentence) < 400 for sentence in words.split(". "))


@pytest.mark.parametrize("name", MONTHS)
def test_no_rate_stands_without_its_range(name):
    """Every number with a decimal is a rate: two ends after each, but for a level and what could still be there."""
    words = re.sub(r"up to \d+\.\d|action level of [\d.]+", "", told(MONTHS[name]))
    ranges = re.findall(r"\d+\.\d \((?:range )?\d+\.\d to \d+\.\d\)", words)
    assert 3 * len(ranges) == len(re.findall(r"\d+\.\d", words))


def test_few_counts_are_never_the_highest():
    words = told(MONTHS["many regions, three kinds, one unusually high, an early warning"])
    assert "Marsh" not in words


def test_ranges_that_touch_are_no_difference():
    region = shown("North", 3.0, 2.0, 4.0, before=(1.0, 0.5, 2.0))
    words = told(MonthFigures(OCTOBER, (washes(region),)))
    assert "no clear difference in one region" in words and "more in" not in words
    clear = replace(region, before=Figure(1.0, 0.5, 1.9))
    assert "more in North, 3.0 (2.0 to 4.0) after 1.0 (0.5 to 1.9)" in told(
        MonthFigures(OCTOBER, (washes(clear),))
    )


def test_text_stays_short_however_many_regions():
    short, long = (len(told(MonthFigures(JULY, (many(number),)))) for number in (40, 48))
    assert long < short + 40


def test_kinds_are_in_order_of_their_figures_and_unasked_ones_left_out():
    kinds = [
        washes(hidden("North")),
        KindFigures(Kind.ROLL, (shown("North", 1.0, 0.5, 2.0),)),
        KindFigures(Kind.BOARD, (silent("North"),)),
    ]
    assert [kind.kind for kind in in_order(kinds)] == [Kind.ROLL, Kind.WASH]


@pytest.mark.parametrize("name", MONTHS)
def test_figures_come_back_from_what_is_kept(name):
    kept = json.loads(json.dumps(MONTHS[name].as_kept()))
    assert MonthFigures.from_kept(kept) == MONTHS[name]


def test_names_are_listed():
    assert listed(["A"]) == "A"
    assert listed(["A", "B", "C"]) == "A, B and C"
    assert listed(["A", "B", "C", "D", "E"]) == "A, B, C and 2 more"


def test_share_is_never_a_bare_0_or_100():
    assert [Share(share, 0, 1, 3.0).told for share in (0.001, 0.33, 0.999)] == ["<1 %", "33 %", ">99 %"]
