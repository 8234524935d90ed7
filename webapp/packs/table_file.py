"""The table file of a pack: computed figures as nested columns of whole numbers."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from calc.table import Table
from webapp.lines.lookup import brake_at
from webapp.packs.axes import PackTarget, TrainVariant
from webapp.packs.base_file import Reach, seen_landmarks, sorted_landmarks
from webapp.packs.card_speeds import candidates, envelope, pick_speeds
from webapp.packs.model import Route
from webapp.packs.quantise import knot_columns, plan_columns, units_up

Json = dict[str, Any]


def approach_speeds(
    table: Table, trains: tuple[TrainVariant, ...], mps: float
) -> NDArray[np.int64]:
    """Return the fastest approach of any season and state, (target, train), units up.

    Where none is known the train may come as fast as it can: the look-up then finds
    no advice rather than advice for a slower train.
    """
    fastest = np.array([train.type.max_speed for train in trains])
    found = np.fmax.reduce(table.approach_speed, axis=(1, 2))
    return np.where(np.isfinite(found), units_up(found, mps), fastest)


def reaches(
    route: Route, table: Table, columns: Json, trains: tuple[TrainVariant, ...]
) -> tuple[Reach, ...]:
    """Return, for each target of one direction, how far back anything matters. [m]"""
    approach = approach_speeds(table, trains, route.head.mps)
    slick = max(state.cover_aim_m for state in route.states)
    out = []
    for number in range(approach.shape[0]):
        far = [
            _furthest_brake(columns, number, v)
            + int(np.ceil(route.physics.reaction_s * train.type.max_speed * route.head.mps))
            + int(np.ceil(slick + train.formation.length_m))
            for v, train in enumerate(trains)
        ]
        out.append(Reach(tuple(approach[number].tolist()), tuple(far)))
    return tuple(out)


def _furthest_brake(columns: Json, target: int, train: int) -> int:
    """Return the largest brake distance of any season, state and speed. [m]"""
    cells = (state[train] for season in columns["brake"] for state in season[target])
    return max((value for knots in cells for value in knots if value is not None), default=0)


def figure_columns(table: Table, knots: list[int], mps: float) -> Json:
    """Return every column but the landmark speeds and the slick."""
    return knot_columns(table, knots) | plan_columns(table, mps)


def speed_columns(
    route: Route,
    table: Table,
    columns: Json,
    knots: list[int],
    targets: tuple[PackTarget, ...],
    reach: tuple[Reach, ...],
) -> list[Any]:
    """Return the landmark speeds, nested (season, target, state, train)."""
    seasons, states, trains = table.step.shape[1], table.step.shape[2], table.step.shape[3]
    lowest = envelope(table.advised)
    landmarks = sorted_landmarks(route)
    out: list[Any] = [[] for _ in range(seasons)]
    for number, target in enumerate(targets):
        seen = seen_landmarks(route, landmarks, target, max(reach[number].reach_m))
        for season in range(seasons):
            out[season].append(
                [
                    [
                        _speeds_of(
                            route,
                            (table.nodes, lowest[number, season, state, train]),
                            _shifted(seen, target, train, route),
                            (target, columns["approach"][season][number][state][train]),
                            _brake_of(columns, knots, (season, number, state, train)),
                        )
                        for train in range(trains)
                    ]
                    for state in range(states)
                ]
            )
    return out


def _shifted(
    seen: list[tuple[int, float]], target: PackTarget, train: int, route: Route
) -> list[tuple[int, float]]:
    """Measure landmarks from this train's own mark."""
    mark = target.marks[train]
    if mark is None:
        return []
    sign = route.direction(target.direction).sign
    first = min((m for m in target.marks if m is not None), key=lambda m: sign * m)
    return [(index, ahead + sign * (mark - first)) for index, ahead in seen]


def _brake_of(columns: Json, knots: list[int], cell: tuple[int, int, int, int]) -> int:
    """Return the brake point of a cell at its own approach speed; 0 without one. [m]"""
    season, target, state, train = cell
    brake, status, approach = (
        columns[name][season][target][state][train] for name in ("brake", "status", "approach")
    )
    return brake_at(knots, brake, status, approach) or 0


def _speeds_of(
    route: Route,
    curve: Any,
    seen: list[tuple[int, float]],
    goal: tuple[PackTarget, int],
    brake: int,
) -> list[list[int]]:
    target, approach = goal
    dial = route.head.dial
    landmarks = sorted_landmarks(route)
    found = candidates(landmarks, seen, curve, brake, (dial, route.head.mps))
    return pick_speeds(found, target.kind, approach, target.to_speed, dial)


def table_file(route: Route, base_sha: str, knots: list[int], columns: Json) -> Json:
    return {
        "format": "step-in-hand/table",
        "version": 1,
        "base": base_sha,
        "knots": knots,
        "columns": columns,
    }


def slick_column(route: Route, targets: int, trains: int) -> list[Any]:
    """Return the adhesion of the slick each cell's cover is for."""
    one = [[[state.slick] * trains for state in route.states] for _ in range(targets)]
    return [one, one]
