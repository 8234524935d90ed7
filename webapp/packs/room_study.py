"""What a second buys on a line: minutes a trip against shares of approaches past the limit.

For each level of room the plans of some stops are worked out, then driven with ordinary
errors (`calc.risk`). Minutes of computing: never in a request.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np

from calc.forward import Flags, Floats, Ints
from calc.model import TableInput
from calc.result import Table
from calc.risk.errors import Errors, draw
from calc.risk.room import Cases, advised, margins, shares, spent, stood
from calc.table import build_table
from webapp.packs.abreast import Progress
from webapp.packs.axes import PackTarget, TrainVariant, target_axis, train_axis
from webapp.packs.levels import KEYS, LEVELS, NAMES, Level, level
from webapp.packs.model import Direction, Route
from webapp.packs.turned import table_input

Json = dict[str, Any]
#: Stops of each direction that are worked out, spread evenly over its way.
STOPS = 5
#: Approaches driven on each rail and level, both directions together.
RUNS = 600
SEED = 14
CONFIDENCE = 0.95


@dataclass(frozen=True)
class _Half:
    """One direction: the quoted figures, and a table for each level."""

    tables: dict[str, Table]
    quoted: TableInput


def study(
    route: Route,
    progress: Progress | None = None,
    *,
    stops: int = STOPS,
    runs: int = RUNS,
    keys: Sequence[str] = KEYS,
) -> Json:
    """Work out each level on some stops of a route, drive it with errors, and count.

    Returns
    -------
    dict
        ``stops``, ``runs``, ``confidence``, ``calls`` of the longest trip, and ``rails``:
        for each state to pick its key, name, and a row a level: ``level``, ``seconds`` a
        stop, ``minutes`` a trip, ``past_mark`` and ``past_limit`` with their intervals,
        ``without`` the share of cases without advice.

    Notes
    -----
    Every level meets the same stops, trains and errors: cases that have advice on all of
    them. Trains are whole, seasons out and in as often. Minutes are the mean seconds a
    stop times the stops of the longest trip, for a driver with the quoted brake.
    """
    if min(stops, runs) < 1:
        raise ValueError("a study needs stops and runs")
    calls = max((_calls(route, trip.key) for trip in route.trips), default=0)
    halves = [
        _half(route, direction, [level(key) for key in keys], stops, progress)
        for direction in route.directions
        if any(stop.direction == direction.key for stop in route.stops)
    ]
    picked = [n for n, state in enumerate(route.states) if state.pickable]
    rails: list[Json] = []
    for done, state in enumerate(picked):
        if progress:
            progress("approaches", done, len(picked))
        named = {"key": route.states[state].key, "name": route.states[state].name}
        rails.append({**named, "levels": _rail(halves, state, list(keys), runs, calls)})
    counted = sum(len(_stops(half.quoted)) for half in halves)
    return {
        "stops": counted,
        "runs": runs,
        "confidence": CONFIDENCE,
        "calls": calls,
        "rails": rails,
    }


def _calls(route: Route, trip: str) -> int:
    return sum(1 for call in route.calls if call.trip == trip)


def _half(
    route: Route,
    direction: Direction,
    levels: Sequence[Level],
    stops: int,
    progress: Progress | None,
) -> _Half:
    trains = train_axis(route)
    targets = _some(
        [t for t in target_axis(route, trains) if t.direction == direction.key], stops
    )
    tables = {}
    for done, one in enumerate(levels):
        if progress:
            progress(f"{direction.name}, plans", done, len(levels))
        given = _given(route, direction, trains, targets, one)
        tables[one.key] = build_table(given)
    quoted = _given(route, direction, trains, targets, LEVELS[0])
    return _Half(tables, quoted)


def _some(targets: Sequence[PackTarget], stops: int) -> tuple[PackTarget, ...]:
    """Keep some stops, spread evenly, and every board: boards bound how fast a train comes."""
    calls = [one for one in targets if one.to_speed == 0]
    at = np.unique(np.linspace(0, len(calls) - 1, min(stops, len(calls))).round().astype(int))
    kept = {calls[n].key for n in at}
    return tuple(one for one in targets if one.to_speed > 0 or one.key in kept)


def _given(
    route: Route,
    direction: Direction,
    trains: tuple[TrainVariant, ...],
    targets: tuple[PackTarget, ...],
    one: Level,
) -> TableInput:
    physics = {name: getattr(one.figures, name) for name in NAMES}
    physics |= {"strongest_share": 1.0}
    hand = route.physics.quiet_one_worse_from if one.hand else ""
    told = replace(route.physics, quiet_one_worse_from=hand, **physics)
    return table_input(replace(route, physics=told), direction, trains, targets)


def _stops(given: TableInput) -> list[int]:
    return [n for n, target in enumerate(given.targets) if target.to_speed == 0]


def _rail(
    halves: Sequence[_Half], state: int, keys: Sequence[str], runs: int, calls: int
) -> list[Json]:
    """Return a row for each level on one rail."""
    found = [
        _driven(half, state, keys, n, _part(runs, halves, n)) for n, half in enumerate(halves)
    ]
    rows = []
    for key in keys:
        mine = [one[key] for one in found]
        past, margin, seconds = (
            np.concatenate([getattr(one, name) for one in mine])
            for name in ("past", "margin", "seconds")
        )
        counted = shares(past, margin, CONFIDENCE) if past.size else None
        mean = float(seconds.mean()) if seconds.size else None
        rows.append(
            {
                "level": key,
                "seconds": mean,
                "minutes": None if mean is None else mean * calls / 60,
                "without": sum(one.without for one in mine) / sum(one.asked for one in mine),
                "past_mark": asdict(counted.past_mark) if counted else None,
                "past_limit": asdict(counted.past_limit) if counted else None,
            }
        )
    return rows


def _part(runs: int, halves: Sequence[_Half], number: int) -> int:
    return runs // len(halves) + (number < runs % len(halves))


@dataclass(frozen=True)
class _Driven:
    """One level of one direction on one rail: runs, seconds a stop, cases without advice."""

    past: Floats
    margin: Floats
    seconds: Floats
    without: int
    asked: int


def _driven(
    half: _Half, state: int, keys: Sequence[str], number: int, runs: int
) -> dict[str, _Driven]:
    """Drive the same cases with the same errors on every level."""
    errors, rng = Errors(), np.random.default_rng([SEED, state, number])
    asked = _asked(half.quoted, state)
    each = {key: advised(half.quoted, half.tables[key]) & asked for key in keys}
    all_of_them = np.argwhere(np.logical_and.reduce(list(each.values())))
    without = {key: int((asked & ~each[key]).sum()) for key in keys}
    if not len(all_of_them):
        nothing = np.empty(0)
        return {
            key: _Driven(nothing, nothing, nothing, without[key], int(asked.sum()))
            for key in keys
        }
    cases = _cases(all_of_them[rng.integers(0, len(all_of_them), runs)])
    drawn, margin = draw(errors, rng, runs), margins(half.quoted, cases)
    seconds = _seconds(half, keys, _cases(all_of_them))
    tables = [half.tables[key] for key in keys]
    past = dict(zip(keys, stood(half.quoted, tables, cases, drawn, errors), strict=True))
    return {
        key: _Driven(
            past[key],
            margin,
            seconds[key],
            without[key],
            int(asked.sum()),
        )
        for key in keys
    }


def _asked(given: TableInput, state: int) -> Flags:
    """Tell which cases are asked for: stops of whole trains on one rail, both seasons."""
    stops = np.array([target.to_speed == 0 for target in given.targets])
    marks = np.isfinite([target.mark for target in given.targets])
    whole = np.array([train.isolated_share == 0 for train in given.trains])
    out = np.zeros((len(given.targets), 2, len(given.states), len(given.trains)), dtype=bool)
    out[:, :, state] = (stops[:, None] & marks & whole)[:, None]
    return out


def _cases(pick: Ints) -> Cases:
    target, season, state, train = pick.T
    return target, season, state, train


def _seconds(half: _Half, keys: Sequence[str], cases: Cases) -> dict[str, Floats]:
    """Return what each advice costs against the usual approach, by level. [s].

    The first level's table says it; the others by what they cost more, driven.
    """
    first = half.tables[keys[0]]
    pace = np.searchsorted(half.quoted.speeds, first.approach_speed[cases] - 1e-9)
    pace = np.minimum(pace, len(half.quoted.speeds) - 1)
    base = np.nan_to_num(first.seconds[(*cases, pace)])
    took = spent(half.quoted, [half.tables[key] for key in keys], cases)
    return {key: base + one - took[0] for key, one in zip(keys, took, strict=True)}
