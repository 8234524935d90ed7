"""The axes of the braking table: trains with their brake condition, and targets."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from calc.constants import CHAIN
from webapp.lines.posts import place_along
from webapp.packs.model import DistanceUnit, Formation, NotPast, Route, Speed, Stop, TrainType


@dataclass(frozen=True)
class TrainVariant:
    """One train as it may run: type, formation and cars with isolated brakes."""

    type: TrainType
    formation: Formation
    isolated: int

    @property
    def key(self) -> str:
        tail = f"-iso{self.isolated}" if self.isolated else ""
        return f"{self.type.key}-{self.formation.key}{tail}"

    @property
    def name(self) -> str:
        tail = f", brake isolated on {self.isolated}" if self.isolated else ""
        return f"{self.type.name}, {self.formation.cars} cars{tail}"


@dataclass(frozen=True)
class PackTarget:
    """A stop mark or the board of a lower speed; places in line metres, per train."""

    key: str
    kind: str
    place: str | None
    name: str
    words: str
    direction: str
    platform: str | None
    platform_from: float | None
    platform_to: float | None
    marks: tuple[float | None, ...]
    limits: tuple[float | None, ...]
    limit_kind: str
    to_speed: int
    start: float | None
    note: str | None = None


def train_axis(route: Route) -> tuple[TrainVariant, ...]:
    share = route.settings.isolated_limit_share
    return tuple(
        TrainVariant(train, formation, isolated)
        for train in route.types
        for formation in train.formations
        for isolated in range(int(share * formation.cars + 1e-9) + 1)
    )


def target_axis(route: Route, trains: tuple[TrainVariant, ...]) -> tuple[PackTarget, ...]:
    """Return every target, by direction and then in order of travel."""
    out: list[PackTarget] = []
    for direction in route.directions:
        sign = direction.sign
        here = [
            _stop(route, s, sign, trains) for s in route.stops if s.direction == direction.key
        ]
        slower = [
            _reduction(route, pair, sign, trains) for pair in _drops(route, direction.key)
        ]
        here += [target for target in slower if _reached(route, target, trains)]
        out += sorted(here, key=lambda target: sign * _first_mark(target))
    return tuple(out)


def _first_mark(target: PackTarget) -> float:
    return next(mark for mark in target.marks if mark is not None)


def _stop(route: Route, stop: Stop, sign: int, trains: tuple[TrainVariant, ...]) -> PackTarget:
    station = route.station(stop.station)
    at = {
        m.cars: m.at
        for m in route.marks
        if (m.station, m.direction) == (stop.station, stop.direction)
    }
    marks = tuple(at.get(train.formation.cars) for train in trains)
    limit, kind = nearest_limit(route, stop, sign)
    return PackTarget(
        key=f"{stop.station}/{stop.direction}",
        kind=stop.kind,
        place=stop.station,
        name=station.name,
        words=f"{station.name} buffers" if stop.kind == "buffers" else station.name,
        direction=stop.direction,
        platform=stop.platform,
        platform_from=stop.start,
        platform_to=stop.end,
        marks=marks,
        limits=tuple(None if mark is None else limit for mark in marks),
        limit_kind=kind,
        to_speed=0,
        start=_earlier_stand(route, stop.direction, sign, station.at, station.key),
        note=stop.note or None,
    )


def nearest_limit(route: Route, stop: Stop, sign: int) -> tuple[float, str]:
    """Return the first thing a train would meet past its mark, buffers less their gap."""
    here = [
        limit
        for limit in route.not_past
        if (limit.station, limit.direction) == (stop.station, stop.direction)
    ]

    def reached(limit: NotPast) -> float:
        gap = route.settings.buffer_gap_m if limit.what == "buffer stop" else 0.0
        return limit.at - sign * gap

    nearest = min(here, key=lambda limit: sign * reached(limit))
    return reached(nearest), nearest.what


def _earlier_stand(
    route: Route, direction: str, sign: int, at: float, station: str | None = None
) -> float | None:
    """Return where the train last stood, the furthest back over a day's trips.

    A train that runs through the station before comes faster than one that calls, so
    the furthest start bounds them all. None if no trip comes here: then only the
    line's own speeds bound the approach.
    """
    station_at = {stop.key: stop.at for stop in route.stations}
    found: list[float] = []
    for trip in route.trips:
        called = [call.station for call in route.calls_of(trip.key)]
        if trip.direction != direction or (station and station not in called):
            continue
        before = [key for key in called if sign * (at - station_at[key]) > 1.0]
        if before and len(before) < len(called):
            nearest = max(before, key=lambda key: sign * station_at[key])
            found.append(_rearmost_mark(route, direction, sign, nearest))
    return min(found, key=lambda place: sign * place) if found else None


def _rearmost_mark(route: Route, direction: str, sign: int, station: str) -> float:
    """Return the mark furthest back at a station, or the station itself at an origin."""
    marks = [m.at for m in route.marks if (m.station, m.direction) == (station, direction)]
    places = marks or [route.station(station).at]
    return min(places, key=lambda place: sign * place)


def _drops(route: Route, direction: str) -> list[tuple[Speed, Speed]]:
    """Return neighbouring speeds, in order of travel, where the second is much lower."""
    sign = route.direction(direction).sign
    rows = [speed for speed in route.speeds if speed.direction == direction][::sign]
    drop = route.settings.reduction_drop
    return [(a, b) for a, b in pairwise(rows) if a.speed - b.speed >= drop]


def _reached(route: Route, target: PackTarget, trains: tuple[TrainVariant, ...]) -> bool:
    """Tell whether any train can be much too fast at the board since it last stood."""
    if target.start is None:
        return True
    run = abs(_first_mark(target) - target.start)
    liveliest = max(train.type.acceleration_mps2 for train in trains)
    fastest = math.sqrt(2.0 * liveliest * run) / route.head.mps
    return fastest >= target.to_speed + route.settings.reduction_drop


def _reduction(
    route: Route, pair: tuple[Speed, Speed], sign: int, trains: tuple[TrainVariant, ...]
) -> PackTarget:
    lower = pair[1]
    board = lower.start if sign > 0 else lower.end
    unit = route.head.distance_unit
    return PackTarget(
        key=f"speed-{lower.speed}-at-{_slug(board, unit)}/{lower.direction}",
        kind="reduction",
        place=None,
        name=f"Speed {lower.speed} from {place_along(board, unit)}",
        words=f"{lower.speed} by the board",
        direction=lower.direction,
        platform=None,
        platform_from=None,
        platform_to=None,
        marks=(board,) * len(trains),
        limits=(board,) * len(trains),
        limit_kind="speed board",
        to_speed=lower.speed,
        start=_earlier_stand(route, lower.direction, sign, board),
    )


def _slug(board: float, unit: DistanceUnit) -> str:
    """Return a board's place for a key: reports name it, so it stays as it always was."""
    if unit == "km":
        return f"{board / 1000:.3f}".replace(".", "-")
    miles, chains = divmod(round(board / CHAIN, 2), 80)
    return f"{int(miles)}m-{chains:02.4g}".replace(".", "-") + "ch"
