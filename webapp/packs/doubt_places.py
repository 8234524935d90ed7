"""Doubts about platforms, stop marks, what must not be passed, and listed places."""

from __future__ import annotations

from datetime import date

from webapp.lines.posts import place_along
from webapp.packs.doubt_list import DoubtList
from webapp.packs.model import Listed, Mark, NotPast, Route, Stop
from webapp.packs.register import FIRST

#: A driver stops within a few metres; a mark nearer to the platform's end is odd. [m]
NEAR_END = 5.0
#: What must not be passed first stands further from a mark than this only by a slip. [m]
FAR_LIMIT = 150.0
#: The platform's end of one list and of the other. [m]
END_AGREES = 2.0
#: Lengths of platforms that need no second look. [m]
PLATFORMS = (25.0, 450.0)
#: A station's own place may lie this far outside its platforms. [m]
STATION_OFF = 50.0
#: A season is shorter than this, or its days are the wrong way round. [days]
LONG_SEASON, SHORT_SEASON = 245, 7
#: A listed place that is longer or shorter than this is looked at. [m]
LISTED = (20.0, 6000.0)

_MARKS = "the stop mark on the platform, and at the platform's length"


def doubt_places(route: Route, found: DoubtList) -> None:
    for stop in route.stops:
        _doubt_platform(route, stop, found)
        _doubt_limits(route, stop, found)
        _doubt_limit_change(route, stop, found)
        _doubt_marks(route, stop, found)
    for listed in route.listed:
        _doubt_listed(listed, found)


def _leaving(route: Route, stop: Stop) -> tuple[int, float]:
    sign = route.direction(stop.direction).sign
    return sign, stop.end if sign > 0 else stop.start


def _place(stop: Stop) -> str:
    return f"{stop.station} {stop.direction}"


def _marks(route: Route, stop: Stop) -> list[Mark]:
    here = (stop.station, stop.direction)
    return sorted(
        (m for m in route.marks if (m.station, m.direction) == here), key=lambda m: m.cars
    )


def _here(route: Route, stop: Stop) -> list[NotPast]:
    here = (stop.station, stop.direction)
    return [n for n in route.not_past if (n.station, n.direction) == here]


def _doubt_platform(route: Route, stop: Stop, found: DoubtList) -> None:
    where = ("stops.csv", stop.row)
    length = stop.end - stop.start
    if not PLATFORMS[0] <= length <= PLATFORMS[1]:
        message = f"the platform is {length:.0f} m long"
        found.add("platform", *where, "to", message, "its length", _place(stop), stop)
    station = route.station(stop.station)
    off = max(stop.start - station.at, station.at - stop.end)
    if off > STATION_OFF:
        message = f"the platform lies {off:.0f} m from its station in stations.csv"
        found.add("platform", *where, "from", message, "both", _place(stop), stop, station)


def _doubt_limits(route: Route, stop: Stop, found: DoubtList) -> None:
    """Ask about a stop whose platform end is in one list and not, or elsewhere, in another."""
    sign, end = _leaving(route, stop)
    here, look = _here(route, stop), "the platform's end in both files"
    ends = [n for n in here if n.what in ("platform end", "buffer stop")]
    if not ends:
        message = f"{stop.station} ({stop.direction}) has no platform end in not_past.csv"
        found.add(
            "limit", "stops.csv", stop.row, "to", message, look, _place(stop), stop, here
        )
    for limit in ends:
        off = sign * (limit.at - end)
        if limit.what == "platform end" and abs(off) > END_AGREES:
            at = place_along(end, route.head.distance_unit)
            message = f"the platform end is {abs(off):.0f} m from that in stops.csv, {at}"
            found.add(
                *("limit", "not_past.csv", limit.row, "at", message, look, _place(stop)),
                *(limit, stop),
            )
    marks = [sign * mark.at for mark in _marks(route, stop)]
    nearest = min(sign * n.at for n in here)
    if marks and nearest - max(marks) > FAR_LIMIT:
        message = f"nothing stands within {FAR_LIMIT:g} m past the marks of {stop.station}"
        found.add(
            *("limit", "stops.csv", stop.row, "station", message),
            *("signals, crossings and points past the platform", f"{_place(stop)} far"),
            *(stop, here),
        )


def _doubt_limit_change(route: Route, stop: Stop, found: DoubtList) -> None:
    for speed in route.speeds:
        if speed.direction == stop.direction and stop.start < speed.start < stop.end:
            at = place_along(speed.start, route.head.distance_unit)
            found.add(
                *("board", "speeds.csv", speed.row, "from"),
                f"the speed changes at {at}, inside a platform of {stop.station}",
                *("the board's place on the line", _place(stop), speed, stop),
            )


def _doubt_marks(route: Route, stop: Stop, found: DoubtList) -> None:
    sign, end = _leaving(route, stop)
    shorter: Mark | None = None
    for mark in _marks(route, stop):
        where, place = ("marks.csv", mark.row, "at"), f"{_place(stop)} {mark.cars}"
        room = sign * (end - mark.at)
        if room < NEAR_END - 1e-6:
            message = f"the mark for {mark.cars} cars is {room:.1f} m from the platform's end"
            found.add("mark", *where, message, _MARKS, place, mark, stop)
        if shorter and sign * (mark.at - shorter.at) < -1e-6:
            message = (
                f"the mark for {mark.cars} cars comes before the one for {shorter.cars}"
                " cars: are they swapped"
            )
            found.add("mark", *where, message, _MARKS, f"{place} order", mark, shorter)
        shorter = mark


def _doubt_listed(listed: Listed, found: DoubtList) -> None:
    from_register = listed.row >= FIRST
    file = f"register of places, '{listed.name}'" if from_register else "listed.csv"
    row = 0 if from_register else listed.row
    length = listed.end - listed.start
    if not LISTED[0] <= length <= LISTED[1]:
        message = f"the listed place '{listed.key}' is {length:.0f} m long"
        found.add("listed", file, row, "to", message, "its ends", listed.key, listed)
    if listed.season_from:
        days = _days(listed.season_from, listed.season_to)
        if not SHORT_SEASON <= days <= LONG_SEASON:
            message = (
                f"the season of '{listed.key}', {listed.season_from} to {listed.season_to},"
                f" is {days} days"
            )
            look = "both days, MM-DD: are month and day, or the two days, swapped"
            found.add("season", file, row, "season_from", message, look, listed.key, listed)


def _days(first: str, last: str) -> int:
    start, end = (date.fromisoformat(f"2000-{text}") for text in (first, last))
    return (end - start).days % 366 + 1
