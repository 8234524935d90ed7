"""Small trains, lines and batches for the tests, every field named and replaceable."""

from __future__ import annotations

import numpy as np

from calc.batch import Batch, CaseIndex, make_batch
from calc.constants import GRAVITY
from calc.model import BrakeStep, Line, RailState, Settings, TableInput, Target, Train
from calc.ramps import Moment, brake_point
from calc.sweep import curve

FREE_RAIL = 1.0  # an adhesion nothing here can reach


def train(
    rates=(0.03 * GRAVITY, 0.06 * GRAVITY, 0.09 * GRAVITY),
    *,
    length=0.0,
    mass=100_000.0,
    rotating=0.0,
    resistance=(0.0, 0.0, 0.0),
    speeds=(0.0,),
    wheelset_share=1.0,
    dead_time=0.4,
    ramp=0.5,
    isolated_share=0.0,
    key="train",
):
    """Return a train whose steps brake at ``rates``; a rate may be a row by speed."""
    steps = tuple(
        BrakeStep(
            f"step {number}",
            tuple(speeds),
            tuple(np.broadcast_to(rate, np.shape(speeds)).tolist()),
            wheelset_share,
        )
        for number, rate in enumerate(rates, start=1)
    )
    return Train(
        key=key,
        length=length,
        mass=mass,
        rotating=rotating,
        resistance=tuple(resistance),
        steps=steps,
        usual_step=min(1, len(steps) - 1),
        dead_time=dead_time,
        ramp=ramp,
        release_ramp=ramp,
        max_speed=60.0,
        acceleration=0.6,
        isolated_share=isolated_share,
    )


def line(gradient=0.0, *, end=20_000.0, limit=60.0, listed=()):
    """Return a line of one gradient, or of [(from, gradient), ...]."""
    stretches = [(-20_000.0, gradient)] if np.isscalar(gradient) else list(gradient)
    starts, values = zip(*stretches, strict=True)
    return Line(
        gradient_from=tuple(starts),
        gradient=tuple(values),
        limit_from=(-20_000.0,),
        limit_speed=(limit,),
        end=end,
        listed=tuple(listed),
    )


def one_case(
    train,
    line,
    *,
    plan=FREE_RAIL,
    slick=0.03,
    mark=10_000.0,
    margin=0.0,
    to_speed=0.0,
    states=None,
    season=0,
    settings=None,
    top_speed=60.0,
) -> Batch:
    """Return a batch of a single case: one train, one target, one rail state."""
    given = TableInput(
        line=line,
        targets=(Target("stop", (mark,), (mark + margin,), to_speed),),
        trains=(train,),
        states=states or (RailState("rail", plan, slick),),
        speeds=(20.0,),
        settings=settings or Settings(eta=1.0, horizon=9_000.0),
    )
    zero = np.zeros(1, dtype=np.int64)
    return make_batch(given, CaseIndex(zero, zero + season, zero, zero), top_speed)


def steady_curve(batch: Batch, step: int = 0) -> tuple[np.ndarray, np.ndarray]:
    """Return metres before the mark, and the speeds there under the full step."""
    start = np.full(batch.cases, batch.before, dtype=np.int64)
    u = curve(batch, step, start, batch.goal)[0]
    u = u[batch.before :, 0]
    return batch.cell * np.arange(u.size), np.sqrt(u)


def distance_at(away: np.ndarray, speeds: np.ndarray, speed: float) -> float:
    """Return where a curve has a speed; between nodes the square of speed is straight."""
    if not speeds[-1] > speed:
        raise AssertionError(f"the curve ends at {speeds[-1]:.1f} m/s: lengthen the horizon")
    return float(np.interp(speed**2, speeds**2, away))


def steady_distance(batch: Batch, speed: float, step: int = 0) -> float:
    """Return the distance before the mark at which the full step must act. [m]"""
    return distance_at(*steady_curve(batch, step), speed)


def brake_distance(batch: Batch, speed: float, step: int = 0) -> float:
    """Return the distance before the mark at which the handle must move. [m]"""
    away, speeds = steady_curve(batch, step)
    row, phi = batch.force_row(step), batch.step_share[:, step]
    handle, _, _ = brake_point(batch, Moment(away[:, None], speeds[:, None]), row, phi)
    return float(np.interp(speed, handle.speed[:, 0], handle.distance[:, 0]))
