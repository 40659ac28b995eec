"""The page of coverage: its figures come out again, and a missed bar is said."""

import pytest

from tests.simulate import ranges, regions, treated
from tests.simulate.__main__ import PAGE, STUDIES, kept_lines, page, row_of, run
from tests.simulate.drawing import Result


@pytest.mark.parametrize(
    ("study", "scenarios", "group", "first"),
    [
        ("One jar", ranges.jar_scenarios, "bee count 10 %", "bee count 10 %"),
        ("Share of yards above 3 per 100", regions.share_scenarios, "5 yards", 5),
        ("Drop of many yards", treated.pool_scenarios, "about 6 yards", 6),
    ],
)
def test_line_of_the_page_comes_out_again(study, scenarios, group, first):
    wanted = [place for place, one in enumerate(scenarios()) if one[0] == first]
    results = [result for place in wanted for result in run((study, place))[1]]

    line, missed = row_of(study, group, results)

    assert line in PAGE.read_text(encoding="utf-8")
    assert missed == ""


def test_false_alarms_come_out_again():
    """One scenario of the page: its clubs, their looks and their warnings are the same everywhere."""
    first, second = (run(("Early warning", 6))[1] for _ in range(2))

    assert first == second
    assert [one.group.startswith("early warning by chance") for one in first] == [True, True]
    assert first[0].share < 0.02 and first[1].share <= 0.1


def test_studies_that_are_not_run_keep_their_lines():
    kept = kept_lines(["One jar"])

    assert set(kept) == set(STUDIES) - {"One jar"} and all(kept.values())
    all_lines = kept_lines([])
    assert page([line for study in STUDIES for line in all_lines[study]]) == PAGE.read_text(encoding="utf-8")


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
        ("early warning by chance, a club and year looked at 12 times", (0, 9), False),
        ("early warning by chance, a club and year looked at 12 times", (4, 7), True),
        ("early warning noticed, 5% before, now 50% in a region", (0, 0), False),  # told, whatever it is
    ],
)
def test_missed_bar_is_said(group, held, missed):
    results = [Result(group, one, 100) for one in held]

    assert bool(row_of("Before and after", group, results)[1]) is missed
