"""The page of coverage: its figures come out again, and a missed bar is said."""

import pytest

from tests.simulate import ranges, regions
from tests.simulate.__main__ import PAGE, STUDIES, row_of, run
from tests.simulate.drawing import Result


@pytest.mark.parametrize(
    ("study", "scenarios", "group"),
    [
        ("One jar", ranges.jar_scenarios, "bee count 10 %"),
        ("Share of yards above 3 per 100", regions.share_scenarios, "5 yards"),
    ],
)
def test_line_of_the_page_comes_out_again(study, scenarios, group):
    wanted = [place for place, one in enumerate(scenarios()) if one[0] in (group, 5)]
    results = [result for place in wanted for result in run((study, place))[1]]

    line, missed = row_of(study, group, results)

    assert line in PAGE.read_text(encoding="utf-8")
    assert missed == ""


def test_page_has_a_line_for_every_study():
    text = PAGE.read_text(encoding="utf-8")

    assert all(f"| {study} |" in text for study in STUDIES)


@pytest.mark.parametrize(
    ("group", "held", "missed"),
    [
        ("drop of these colonies", (90, 90), False),
        ("drop of these colonies", (80, 96), True),  # the lowest is under .85
        ("drop of these colonies", (99, 99), True),  # wider than it says
        ("drop by the treatment", (82, 96), False),
        ('"worked" at a true drop of 80 %', (7, 8), False),
        ('"worked" at a true drop of 80 %', (8, 9), True),
    ],
)
def test_missed_bar_is_said(group, held, missed):
    results = [Result(group, one, 100) for one in held]

    assert bool(row_of("Before and after", group, results)[1]) is missed
