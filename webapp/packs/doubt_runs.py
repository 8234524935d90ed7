"""Doubts about the timetable: runs that no train could make, or that take very long."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from calc.units import deceleration_from_percent_g
from webapp.packs.doubt_list import DoubtList
from webapp.packs.model import Call, Route, Trip

#: Times are in whole minutes; a run may take so much longer than they say. [s]
ROUNDING = 60.0
#: A run is looked at when it takes so many times the least, and so much more. [s]
LONG, LONG_BY = 4.0, 900.0
#: With more odd runs than this share of all, the cause is not in the timetable.
MANY = 0.2
#: Steps in which a run is worked out. [m]
GRID = 20.0

_CLOCK_NAME = re.compile(r"(\d\d:\d\d)\b")
Run = tuple[str, str, str, str, str, int]
Way = tuple[str, str, str]


@dataclass(frozen=True)
class Timed:
    """One run as trips make it: how far, in what time, and the least it could take."""

    run: Run
    trips: int
    row: int
    length: float
    least: float

    @property
    def late(self) -> float:
        """Seconds by which the least time is more than the timetable's. [s]"""
        return self.least - 60.0 * self.run[5] - ROUNDING

    @property
    def odd(self) -> bool:
        long = 60 * self.run[5] > max(LONG * self.least, self.least + LONG_BY)
        return self.late > 0 or long


def doubt_runs(route: Route, found: DoubtList) -> None:
    """Ask once about each way between two stations, however many trips run there."""
    runs: dict[Run, list[Call]] = {}
    for trip in route.trips:
        calls = route.calls_of(trip.key)
        _doubt_name(trip, calls[0], found)
        for one, other in pairwise(calls):
            minutes = _minutes(other.arrive) - _minutes(one.depart)
            way = (trip.direction, one.station, other.station)
            run = (*way, trip.train_type, trip.formation, minutes)
            runs.setdefault(run, []).append(other)
    timed = [_timed(route, run, arrivals) for run, arrivals in runs.items()]
    odd: dict[Way, list[Timed]] = {}
    for each in timed:
        if each.odd:
            odd.setdefault(each.run[:3], []).append(each)
    ways = len({each.run[:3] for each in timed})
    if len(odd) > MANY * ways:
        _doubt_all(odd, ways, found)
        return
    for here in odd.values():
        _doubt_way(here, found)


def _timed(route: Route, run: Run, arrivals: list[Call]) -> Timed:
    least, length = least_seconds(route, run)
    return Timed(run, len(arrivals), arrivals[0].row, length, least)


def _doubt_all(odd: dict[Way, list[Timed]], of: int, found: DoubtList) -> None:
    """Where most runs are odd, the cause is one: a unit, or a train's figure."""
    every = [one for here in odd.values() for one in here]
    found.add(
        *("run", "calls.csv", min(one.row for one in every), "arrive"),
        f"no train could make {len(odd)} of {of} runs in their time, at the posted speeds",
        "the unit of the speeds, and each train's max_speed and acceleration_mps2",
        *("every run", [[*one.run, round(one.least)] for one in every]),
    )


def _doubt_way(here: list[Timed], found: DoubtList) -> None:
    worst = max(here, key=lambda one: one.late)
    direction, start, end, *_, minutes = worst.run
    trips = sum(one.trips for one in here)
    others = f", in {trips} trips" if trips > 1 else ""
    no = "no train could, " if worst.late > 0 else ""
    found.add(
        *("run", "calls.csv", min(one.row for one in here), "arrive"),
        f"{worst.length / 1000:.1f} km from {start} to {end} in {minutes} min{others}:"
        f" {no}at the posted speeds it takes {worst.least / 60:.1f} min",
        "the timetable, the two stations' places and the speeds between",
        *(f"{direction} {start} {end}", [[*one.run, round(one.least)] for one in here]),
    )


def _minutes(text: str) -> int:
    return int(text[:2]) * 60 + int(text[3:])


def _doubt_name(trip: Trip, first: Call, found: DoubtList) -> None:
    named = _CLOCK_NAME.match(trip.name)
    if named and named[1] != first.depart:
        message = f"'{trip.name}' leaves at {first.depart} in calls.csv"
        look = "the timetable"
        found.add("name", "trips.csv", trip.row, "name", message, look, trip.key, trip, first)


def least_seconds(route: Route, run: Run) -> tuple[float, float]:
    """Return the least time of a run and its length: full power, full service brake. [s, m]

    Gradients and the train's own length are left out: they only make it longer.
    """
    direction, start, end, train_type, formation, _ = run
    sign = route.direction(direction).sign
    train = next(one for one in route.types if one.key == train_type)
    cars = next(one.cars for one in train.formations if one.key == formation)
    here, there = (_stand(route, direction, station, cars) for station in (start, end))
    length = abs(there - here)
    if length < GRID:
        return 0.0, length
    steps = max(2, math.ceil(length / GRID))
    each = length / steps
    middles = here + sign * each * (np.arange(steps) + 0.5)
    posted = np.full(steps, float(train.max_speed))
    for row in route.speeds:
        if row.direction == direction:
            inside = (middles >= row.start) & (middles <= row.end)
            posted[inside] = min(row.speed, train.max_speed)
    limits = [float(speed) * route.head.mps for speed in posted]
    brake = deceleration_from_percent_g(max(rate for s in train.steps for _, rate in s.rates))
    speeds = [0.0, *(min(pair) for pair in pairwise(limits)), 0.0]
    for n in range(steps):
        reached = math.sqrt(speeds[n] ** 2 + 2 * train.acceleration_mps2 * each)
        speeds[n + 1] = min(speeds[n + 1], reached)
    for n in range(steps, 0, -1):
        speeds[n - 1] = min(speeds[n - 1], math.sqrt(speeds[n] ** 2 + 2 * brake * each))
    return sum(2 * each / (a + b) for a, b in pairwise(speeds)), length


def _stand(route: Route, direction: str, station: str, cars: int) -> float:
    here = (station, direction, cars)
    marks = [m.at for m in route.marks if (m.station, m.direction, m.cars) == here]
    return marks[0] if marks else route.station(station).at
