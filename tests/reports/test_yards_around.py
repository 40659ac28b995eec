"""Yards around a place: which lie within, in what order, what is told of them, and to whom."""

import datetime as dt
import re
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from apiaries.actions import add_numbered_colonies, add_yard, change_role, edit_yard
from apiaries.distance import box_around, km_between, reach_of_cell
from apiaries.models import Person, Yard
from apiaries.models.places import coarse_cell
from apiaries.permissions import Role
from counts.models import MiteSample
from counts.samples import Method
from counts.standing import Published
from counts.yards import yard_says, yards_say
from reports.yards_around import KNOWN, MOST_YARDS, NEAREST, Around, _inside, yards_around
from tests.cast import STARTED, Cast
from tests.reports.counting import count
from tests.reports.treating import treated

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("reference")]
HERE = (52.5, 13.4)
ON = dt.date(2026, 8, 22)
URL = "/around/"
KM_NORTH = 1 / 111.195
"""Degrees of latitude that are one km on the sphere used here."""


@pytest.fixture(autouse=True)
def late_august() -> Any:
    with time_machine.travel(dt.datetime(2026, 8, 22, 9, tzinfo=dt.UTC), tick=False):
        yield


@pytest.fixture
def ines(client_for: Callable[[Person | None], Client], cast: Cast) -> Client:
    return client_for(cast.ines)


def _yard(cast: Cast, name: str, km: float = 0.0, *, east: float = 0.0, keeper: Person | None = None) -> Yard:
    """A yard of six colonies in the north, so many km north of here."""
    keeper = keeper or cast.alice
    region = cast.south if keeper == cast.charlie else cast.north
    yard = add_yard(
        keeper=keeper,
        region=region,
        name=name,
        latitude=Decimal(f"{HERE[0] + km * KM_NORTH:.5f}"),
        longitude=Decimal(f"{HERE[1] + east:.5f}"),
        by=keeper,
    )
    add_numbered_colonies(yard=yard, first=1, last=6, started_on=STARTED, by=keeper)
    return yard


def _counted(yard: Yard, mites: int, on: dt.date) -> None:
    for colony in yard.colonies.all():
        count(colony, on, mites)


def _area_only(yard: Yard, place: tuple[float, float]) -> None:
    latitude, longitude = (Decimal(f"{degrees:.5f}") for degrees in place)
    edit_yard(
        yard=yard,
        name=yard.name,
        region=yard.region,
        latitude=latitude,
        longitude=longitude,
        area_only=True,
        by=yard.keeper,
    )


def _around(cast: Cast, km: float = 5, order: str = KNOWN, person: Person | None = None) -> Around:
    return yards_around(person or cast.ines, HERE, km, order=order, on=ON)


def _names(found: Around) -> list[str]:
    return [row.yard.name for row in found.rows]


def test_what_lies_within_with_its_distance(cast: Cast) -> None:
    for km in (0, 1.2, 4.99, 5.01, 12):
        _yard(cast, f"At {km}", km)

    found = _around(cast, 5, NEAREST)

    assert _names(found) == ["At 0", "At 1.2", "At 4.99"]
    assert [row.found.words for row in found.rows] == ["less than 0.1 km", "1.2 km", "5.0 km"]
    assert found.total == 3
    assert found.placeless == 1  # Alice's Home yard gave no place
    assert [row.living for row in found.rows] == [6, 6, 6]


def test_above_first_then_not_counted_for_longest(cast: Cast) -> None:
    counted = {
        "Low lately": (1, ON),
        "Low in May": (1, dt.date(2026, 5, 3)),
        "High": (15, dt.date(2026, 8, 1)),
    }
    for number, (name, (mites, day)) in enumerate(counted.items()):
        _counted(_yard(cast, name, number), mites, day)
    _counted(_yard(cast, "Higher", 4), 30, dt.date(2026, 8, 2))
    _yard(cast, "Never", 4.5)

    found = _around(cast)

    assert _names(found) == ["Higher", "High", "Never", "Low in May", "Low lately"]
    assert [row.key for row in found.rows] == ["above", "above", "none", "below", "below"]
    assert [row.days_since for row in found.rows] == [20, 21, None, 111, 0]
    assert (found.above, found.uncounted) == (2, 1)
    assert _names(_around(cast, order=NEAREST)) == ["Low lately", "Low in May", "High", "Higher", "Never"]


def test_one_colony_does_not_speak_for_its_yard(cast: Cast) -> None:
    yard = _yard(cast, "One of six")
    count(yard.colonies.get(name="1"), ON, 40)

    (row,) = _around(cast).rows

    assert (row.key, row.note) == ("not_enough", "too few colonies")


def test_board_alone_is_told_as_a_board(cast: Cast) -> None:
    count(_yard(cast, "Board").colonies.get(name="1"), ON, 12, Method.BOARD)

    (row,) = _around(cast).rows

    assert row.says is None and row.newest is not None
    assert (row.key, row.newest.unit, row.newest.raw) == ("below", "per day", "12 in 3 days")


def test_newest_counts_of_many_are_those_of_each(cast: Cast) -> None:
    """The sums for a list are the sums of a yard's own page."""
    yards = [_yard(cast, f"Yard {number}", number / 10) for number in range(4)]
    for number, yard in enumerate(yards[:3]):
        _counted(yard, 20, dt.date(2026, 6, 1))
        _counted(yard, number * 3, dt.date(2026, 8, 10 + number))
        count(yard.colonies.get(name="2"), dt.date(2026, 8, 9 + number), 5)
        count(yard.colonies.get(name="3"), dt.date(2026, 8, 9 + number), 5, Method.SUGAR_ROLL)
    visible, published = MiteSample.objects.standing(), Published()

    together = yards_say(yards, visible, published, living={yard.pk: 6 for yard in yards})

    assert set(together) == {yard.pk for yard in yards[:3]}
    for yard in yards[:3]:
        alone = yard_says(yard, visible, published, living=6)
        assert alone is not None
        mine = together[yard.pk]
        assert (mine.estimate, mine.first, mine.last, mine.key, mine.sentence, mine.raw) == (
            alone.estimate,
            alone.first,
            alone.last,
            alone.key,
            alone.sentence,
            alone.raw,
        )


def test_open_treatments_and_recounts_are_told(ines: Client, cast: Cast) -> None:
    due, strips, over = (_yard(cast, name, km) for name, km in (("Due", 0), ("Strips", 1), ("Over", 2)))
    treated(list(due.colonies.all()))
    treated(list(strips.colonies.all()), way="formic_gel_strip_us")
    treated(list(over.colonies.all()), on=dt.date(2025, 8, 6))

    page = ines.get(URL, {"place": "52.5, 13.4", "km": "5"})

    said = {
        row.yard.name: [(one.recount, one.in_hive) for one in row.treatments] for row in page.context["rows"]
    }
    assert said == {"Due": [("due", False)], "Strips": [("", True)], "Over": []}


def test_mere_area_is_listed_with_its_nearest_and_farthest(cast: Cast) -> None:
    """In our own cell: from 0; in another: from the edge that is nearest. By distance last, by what is known not."""
    near, far, never = (_yard(cast, name) for name in ("Near area", "Far area", "Too far"))
    _yard(cast, "Known")
    other = (HERE[0] + 0.2, HERE[1])
    _area_only(near, HERE)
    _area_only(far, other)
    _area_only(never, (HERE[0] + 3, HERE[1]))
    _counted(near, 30, ON)

    reach = reach_of_cell(HERE, coarse_cell(*other))
    found = _around(cast, reach.near + 0.5, NEAREST)

    assert _names(found) == ["Known", "Near area", "Far area"]
    assert found.rows[1].key == "above"
    assert found.rows[1].found.words.startswith("up to ")
    assert found.rows[2].found.words == f"{int(reach.near)} to {int(reach.far) + 1} km"
    assert _names(_around(cast, reach.near - 0.1)) == ["Near area", "Known"]


def test_circle_over_the_date_line_and_at_the_pole(cast: Cast) -> None:
    for name, latitude, longitude in (
        ("West", "10", "179.99"),
        ("East", "10", "-179.99"),
        ("Pole", "89.99999", "-100"),
    ):
        place = {"latitude": Decimal(latitude), "longitude": Decimal(longitude)}
        add_yard(keeper=cast.alice, region=cast.north, name=name, by=cast.alice, **place)

    def names(*place: float) -> set[str]:
        found = yards_around(cast.ines, (place[0], place[1]), 3, order=NEAREST, on=ON)
        return {row.yard.name for row in found.rows}

    assert names(10, 180) == names(10, -180) == {"West", "East"}
    assert names(89.99, 80) == names(-90, 0) | {"Pole"} == {"Pole"}


@pytest.mark.owner
def test_condition_asks_the_index(cast: Cast) -> None:
    # As many yards as make the index worth while, and the server told of them.
    here = _yard(cast, "Here")
    Yard.objects.bulk_create(
        Yard(
            club=here.club,
            keeper=here.keeper,
            region=here.region,
            name=f"Yard {number}",
            time_zone=here.time_zone,
            latitude=Decimal(number % 170 - 85),
            longitude=Decimal(number % 350 - 175),
        )
        for number in range(3000)
    )
    yards = Yard.objects.inspected_by(cast.ines).filter(_inside(box_around(HERE, 5)), closed_on=None)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE apiaries_yard")
    plan = yards.order_by().explain()

    assert (
        "latitude >=" in plan.split("apiaries_yard_place", 1)[1].split("Index Cond", 1)[1].splitlines()[0]
    ), plan


def test_of_too_many_the_nearest(cast: Cast, monkeypatch: pytest.MonkeyPatch, ines: Client) -> None:
    monkeypatch.setattr("reports.yards_around.MOST_YARDS", 3)
    for number in range(5):
        _yard(cast, f"Yard {number}", number / 2)

    page = ines.get(URL, {"place": "52.5 13.4", "km": "5"})

    assert {row.yard.name for row in page.context["rows"]} == {"Yard 0", "Yard 1", "Yard 2"}
    assert page.context["found"].total == 5
    assert MOST_YARDS == 200


def test_queries_do_not_grow(ines: Client, cast: Cast) -> None:
    def asked() -> int:
        with CaptureQueriesContext(connection) as queries:
            assert ines.get(URL, {"place": "52.5, 13.4", "km": "10"}).status_code == 200
        return len(queries)

    for number in range(2):
        yard = _yard(cast, f"Yard {number}", number / 10)
        _counted(yard, number, ON)
        treated(list(yard.colonies.all()))
    _area_only(_yard(cast, "Area 0"), HERE)
    asked()  # the club's spread is worked out and kept
    before = asked()
    for number in range(2, 9):
        yard = _yard(cast, f"Yard {number}", number / 10)
        _counted(yard, number, ON)
        treated(list(yard.colonies.all()), way="formic_gel_strip_us")
        _area_only(_yard(cast, f"Area {number}"), (HERE[0] + number / 100, HERE[1]))

    assert asked() == before <= 30


@pytest.mark.parametrize("name", ["alice", "bob", "charlie", "dana", "ivan", "adam", "zoe"])
def test_nobody_else_gets_a_yard(cast: Cast, client_for: Callable[..., Client], name: str) -> None:
    """Not even its keeper by this way; an inspector of another region gets an empty circle, and no yard's page."""
    yard = _yard(cast, "Here")
    person = getattr(cast, name)

    assert _around(cast, person=person).rows == []
    answer = client_for(person).get(URL, {"place": "52.5, 13.4", "km": "5"})
    assert answer.status_code == (200 if name == "ivan" else 404)
    assert b"Here" not in answer.content
    assert client_for(person).get(reverse("reports:yards-around-yard", args=[yard.pk])).status_code == 404


def test_yards_of_other_regions_change_nothing_on_the_page(ines: Client, cast: Cast) -> None:
    """Byte for byte: who asks again and again with other circles learns nothing of what is not theirs."""
    _yard(cast, "Here")

    def page(**asked: str) -> str:
        text = ines.get(URL, {"place": "52.5, 13.4", "km": "5"} | asked).content.decode()
        return re.sub(r'(name="csrfmiddlewaretoken" value=)"\w+"', r"\1", text)

    before, unknown = page(), page(place="Hidden")
    hidden = _yard(cast, "Hidden", 1, keeper=cast.charlie)
    _counted(hidden, 30, ON)

    assert page() == before
    assert page(place="Hidden") == unknown
    assert "may reach beyond your regions: 1 other region of the club is not assigned to you" in before


def test_nothing_is_said_of_other_regions_to_who_has_all(ines: Client, cast: Cast) -> None:
    change_role(
        membership=cast.ines.membership,
        role=Role.INSPECTOR,
        regions=[cast.north, cast.south],
        by=cast.adam,
    )
    _yard(cast, "Theirs", 1, keeper=cast.charlie)

    page = ines.get(URL, {"place": "52.5, 13.4", "km": "5"})

    assert [row.yard.name for row in page.context["rows"]] == ["Theirs"]
    assert "beyond your regions" not in page.content.decode()


def test_without_a_region_the_page_says_so(ines: Client, cast: Cast) -> None:
    cast.ines.membership.regions.clear()

    for asked in ({}, {"place": "52.5, 13.4", "km": "5"}):
        assert "No region is assigned to you yet" in ines.get(URL, asked).content.decode()


@pytest.mark.parametrize(
    ("asked", "field", "words"),
    [
        ({"place": "abc", "km": "3"}, "place", "No yard in your regions fits “abc”"),
        ({"place": "91, 13", "km": "3"}, "place", "between -90 and 90"),
        ({"place": "52, 181", "km": "3"}, "place", "between -180 and 180"),
        ({"place": "47,5", "km": "3"}, "place", "latitude and longitude in degrees"),
        ({"place": "47.5", "km": "3"}, "place", "latitude and longitude in degrees"),
        ({"place": "-52 S, 13", "km": "3"}, "place", "not both"),
        ({"place": "", "km": "3"}, "place", "Enter a place"),
        ({"place": "a\0b", "km": "3"}, "place", "Null characters"),
        ({"place": "x" * 200, "km": "3"}, "place", "at most 120"),
        ({"place": "Home yard", "km": "3"}, "place", "has no place: its keeper gave none"),
        ({"place": "52.5, 13.4", "km": "-3"}, "km", "cannot be negative"),
        ({"place": "52.5, 13.4", "km": "0"}, "km", "more than 0 km"),
        ({"place": "52.5, 13.4", "km": "far"}, "km", "number of kilometres"),
        ({"place": "52.5, 13.4", "km": "40000"}, "km", "at most 50 km"),
        ({"place": "52.5, 13.4", "km": "9" * 400}, "km", "number of kilometres"),
        ({"place": "52.5, 13.4", "km": "nan"}, "km", "number of kilometres"),
        ({"place": "52.5, 13.4", "km": "1e9"}, "km", "number of kilometres"),
        ({"place": "52.5, 13.4", "km": ""}, "km", "Enter a distance"),
        ({"place": "52.5, 13.4", "km": "3", "order": "x"}, "order", "Choose an order"),
    ],
)
def test_bad_input_is_told_beside_its_box_and_kept(
    ines: Client, asked: dict[str, str], field: str, words: str
) -> None:
    page = ines.get(URL, asked)

    assert page.status_code == 200
    form = page.context["form"]
    assert list(form.errors) == [field]
    assert words in str(form.errors[field])
    assert form["place"].value() == asked["place"] and form["km"].value() == asked["km"]
    assert "found" not in page.context


@pytest.mark.parametrize(
    ("place", "km"),
    [("52.5, 13.4", "5"), ("52,5 13,4", "5 km"), ("52.5° N, 13.4° E", "5,0"), ("52.5;13.4", "5000 m")],
)
def test_forgiving_input(ines: Client, cast: Cast, place: str, km: str) -> None:
    _yard(cast, "Here", 4.9)

    page = ines.get(URL, {"place": place, "km": km})

    assert page.context["centre"] == HERE and page.context["km"] == pytest.approx(5)
    assert [row.yard.name for row in page.context["rows"]] == ["Here"]


def test_yard_by_its_name(ines: Client, cast: Cast) -> None:
    _yard(cast, "Old orchard")
    _yard(cast, "Old mill", 1)

    assert ines.get(URL, {"place": "OLD ORCHARD", "km": "2"}).context["centre"] == HERE
    several = ines.get(URL, {"place": "old", "km": "2"})
    assert [yard.name for yard in several.context["form"].named] == ["Old mill", "Old orchard"]
    assert "Choose one below" in several.content.decode()
    assert ines.get(URL, {"place": "alice orchard", "km": "2"}).context["centre"] == HERE


def test_around_a_yard_of_which_the_area_is_known(ines: Client, cast: Cast) -> None:
    yard = _yard(cast, "Area")
    _yard(cast, "Known", 2)
    _area_only(yard, HERE)

    page = ines.get(reverse("reports:yards-around-yard", args=[yard.pk]), {"km": "20"})

    assert {row.yard.name for row in page.context["rows"]} == {"Area", "Known"}
    assert km_between(page.context["centre"], HERE) < 12
    assert "Only the area of Area is known" in page.content.decode()
    assert "13.4" not in page.content.decode()


def test_yard_without_a_place_has_nothing_around_it(ines: Client, cast: Cast) -> None:
    page = ines.get(reverse("reports:yards-around-yard", args=[cast.alice_yard.pk]))

    assert "This yard has no place" in page.content.decode()


def test_way_from_the_yards_own_page(ines: Client, cast: Cast, client_for: Callable[..., Client]) -> None:
    yard = _yard(cast, "Here")
    detail = reverse("apiaries:yard-detail", args=[yard.pk])
    way = reverse("reports:yards-around-yard", args=[yard.pk])

    assert way in ines.get(detail).content.decode()
    assert way not in client_for(cast.alice).get(detail).content.decode()
    assert way not in ines.get(reverse("apiaries:yard-detail", args=[cast.alice_yard.pk])).content.decode()
