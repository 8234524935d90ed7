"""Stations, platforms, stop marks, what must not be passed, listed places."""

from __future__ import annotations

from webapp.lines.posts import place_along
from webapp.packs.check_line import TINY, line_span
from webapp.packs.draft import Draft
from webapp.packs.faults import FaultList
from webapp.packs.model import Listed, Mark, NotPast, Stop

#: A station's own place may lie this far outside its platforms. [m]
STATION_NEAR = 300.0
Place = tuple[str, str]


def check_places(draft: Draft, faults: FaultList) -> None:
    signs = {d.key: d.sign for d in draft.directions}
    stops = {(s.station, s.direction): s for s in draft.rows("stops.csv")}
    _check_on_line(draft, faults)
    for stop in draft.rows("stops.csv"):
        _check_platform(stop, draft, faults)
        _check_has_limit(stop, draft, faults)
    for mark in draft.rows("marks.csv"):
        _check_mark(mark, stops, signs, draft, faults)
    for limit in draft.rows("not_past.csv"):
        _check_has_stop("not_past.csv", limit, stops, draft, faults)
        _check_limit_side(limit, stops, signs, draft, faults)
    for listed in draft.rows("listed.csv"):
        _check_listed(listed, draft, faults)


def _check_on_line(draft: Draft, faults: FaultList) -> None:
    span = line_span(draft)
    if not span:
        return
    columns = {
        "stations.csv": {"at": "at"},
        "stops.csv": {"from": "start", "to": "end"},
        "marks.csv": {"at": "at"},
        "not_past.csv": {"at": "at"},
        "listed.csv": {"from": "start", "to": "end"},
    }
    low, high = (place_along(end, draft.distance_unit) for end in span)
    for file, names in columns.items():
        for record in draft.rows(file):
            for column, name in names.items():
                value = getattr(record, name)
                if not span[0] - TINY <= value <= span[1] + TINY:
                    problem = f"{place_along(value, draft.distance_unit)} is off the line"
                    cure = f"give a place from {low} to {high}"
                    faults.add(file, record.row, column, problem, cure)


def _check_platform(stop: Stop, draft: Draft, faults: FaultList) -> None:
    if stop.start >= stop.end:
        faults.add(
            *("stops.csv", stop.row, "to", "the platform ends before it begins"),
            "put the lower distance in 'from', whatever the direction of travel",
        )
        return
    for station in draft.rows("stations.csv"):
        near = stop.start - STATION_NEAR <= station.at <= stop.end + STATION_NEAR
        if station.key == stop.station and not near:
            at = place_along(station.at, draft.distance_unit)
            problem = f"the platform lies away from its station, which is at {at}"
            cure = "mend 'from' and 'to' here or 'at' in stations.csv"
            faults.add("stops.csv", stop.row, "from", problem, cure)


def _check_has_limit(stop: Stop, draft: Draft, faults: FaultList) -> None:
    if "not_past.csv" not in draft.whole or faults.bad_rows("not_past.csv"):
        return
    kinds = {
        limit.what
        for limit in draft.rows("not_past.csv")
        if (limit.station, limit.direction) == (stop.station, stop.direction)
    }
    if not kinds:
        cure = (
            f"add its platform end, signal or buffer stop ({stop.direction}) to not_past.csv"
        )
        problem = f"nothing says what must not be passed at {stop.station}"
        faults.add("stops.csv", stop.row, "station", problem, cure)
    elif stop.kind == "buffers" and "buffer stop" not in kinds:
        cure = "add a row 'buffer stop' with its face to not_past.csv"
        faults.add("stops.csv", stop.row, "kind", "there is no buffer stop here", cure)


def _check_has_stop(
    file: str,
    record: Mark | NotPast,
    stops: dict[Place, Stop],
    draft: Draft,
    faults: FaultList,
) -> bool:
    known = (record.station, record.direction) in stops
    sound = "stops.csv" in draft.whole and not faults.bad_rows("stops.csv")
    if not known and sound and record.station in draft.keys.get("stations.csv", set()):
        problem = f"no stop at {record.station} in the direction {record.direction}"
        faults.add(
            file, record.row, "station", problem, "add it to stops.csv or mend this row"
        )
    return known


def _check_mark(
    mark: Mark,
    stops: dict[Place, Stop],
    signs: dict[str, int],
    draft: Draft,
    faults: FaultList,
) -> None:
    if not _check_has_stop("marks.csv", mark, stops, draft, faults):
        return
    stop = stops[mark.station, mark.direction]
    sign = signs.get(mark.direction)
    if sign is None:
        return
    if not stop.start - TINY <= mark.at <= stop.end + TINY:
        ends = " to ".join(place_along(x, draft.distance_unit) for x in (stop.start, stop.end))
        problem = f"the mark for {mark.cars} cars is outside the platform"
        cure = f"find out which is right, this place or the platform ({ends} in stops.csv)"
        faults.add("marks.csv", mark.row, "at", problem, cure)
    _check_rear(mark, stop, sign, draft, faults)
    for limit in draft.rows("not_past.csv"):
        same = (limit.station, limit.direction) == (mark.station, mark.direction)
        if same and sign * (limit.at - mark.at) < _gap(limit, draft):
            at = place_along(limit.at, draft.distance_unit)
            problem = f"the mark is beyond what must not be passed: {limit.what} at {at}"
            cure = "measure both again; until then move the mark back, never the limit on"
            faults.add("marks.csv", mark.row, "at", problem, cure)


def _check_rear(mark: Mark, stop: Stop, sign: int, draft: Draft, faults: FaultList) -> None:
    """Refuse a train whose rear doors open off the platform, unless the stop says so."""
    lengths = [
        formation.length_m
        for train in draft.types
        for formation in train.formations
        if formation.cars == mark.cars
    ]
    edge = stop.start if sign > 0 else stop.end
    out = max(lengths, default=0.0) - sign * (mark.at - edge)
    said = stop.note or any(
        (d.station, d.direction, d.cars) == (mark.station, mark.direction, mark.cars)
        for d in draft.rows("doors.csv")
    )
    if stop.start < stop.end and out > TINY and not said:
        problem = f"with {mark.cars} cars the rear stands {out:.1f} m off the platform"
        cure = (
            "measure mark and platform again; if both are right, say in doors.csv which"
            " doors open"
        )
        faults.add("marks.csv", mark.row, "at", problem, cure)


def _gap(limit: NotPast, draft: Draft) -> float:
    gap = draft.settings.buffer_gap_m if draft.settings else 0.0
    return gap if limit.what == "buffer stop" else 0.0


def _check_limit_side(
    limit: NotPast,
    stops: dict[Place, Stop],
    signs: dict[str, int],
    draft: Draft,
    faults: FaultList,
) -> None:
    """A limit before the platform's first metre belongs to another stop."""
    stop, sign = stops.get((limit.station, limit.direction)), signs.get(limit.direction)
    if stop is None or sign is None:
        return
    entry = stop.start if sign > 0 else stop.end
    if sign * (limit.at - entry) <= 0:
        at = place_along(limit.at, draft.distance_unit)
        problem = f"the {limit.what} at {at} lies before the platform"
        cure = "measure it again, or mend the station or the direction"
        faults.add("not_past.csv", limit.row, "at", problem, cure)


def _check_listed(listed: Listed, draft: Draft, faults: FaultList) -> None:
    if listed.start >= listed.end:
        problem = f"the listed place '{listed.key}' is reversed"
        cure = "put the lower distance in 'from', whatever the direction of travel"
        faults.add("listed.csv", listed.row, "to", problem, cure)
    if bool(listed.season_from) != bool(listed.season_to):
        empty = "season_to" if listed.season_from else "season_from"
        cure = "give both days, or neither for the whole year"
        faults.add("listed.csv", listed.row, empty, "half a season is no season", cure)
    if draft.states and listed.state == draft.states[0].key:
        problem = f"'{listed.state}' is the best rail state: listing it changes nothing"
        faults.add("listed.csv", listed.row, "state", problem, "give a worse rail state")
