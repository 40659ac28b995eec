"""Distances between places on the Earth, and what may lie within one. Pure.

Great-circle distances by the haversine formula on a sphere with the Earth's surface area, as the h3 library has them.
The Earth is flatter than that: over the distances asked for here they are at most 0.6 % off.
"""

import math
from dataclasses import dataclass

import h3

Place = tuple[float, float]
"""Latitude and longitude in degrees."""
Vector = tuple[float, float, float]

EARTH_KM = 6371.0071809
"""Radius of the sphere with the Earth's area, as h3 takes it; a test holds the two together."""
SPARE_DEGREES = 0.00002
"""Added all round a box: places are kept to five decimals, and sums round."""


@dataclass(frozen=True, slots=True)
class Box:
    """Latitudes from `south` to `north`, and stretches of longitude: two where it lies across the 180th degree."""

    south: float
    north: float
    stretches: tuple[tuple[float, float], ...]

    def holds(self, place: Place) -> bool:
        """Whether the place lies in it, edges included."""
        latitude, longitude = place
        return self.south <= latitude <= self.north and any(
            west <= longitude <= east for west, east in self.stretches
        )


@dataclass(frozen=True, slots=True)
class Reach:
    """From the nearest to the farthest point of something that lies somewhere within; in km."""

    near: float
    far: float


def km_between(one: Place, other: Place) -> float:
    """How far it is from one place to the other, as a bee would fly that never tires."""
    return float(h3.great_circle_distance(one, other, unit="km"))


def box_around(place: Place, km: float) -> Box:
    """A box that nothing within so many km lies outside of. It holds more: the corners are farther away.

    A circle touches its easternmost meridian where the sine of the angle between them is sin(distance) / cos(latitude)
    (a right-angled spherical triangle); a circle that holds a pole meets them all.
    """
    latitude, longitude = place
    reach = km / EARTH_KM
    south = latitude - math.degrees(reach) - SPARE_DEGREES
    north = latitude + math.degrees(reach) + SPARE_DEGREES
    if south <= -90 or north >= 90:
        return Box(max(south, -90.0), min(north, 90.0), ((-180.0, 180.0),))
    wide = math.degrees(math.asin(math.sin(reach) / math.cos(math.radians(latitude)))) + SPARE_DEGREES
    west, east = longitude - wide, longitude + wide
    if west < -180 and east > 180:
        return Box(south, north, ((-180.0, 180.0),))
    if west < -180:
        return Box(south, north, ((west + 360, 180.0), (-180.0, east)))
    if east > 180:
        return Box(south, north, ((west, 180.0), (-180.0, east - 360)))
    return Box(south, north, ((west, east),))


def middle_of(cell: str) -> Place:
    """The centre of an H3 cell."""
    latitude, longitude = h3.cell_to_latlng(cell)
    return float(latitude), float(longitude)


def reach_of_cell(place: Place, cell: str) -> Reach:
    """How near and how far something is of which only its H3 cell is known; 0 from within the cell.

    For cells less than a quarter of the way round the Earth: of those the farthest point is a corner.
    """
    point = _vector(place)
    corners = [_vector(corner) for corner in h3.cell_to_boundary(cell)]
    far = max(_angle(point, corner) for corner in corners)
    if h3.latlng_to_cell(*place, h3.get_resolution(cell)) == cell:
        return Reach(0.0, far * EARTH_KM)
    edges = zip(corners, [*corners[1:], corners[0]], strict=True)
    return Reach(min(_angle_to_arc(point, *edge) for edge in edges) * EARTH_KM, far * EARTH_KM)


def _angle_to_arc(point: Vector, start: Vector, end: Vector) -> float:
    """The angle between a point and the nearest point of the shorter arc between two others."""
    normal = _cross(start, end)
    beside = _dot(_cross(normal, start), point) >= 0 and _dot(_cross(end, normal), point) >= 0
    if not beside:
        return min(_angle(point, start), _angle(point, end))
    return math.asin(min(1.0, abs(_dot(normal, point)) / math.sqrt(_dot(normal, normal))))


def _vector(place: Place) -> Vector:
    latitude, longitude = (math.radians(degrees) for degrees in place)
    flat = math.cos(latitude)
    return flat * math.cos(longitude), flat * math.sin(longitude), math.sin(latitude)


def _angle(one: Vector, other: Vector) -> float:
    across = _cross(one, other)
    return math.atan2(math.sqrt(_dot(across, across)), _dot(one, other))


def _dot(one: Vector, other: Vector) -> float:
    return sum(a * b for a, b in zip(one, other, strict=True))


def _cross(one: Vector, other: Vector) -> Vector:
    (a, b, c), (x, y, z) = one, other
    return b * z - c * y, c * x - a * z, a * y - b * x
