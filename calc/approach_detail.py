"""One approach of a finished table with the figures that led to it.

Nothing here is looked up by anybody else: it repeats, for one case, what the batched
computation did, so that a person can follow it with a pocket calculator.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .batch import Batch, CaseIndex, make_batch
from .constants import GRAVITY
from .driven import advice_runs
from .forward import Outcome, Runs, drive
from .model import TableInput
from .rail import wheelset_demand
from .result import OK, Floats, Table
from .speed_tables import (
    brake_force_per_mass,
    braking_share,
    plan_adhesion,
    resistance_per_mass,
)
from .worked import as_worked


@dataclass(frozen=True)
class StepFigures:
    """What one step asks for at the approach speed, and what the rail gives there."""

    name: str
    rate: float
    force: float
    wheelset_share: float
    adhesion_asked: float
    adhesion_allowed: float
    slides: bool


@dataclass(frozen=True)
class CurvePoint:
    """One place before the mark. [m, m/s2, -, m/s, m/s, m]."""

    before: float
    grade: float
    listed_share: float
    advised: float
    usual: float
    ceiling: float
    cover: float


def step_figures(
    given: TableInput, state: int, train: int, speed: float
) -> tuple[StepFigures, ...]:
    """Return every service step's figures on the level at a speed [m/s]."""
    vehicle, rail = given.trains[train], given.states[state]
    at = np.array([speed])
    allowed = float(given.settings.eta * plan_adhesion(rail, at)[0])
    out = []
    for step in vehicle.steps:
        force = brake_force_per_mass(vehicle, step, at)
        rest = resistance_per_mass(vehicle, at)
        share = np.array([braking_share(vehicle, step)])
        rotating = np.array([vehicle.rotating])
        asked = (force + rest) / (1.0 + rotating)
        demand = float(wheelset_demand(force, asked, rotating, share)[0]) / GRAVITY
        out.append(
            StepFigures(
                name=step.name,
                rate=float(np.interp(speed, step.speeds, step.rates)),
                force=float(force[0]),
                wheelset_share=float(share[0]),
                adhesion_asked=demand,
                adhesion_allowed=allowed,
                slides=demand > allowed,
            )
        )
    return tuple(out)


def curve_points(
    given: TableInput, table: Table, case: tuple[int, int, int, int], spacing: float = 100.0
) -> tuple[CurvePoint, ...]:
    """Return the curve of a case at even distances, out to the train's top speed."""
    batch = one_case(given, case)
    target, _, _, train = case
    advised = table.advised[case]
    known = table.nodes[advised <= given.trains[train].max_speed]
    if known.size == 0:
        return ()
    out = []
    for before in np.arange(0.0, known[-1] + 1e-9, spacing):
        node = round(before / given.settings.cell)
        cell = min(node + batch.before, batch.cells - 1)
        out.append(
            CurvePoint(
                before=float(before),
                grade=float(batch.grade[cell, 0]),
                listed_share=float(batch.share[cell, 0]),
                advised=float(advised[node]),
                usual=float(table.usual_curve[target, train, node]),
                ceiling=float(table.ceiling[case][node]),
                cover=float(table.cover_by_onset[case][node]),
            )
        )
    return tuple(out)


def one_case(given: TableInput, case: tuple[int, int, int, int]) -> Batch:
    """Return the batch of a single case."""
    target, season, state, train = (np.array([axis]) for axis in case)
    index = CaseIndex(target, season, state, train)
    return make_batch(given, index, 1.3 * float(given.speeds[-1]))


def forward_run(
    given: TableInput, table: Table, case: tuple[int, int, int, int], speed: float
) -> Outcome | None:
    """Drive one advice from an approach speed; None where there is no advice.

    An advice with room is driven as it was worked: with the weakest brake and the latest
    hand.
    """
    speeds = np.asarray(given.speeds)
    row = table.brake[case]
    known = np.isfinite(row) & (table.status[case] == OK)
    if not known.any() or speed > speeds[known][-1] or given.targets[case[0]].to_speed > 0:
        return None
    runs = advice_runs(given, table, tuple(np.array([axis]) for axis in case))
    short = speed <= max(float(table.run_in[case]), float(table.ease_at[case]))
    late = 0.0 if table.no_room[case] else given.settings.late
    brake = np.interp(speed, speeds[known], row[known]) - late * speed
    worked = given if table.no_room[case] else as_worked(given)
    return drive(worked, _at_speed(runs, speed, brake, short))


def _at_speed(runs: Runs, speed: float, brake: Floats, short: bool) -> Runs:
    """Return the run begun from another approach speed."""
    fields = {name: getattr(runs, name) for name in runs.__dataclass_fields__}
    fields["speed"], fields["brake"] = np.array([speed]), np.array([float(brake)])
    if short:
        fields["release_speed"] = fields["last"] = np.array([np.nan])
        fields["step"] = 0 * runs.step
    return Runs(**fields)
