"""One plan, kept: whatever grows worse, it never begins later nor allows more speed.

Every pair of neighbours on a grid of adhesion, fall and slick, all in one batch: each
fall is a stretch of one long line, each adhesion and slick a rail state.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from calc.advised import work_out
from calc.batch import CaseIndex, make_batch
from calc.choice import Choice
from calc.constants import GRAVITY, MPH
from calc.cover import ceilings, recovery_curve
from calc.family import Family, family_starts, last_joins
from calc.joins import joins
from calc.model import RailState, Settings, TableInput, Target

from .cases import line, train

SPEEDS = np.arange(5, 61, 5) * MPH
CELL, STRETCH, MARGIN = 10.0, 6_000.0, 40.0
#: Each from better to worse.
ADHESION = (0.15, 0.10, 0.09, 0.08, 0.07, 0.06, 0.05, 0.045, 0.02)
FALL = (0.006, 0.0, -0.001, -0.004, -0.006, -0.008, -0.012)
SLICK = (0.03, 0.025, 0.02)
#: Step, metres aimed short, run-in or easing speed: one plan of each kind.
PLANS = {
    "step 1": (0, 0.0, 0.0),
    "step 2": (1, 0.0, 0.0),
    "step 2 eased": (1, 0.0, 20 * MPH),
    "step 1, in at 15": (0, 100.0, 15 * MPH),
    "step 2, in at 20": (1, 100.0, 20 * MPH),
}
EACH_PLAN = pytest.mark.parametrize("plan", PLANS)
SHAPE = (len(ADHESION), len(SLICK), len(FALL))
NUMBER = np.indices(SHAPE).reshape(3, -1)


def grid_input() -> TableInput:
    """One stop at the end of each stretch, for a train of 100 m."""
    starts, gradients, targets = [-20_000.0], [0.0], []
    for i, fall in enumerate(FALL):
        mark = (i + 1) * STRETCH
        starts += [mark - STRETCH + 200.0, mark - 1_000.0, mark - 300.0]
        gradients += [fall, fall + 0.004, fall - 0.003]
        targets.append(Target(f"fall {fall}", (mark,), (mark + MARGIN,)))
    unit = train(length=100.0, rotating=0.08, resistance=(1_500.0, 20.0, 5.0))
    states = tuple(RailState(f"{mu} {low}", mu, low) for mu in ADHESION for low in SLICK)
    track = line(list(zip(starts, gradients, strict=True)), end=STRETCH * (len(FALL) + 1))
    settings = Settings(cell=CELL, horizon=4_000.0)
    return TableInput(track, tuple(targets), (unit,), states, tuple(SPEEDS.tolist()), settings)


@cache
def batch_of_all():
    told = grid_input()
    mu, slick, fall = NUMBER
    index = CaseIndex(fall, 0 * fall, mu * len(SLICK) + slick, 0 * fall)
    batch = make_batch(told, index, 1.3 * float(SPEEDS[-1]))
    recovery = recovery_curve(batch, told)
    return batch, {k: ceilings(batch, told, recovery, k) for k in (0, 1)}


@cache
def advised(plan: str):
    """Work one plan out for every case of the grid, and tell where there is such a plan."""
    batch, above = batch_of_all()
    step, aim, near = PLANS[plan]
    family = Family(np.array([step]), np.array([aim]), np.array([near]))
    last, mark = last_joins(batch), np.full(batch.cases, batch.before)
    plain = {k: joins(batch, k, mark, batch.goal) for k in (0, 1)}
    starts = family_starts(batch, family, last, plain)
    every = np.ones(batch.cases, dtype=bool)
    chosen = np.where(starts.possible[0], 0, -1)
    choice = Choice(chosen, every, ~every, ~every)
    return work_out(batch, family, choice, starts, above, last, SPEEDS), starts.possible[0]


def on_grid(values):
    """Give the last axis, the cases, the shape of the grid."""
    return values.reshape(*values.shape[:-1], *SHAPE)


def grid_brakes(plan: str):
    """Brake points, (speeds, adhesion, slick, fall); no stop is farther than any.

    NaN where the plan itself has no room, as its last application would begin first.
    """
    case, possible = advised(plan)
    brake = on_grid(np.where(np.isnan(case.brake), np.inf, case.brake))
    assert np.isfinite(brake).mean() > 0.4, "hardly a stop is possible here"
    return np.where(on_grid(possible), brake, np.nan)


def never_nearer(brake, axis: int, allowed: float) -> None:
    with np.errstate(invalid="ignore"):
        moved = np.diff(brake, axis=axis)
    assert np.nanmin(moved) >= -allowed


def never_faster(plan: str, axis: int) -> None:
    """A worse case's curve lies no higher, up to 5 cm/s.

    While a train runs in it may be faster than in the better case, as its last
    application begins sooner, but it is never faster than the run-in speed.
    """
    (case, _), near = advised(plan), PLANS[plan][2]
    batch = batch_of_all()[0]
    nodes = batch.distance(np.arange(batch.cells + 1))[:, None]
    run_in = (nodes >= case.last.distance - CELL) & (nodes <= case.handle.distance + 2 * CELL)
    curve, run_in = on_grid(case.curve), on_grid(run_in)
    better = [np.take(part, range(part.shape[axis] - 1), axis) for part in (curve, run_in)]
    worse = [np.take(part, range(1, part.shape[axis]), axis) for part in (curve, run_in)]
    allowed = np.where(better[1] | worse[1], np.fmax(better[0], near), better[0])
    known = np.isfinite(better[0]) & np.isfinite(worse[0])
    assert known.sum() > 1_000
    assert (worse[0][known] <= allowed[known] + 0.05).all()


@EACH_PLAN
def test_less_grip(plan):
    never_nearer(grid_brakes(plan), 1, 0.1)
    never_faster(plan, 1)


@EACH_PLAN
def test_steeper_fall(plan):
    """Up to 2 m, less than the outward rounding: releases are laid on whole cells."""
    never_nearer(grid_brakes(plan), 3, 2.0)
    never_faster(plan, 3)


@EACH_PLAN
def test_higher_speed(plan):
    never_nearer(grid_brakes(plan), 0, 0.0)


@pytest.mark.parametrize("step", [0, 1])
def test_longer_slick_to_cover(step):
    """The speed that covers a longer slick is nowhere higher."""
    assert (np.diff(batch_of_all()[1][step].u, axis=0) <= 1e-9).all()


@pytest.mark.parametrize("step", [0, 1])
def test_slicker_slick(step):
    """Covering a slick of less adhesion nowhere allows more speed."""
    u = on_grid(batch_of_all()[1][step].u)
    assert (np.diff(u, axis=3) <= 1e-6).all()


def test_plans_differ_here():
    """The comparison is of real plans: easing costs room, aiming short costs more."""
    at = {plan: grid_brakes(plan)[-1, 1, 0, 1] for plan in PLANS}
    assert at["step 2"] < at["step 2 eased"] < at["step 2, in at 20"] < at["step 1"]


def test_sliding_needs_the_room_that_the_rail_leaves():
    """Level but for the last hump: v v / (2 eta mu g), within 20 % for what rolls."""
    brake = grid_brakes("step 2")[4, -1, 0, 1]
    steady = SPEEDS[4] ** 2 / 2 / (0.85 * 0.02 * GRAVITY)
    assert brake == pytest.approx(steady, rel=0.2)
