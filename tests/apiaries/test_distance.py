"""Distances against published figures; and nothing within a distance lies outside its box or its cell's reach."""

import math

import h3
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from apiaries.distance import EARTH_KM, box_around, km_between, middle_of, reach_of_cell
from apiaries.models.places import COARSE_RESOLUTION, coarse_cell

LATITUDES = st.one_of(st.floats(-90, 90), st.floats(85, 90), st.sampled_from([-90.0, 90.0, -89.9, 89.9, 0.0]))
LONGITUDES = st.one_of(st.floats(-180, 180), st.sampled_from([-180.0, 180.0, -179.99, 179.99, 0.0]))
PLACES = st.tuples(LATITUDES, LONGITUDES)
FAR = st.floats(0.001, 200)


def _degrees(degrees: int, minutes: int, seconds: float) -> float:
    return degrees + minutes / 60 + seconds / 3600


@pytest.mark.parametrize(
    ("one", "other", "km", "radius"),
    [
        # Package index page of the Python package "haversine", 1.0.0: Lyon to Paris; its radius is 6371 km.
        ((45.7597, 4.8422), (48.8567, 2.3508), 392.21671780659625, 6371.0),
        # Fortran-lang's manual page of the intrinsic `sin`: distance 2886.4446 km, its radius is 6371 km.
        ((36.12, -86.67), (33.94, -118.40), 2886.4446, 6371.0),
        # Documentation of the Rust crate "geo", HaversineLength: New York to London, 5 570 230 m at 6371.0088 km.
        ((40.7128, -74.006), (51.5074, -0.1278), 5570.230, 6371.0088),
    ],
)
def test_published_great_circles(
    one: tuple[float, float], other: tuple[float, float], km: float, radius: float
) -> None:
    assert km_between(one, other) * radius / EARTH_KM == pytest.approx(km, rel=2e-7)


def test_flattened_earth_is_off_by_less_than_half_a_percent() -> None:
    # Geoscience Australia, "Vincenty's Formulae, Inverse Method" (GRS80): Flinders Peak to Buninyong, 54 972.271 m.
    flinders = -_degrees(37, 57, 3.72030), _degrees(144, 25, 29.52440)
    buninyong = -_degrees(37, 39, 10.15610), _degrees(143, 55, 35.38390)

    assert km_between(flinders, buninyong) == pytest.approx(54.972271, rel=0.005)


def test_sphere_is_the_library_s() -> None:
    assert km_between((0, 0), (0, 180)) == pytest.approx(math.pi * EARTH_KM, rel=1e-10)


@pytest.mark.parametrize(
    ("one", "other", "km"),
    [
        ((50.0, 8.0), (50.0, 8.0), 0.0),
        ((0.0, 179.9), (0.0, -179.9), 0.2 * math.pi / 180 * EARTH_KM),
        ((89.9, 0.0), (89.9, 180.0), 0.2 * math.pi / 180 * EARTH_KM),
        ((90.0, 12.0), (90.0, -77.0), 0.0),
    ],
)
def test_over_the_date_line_and_the_pole(
    one: tuple[float, float], other: tuple[float, float], km: float
) -> None:
    assert km_between(one, other) == pytest.approx(km, abs=1e-6)


def _away(place: tuple[float, float], bearing: float, km: float) -> tuple[float, float]:
    """The place so far away in a direction (the usual formula of navigation)."""
    latitude, longitude = (math.radians(one) for one in place)
    reach = km / EARTH_KM
    up = math.sin(latitude) * math.cos(reach) + math.cos(latitude) * math.sin(reach) * math.cos(bearing)
    there = math.asin(max(-1.0, min(1.0, up)))
    turn = math.atan2(
        math.sin(bearing) * math.sin(reach) * math.cos(latitude),
        math.cos(reach) - math.sin(latitude) * math.sin(there),
    )
    east = math.degrees(longitude + turn)
    return math.degrees(there), (east + 180) % 360 - 180


@settings(max_examples=300)
@given(PLACES, st.floats(0, 2 * math.pi), FAR, st.floats(0, 1))
def test_nothing_within_lies_outside_the_box(
    place: tuple[float, float], bearing: float, km: float, part: float
) -> None:
    """Places well within and right at the edge of the circle, drawn towards every side."""
    for there in (_away(place, bearing, km * part), _away(place, bearing, km)):
        rounded = round(there[0], 5), round(there[1], 5)
        if km_between(place, rounded) <= km:
            assert box_around(place, km).holds(rounded)


@settings(max_examples=300)
@given(PLACES, PLACES, FAR)
def test_outside_the_box_is_farther(
    place: tuple[float, float], other: tuple[float, float], km: float
) -> None:
    if not box_around(place, km).holds(other):
        assert km_between(place, other) > km


def test_box_touches_its_circle() -> None:
    """It is not merely large: a little less would leave something out."""
    box = box_around((60.0, 10.0), 50)
    for edge in ((box.south, 10.0), (box.north, 10.0)):
        assert km_between((60.0, 10.0), edge) == pytest.approx(50, abs=0.01)
    ((west, east),) = box.stretches
    along = [km_between((60.0, 10.0), (60 + step / 1000, east)) for step in range(-200, 201)]
    assert min(along) == pytest.approx(50, abs=0.01)
    assert 10.0 - west == pytest.approx(east - 10.0)


@pytest.mark.parametrize(("latitude", "km"), [(0.0, 50), (52.5, 50), (-70.0, 50), (88.5, 150), (-89.5, 50)])
def test_box_just_holds_the_easternmost_place(latitude: float, km: float) -> None:
    """The circle meets its easternmost meridian at the latitude whose sine is sin(latitude) / cos(distance)."""
    reach = km / EARTH_KM
    touched = math.degrees(math.asin(math.sin(math.radians(latitude)) / math.cos(reach)))
    ((_, east),) = box_around((latitude, 0.0), km).stretches

    assert km_between((latitude, 0.0), (touched, east)) == pytest.approx(km, abs=0.01)
    assert all(km_between((latitude, 0.0), (touched, east + more / 10)) > km for more in range(10))


def test_box_at_a_pole_and_across_the_date_line() -> None:
    assert box_around((89.9, 20.0), 50).stretches == ((-180.0, 180.0),)
    assert len(box_around((10.0, 179.9), 50).stretches) == 2
    assert box_around((10.0, 179.9), 50).holds((10.0, -179.9))
    assert not box_around((10.0, 179.9), 50).holds((10.0, 0.0))


@settings(max_examples=300)
@given(PLACES, PLACES)
def test_places_of_a_cell_lie_within_its_reach(
    place: tuple[float, float], other: tuple[float, float]
) -> None:
    """Of cells within a quarter of the way round; beyond that a cell's farthest point need not be a corner."""
    assume(km_between(place, other) < 9_900)
    reach = reach_of_cell(place, coarse_cell(*other))

    assert reach.near - 1e-6 <= km_between(place, other) <= reach.far + 1e-6


@settings(max_examples=200)
@given(st.floats(-85, 85), st.floats(-179, 179), st.floats(-0.4, 0.4), st.floats(-0.4, 0.4))
def test_reach_of_a_near_cell_is_reached(latitude: float, longitude: float, up: float, right: float) -> None:
    """Its ends are distances to points of the cell's edge, found here by walking along it."""
    place, cell = (latitude, longitude), coarse_cell(latitude + up, longitude + right)
    reach = reach_of_cell(place, cell)
    corners = h3.cell_to_boundary(cell)
    # Within a cell of this size degrees bend so little that a straight walk in them strays by some metres.
    unwrapped = [(one[0], longitude + (one[1] - longitude + 180) % 360 - 180) for one in corners]
    walk = [
        (start[0] + (end[0] - start[0]) * step / 50, start[1] + (end[1] - start[1]) * step / 50)
        for start, end in zip(unwrapped, [*unwrapped[1:], unwrapped[0]], strict=True)
        for step in range(50)
    ]
    away = [km_between(place, point) for point in walk]

    assert reach.far == pytest.approx(max(away), abs=0.2)
    if coarse_cell(*place) == cell:
        assert reach.near == 0
    else:
        assert reach.near == pytest.approx(min(away), abs=0.3)


def test_middle_of_a_cell_lies_in_it() -> None:
    cell = coarse_cell(43.6, -77.9)

    assert h3.latlng_to_cell(*middle_of(cell), COARSE_RESOLUTION) == cell
    assert reach_of_cell(middle_of(cell), cell).near == 0
