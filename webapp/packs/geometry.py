"""The line on the map: GeoJSON points with the chainage of each."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from geographiclib.geodesic import Geodesic
from marshmallow import ValidationError

from webapp.packs.faults import FaultList
from webapp.packs.fields import Distance
from webapp.packs.model import DistanceUnit, Point
from webapp.packs.sources import read_json

_CURE = 'make it {"type": "Feature", "geometry": a LineString, "properties": {"at": […]}}'


def read_points(folder: Path, file: str, unit: DistanceUnit, faults: FaultList) -> list[Point]:
    """Return the vertices of the one LineString with their chainage. [m]"""
    data = read_json(folder, file, faults)
    if data is None:
        return []
    try:
        feature = data["features"][0] if data["type"] == "FeatureCollection" else data
        coordinates, at = feature["geometry"]["coordinates"], feature["properties"]["at"]
        line = feature["geometry"]["type"] == "LineString"
    except (KeyError, IndexError, TypeError):
        line, coordinates, at = False, [], []
    if not line or len(coordinates) != len(at) or len(at) < 2:
        problem = "there is no LineString with one 'at' for each of its points"
        faults.add(file, 0, "at", problem, _CURE)
        return []
    pairs = enumerate(zip(coordinates, at, strict=True), 1)
    points = [_point(file, n, place, text, unit, faults) for n, (place, text) in pairs]
    return [point for point in points if point is not None]


def _point(
    file: str, number: int, place: Any, text: Any, unit: DistanceUnit, faults: FaultList
) -> Point | None:
    try:
        metres = Distance(unit).deserialize(text)
    except ValidationError as error:
        problem, cure = str(error.messages[0]).split(" | ")
        faults.add(file, number, "at", problem, cure)
        return None
    try:
        lon, lat = float(place[0]), float(place[1])
    except (TypeError, ValueError, IndexError):
        faults.add(file, number, "lon", f"{place} is not a position", "write [lon, lat]")
        return None
    if not (-180 <= lon <= 180 and -90 <= lat <= 90):
        faults.add(
            *(file, number, "lat", f"{place} is not on the earth"),
            "write longitude first, then latitude, in degrees",
        )
        return None
    return Point(lon, lat, metres, number)


def length_between(one: Point, other: Point) -> float:
    """Return the geodesic length between two points on WGS 84. [m]"""
    return _length(one.lat, one.lon, other.lat, other.lon)


def length_if_swapped(one: Point, other: Point) -> float | None:
    """Return the length if longitude and latitude had been written the wrong way. [m]"""
    if abs(one.lon) > 90 or abs(other.lon) > 90:
        return None
    return _length(one.lon, one.lat, other.lon, other.lat)


def _length(lat1: float, lon1: float, lat2: float, lon2: float) -> float:
    inverse = Geodesic.WGS84.Inverse(lat1, lon1, lat2, lon2, Geodesic.DISTANCE)
    return float(inverse["s12"])
