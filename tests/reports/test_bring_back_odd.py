"""What a file, or a row made by hand, may hold to do harm: other keepers notice nothing of it."""

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from apiaries.bringing_back import MOST_PEOPLE, CannotBringBack, FileRow, People, keep_all, refuse_circles
from apiaries.models import Person, Region
from counts.change_actions import in_its_place
from counts.models import MiteSample
from counts.presenters import history_of
from reports.models import Notice
from reports.planner import plan_notices
from tests.cast import Cast
from tests.reports.counting import count
from tests.reports.treating import at, treated
from treatments.models import Recount
from treatments.status import days_after

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("reference")]


def test_absurd_day_of_one_keeper_keeps_no_notice_from_another(cast: Cast) -> None:
    absurd = treated(cast.colonies[:2])
    other = treated(list(cast.charlie_yard.colonies.all()))
    Recount.objects.filter(pk=absurd.pk).update(latest_on=dt.date.max)

    assert plan_notices(at=at("08-20", 5)) == 2
    assert Notice.objects.get(person=cast.charlie).subject == f"recount:{other.pk}"
    assert plan_notices(at=at("08-21", 5)) == 0


def test_circle_of_corrections_hangs_no_page(cast: Cast) -> None:
    one, other = count(cast.colony, dt.date(2026, 8, 20), 3), count(cast.colony, dt.date(2026, 8, 21), 4)
    MiteSample.objects.filter(pk=one.pk).update(corrects=other)
    MiteSample.objects.filter(pk=other.pk).update(corrects=one)
    one.refresh_from_db()

    assert history_of(one, cast.alice) == [other]
    assert in_its_place(one) in (one, other)


def test_chain_of_corrections_in_any_order_is_no_circle() -> None:
    rows = {key: FileRow("counts", key, {"corrects": before}) for key, before in ((1, 3), (2, None), (3, 2))}
    refuse_circles(rows)
    with pytest.raises(CannotBringBack):
        refuse_circles(rows | {2: FileRow("counts", 2, {"corrects": 1})})


def test_row_that_cannot_be_is_found_by_halving(cast: Cast) -> None:
    rows = [FileRow("regions", n, {"name": f"Region {n}"}) for n in range(1, 401)]
    rows[276] = FileRow("regions", 277, {"name": "region 12"})
    rows[350] = FileRow("regions", 351, {"name": "region 13"})
    with CaptureQueriesContext(connection) as told, pytest.raises(CannotBringBack) as refused:
        keep_all(rows, lambda row: Region(club=cast.club, name=row["name"]))
    assert refused.value.row is rows[276]
    assert sum("INSERT INTO" in one["sql"] for one in told) < 20
    assert not Region.objects.filter(name="Region 1").exists()


def test_people_of_a_file_are_asked_for_and_made_at_once(cast: Cast) -> None:
    def named(*names: str) -> list[FileRow]:
        return [FileRow("counts", n, {"recorded_by": name}) for n, name in enumerate(names, 1)]

    people = People(cast.alice, "Alice")
    people.meet(named("Known", "Alice", "", "x" * 150), ["recorded_by"])
    known = people.named("Known")
    again = People(cast.alice, "Alice")
    with CaptureQueriesContext(connection) as told:
        again.meet(named("Known", *(f"Person {n}" for n in range(MOST_PEOPLE - 1))), ["recorded_by"])
        assert again.named("Known") == known
        assert again.named("Person 7").known_to == cast.alice
    assert len(told) < 10
    assert Person.objects.filter(known_to=cast.alice).count() == MOST_PEOPLE + 1

    with pytest.raises(CannotBringBack, match="more than 500 people") as refused:
        again.meet(named("Known", "One too many"), ["recorded_by"])
    assert (refused.value.row.number, refused.value.column) == (2, "recorded_by")


def test_days_stop_where_the_calendar_does() -> None:
    assert days_after(dt.date(2026, 2, 27), 2) == dt.date(2026, 3, 1)
    assert days_after(dt.date(2026, 3, 1), -2) == dt.date(2026, 2, 27)
    assert days_after(dt.date.max, 1) == dt.date.max
    assert days_after(dt.date.min, -1) == dt.date.min
