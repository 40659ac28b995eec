"""Which yards are due, in which order to drive; the figures of a year and their definitions."""

import csv
import datetime as dt
import io
from decimal import Decimal

import pytest
from django.urls import reverse
from statsmodels.stats.proportion import proportion_confint

from apiaries.actions import add_yard
from apiaries.models import Yard
from counts.visit_actions import keep_visit, void_visit_and_counts
from reports.visit_due import DONE, DUE, FOLLOW_UP, LATE, NOT_DUE, due_of, state_of
from reports.visit_plan import DUE as BY_DUE
from reports.visit_plan import LOOK, NEAR, in_order, open_follow_ups, visit_rows
from reports.visit_year import DEFINITIONS, YearFigures, share_range, year_figures
from tests.visiting import AT, ON, a_count, a_visit

LATER = ON + dt.timedelta(days=60)


@pytest.fixture
def yards(cast):
    """Alice's in the north: Home yard without a place, three along a line, 1.1 km, 11 km and 5.6 km from the first."""
    places = {"First": "0.00", "Near": "0.01", "Far": "0.10", "Middle": "0.05"}
    return {
        name: add_yard(
            keeper=cast.alice,
            region=cast.north,
            name=name,
            latitude=Decimal("52") + Decimal(north),
            longitude=Decimal("13"),
            by=cast.alice,
        )
        for name, north in places.items()
    }


def names(cast, order, on=LATER):
    rows = visit_rows(cast.ines, Yard.objects.inspected_by(cast.ines), on)
    return [row.yard.name for row in in_order(rows, order, on)]


def test_only_yards_of_their_regions(cast, yards):
    assert "Orchard" not in names(cast, BY_DUE)
    rows = visit_rows(cast.ivan, Yard.objects.inspected_by(cast.ivan), LATER)
    assert [row.yard for row in rows] == [cast.charlie_yard]


def test_late_follow_up_comes_first_then_never_visited(cast, yards):
    keep_visit(new=a_visit(cast), counts=[], planned=None, at=AT, by=cast.ines)
    assert names(cast, BY_DUE)[0] == "Home yard"

    later = a_visit(cast, visited_on=ON + dt.timedelta(days=1), follow_up_on=None)
    keep_visit(new=later, counts=[], planned=None, at=AT + dt.timedelta(days=1), by=cast.ines)
    assert names(cast, BY_DUE)[-1] == "Home yard", "a later visit did the follow-up"


def test_follow_ups_in_the_order_to_drive_are_those_of_the_list_of_what_is_due(cast):
    soon, late = ON + dt.timedelta(days=5), ON + dt.timedelta(days=30)
    for asked in (late, soon, None):
        keep_visit(new=a_visit(cast, follow_up_on=asked), counts=[], planned=None, at=AT, by=cast.ines)

    due = [one.due_on for one in due_of(cast.ines, ON) if one.kind == FOLLOW_UP]

    assert sorted(due) == [soon, late]
    assert open_follow_ups([cast.alice_yard.pk]) == {cast.alice_yard.pk: soon}


def test_way_to_drive_goes_to_the_nearest_left_and_ends_with_those_without_a_place(cast, yards):
    rows = in_order(visit_rows(cast.ines, Yard.objects.inspected_by(cast.ines), LATER), NEAR, LATER)

    # From "Far", the first by name of those never visited.
    assert [row.yard.name for row in rows] == ["Far", "Middle", "Near", "First", "Home yard"]
    assert [None if row.km is None else round(row.km, 1) for row in rows] == [None, 5.6, 4.4, 1.1, None]


def test_above_the_level_first(cast, yards, reference):
    counts = [a_count(one, mites=40) for one in cast.colonies]
    keep_visit(new=a_visit(cast, follow_up_on=None), counts=counts, planned=None, at=AT, by=cast.ines)

    assert names(cast, LOOK)[0] == "Home yard"


def test_queries_do_not_grow_with_yards(cast, yards, django_assert_max_num_queries):
    with django_assert_max_num_queries(30) as few:
        visit_rows(cast.ines, Yard.objects.inspected_by(cast.ines).filter(name="First"), LATER)
    with django_assert_max_num_queries(len(few)):
        visit_rows(cast.ines, Yard.objects.inspected_by(cast.ines), LATER)


@pytest.mark.parametrize(
    ("due_on", "done_on", "state"),
    [
        (ON, None, DUE),
        (ON - dt.timedelta(days=1), None, LATE),
        (ON + dt.timedelta(days=14), None, DUE),
        (ON + dt.timedelta(days=15), None, NOT_DUE),
        (None, None, DUE),
        (ON, ON, DONE),
    ],
)
def test_state_of_what_follows(due_on, done_on, state):
    assert state_of(due_on, done_on, ON) == state


def by_key(figures: YearFigures):
    return {one.key: one for one in figures.all}


def test_figures_of_a_year_by_hand(cast):
    """Two visits that stand, one voided, one of the year before; 2 of 3 washes with mites."""
    counts = [
        a_count(cast.colonies[0], mites=3),
        a_count(cast.colonies[1], mites=0),
        a_count(cast.colonies[2]),
    ]
    keep_visit(new=a_visit(cast), counts=counts, planned=None, at=AT, by=cast.ines)
    second = a_visit(cast, colonies_opened=3, suspicions=(), orders=(), lab_samples=())
    keep_visit(new=second, counts=[], planned=None, at=AT, by=cast.ines)
    wrong = keep_visit(new=a_visit(cast), counts=[], planned=None, at=AT, by=cast.ines)
    void_visit_and_counts(visit=wrong, why="wrong yard", at=AT, by=cast.ines)
    before = a_visit(cast, visited_on=dt.date(2025, 9, 1), follow_up_on=None)
    keep_visit(new=before, counts=[], planned=None, at=AT, by=cast.ines)
    Yard.objects.update(made_at=dt.datetime(2026, 4, 1, tzinfo=dt.UTC))

    figures = by_key(year_figures(cast.ines, 2026, ON))

    told = {key: one.number for key, one in figures.items()}
    assert told["keepers"] == told["yards"] == told["keepers_visited"] == told["yards_visited"] == 1
    assert (told["colonies"], told["visits"], told["present"], told["opened"]) == (6, 2, 12, 5)
    assert (told["colonies_seen"], told["orders"], told["lab_samples"]) == (2, 1, 1)
    assert told["suspicion:american_foulbrood"] == 1
    cappings = figures["finding:brood_look:cappings"]
    assert (cappings.number, cappings.of) == (2, 4)
    washes = figures["positive:alcohol_wash"]
    assert (washes.number, washes.of) == (2, 3)
    assert washes.share_words == "67 % (21 to 94 %)"  # statsmodels, Wilson: 20.8 to 93.9
    assert by_key(year_figures(cast.ines, 2025, ON))["visits"].number == 1
    assert by_key(year_figures(cast.ivan, 2026, ON))["visits"].number == 0


@pytest.mark.parametrize(("number", "of"), [(90, 185), (277, 363), (0, 4), (4, 4)])
def test_share_has_the_wilson_range(number, of):
    """Counts of the Maine inspection reports of 2005 and 2006, and both ends."""
    low, high = proportion_confint(number, of, method="wilson")

    assert share_range(number, of) == pytest.approx((100 * low, 100 * high), abs=1e-6)


def test_year_page_and_file_say_the_same_with_definitions(cast, client_for):
    keep_visit(new=a_visit(cast), counts=[a_count(cast.colony)], planned=None, at=AT, by=cast.ines)
    client = client_for(cast.ines)

    page = client.get(reverse("reports:visit-year") + "?year=2026").content.decode()
    file = client.get(reverse("reports:visit-year-csv") + "?year=2026").content.decode("utf-8-sig")

    rows = list(csv.DictReader(io.StringIO(file)))
    assert {row["figure"].partition(":")[0] for row in rows} <= set(DEFINITIONS)
    assert all(row["definition"] for row in rows)
    washes = next(row for row in rows if row["figure"] == "positive:alcohol_wash")
    assert (washes["number"], washes["of"], washes["low_percent"]) == ("1", "1", "20.7")
    assert "Alcohol wash" in page or "alcohol wash" in page
    assert "Different yards in which this was suspected" in page


@pytest.mark.parametrize("year", ["", "x", "1066", "9999999"])
def test_odd_years_show_the_current_one(cast, client_for, year):
    assert client_for(cast.ines).get(reverse("reports:visit-year") + f"?year={year}").status_code == 200
