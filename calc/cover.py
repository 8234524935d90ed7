"""Cover: which single surprise slick a train still stops from before the limit.

A promise, so not a closed form: for each length of slick the highest speed is worked
out, at every distance from the limit, from which the train stops before the limit when
the slick begins there; the step of the plan is held, then after the reaction time the
highest service step. Emergency stays unspent. Cover is the largest length for which
every shorter one passes too, at every place of the approach where the slick may begin.

One slick, linear build-up, no undershoot of the wheel-slide protection: what this
leaves out is said in the app.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .batch import Batch, Flags, Floats, Ints, with_listed
from .constants import GRAVITY
from .model import TableInput
from .ramps import Moment, back_in_time, cell_of, full_force
from .sweep import curve_from_limit

#: Lengths of slick that are tried [m]; each cover is one of them, and all below pass.
LENGTHS = (10, 20, 30, 40, 50, 60, 80, 100, 120, 150, 200, 250, 300, 350, 400)

#: Shares of the build-up at which a stop at the limit itself may find the brake.
_PARTS = np.linspace(0.08, 1.0, 12)


@dataclass(frozen=True)
class Ceilings:
    """Highest u for each length of slick and every shorter one, by node and case.

    Attributes
    ----------
    lengths : numpy.ndarray, shape (lengths,)
        [m]
    u : numpy.ndarray, shape (lengths, nodes, cases)
        [m2/s2]
    whole : numpy.ndarray, shape (nodes, cases)
        As ``u``, for a slick that reaches to the limit. [m2/s2]
    held : numpy.ndarray, shape (cases,)
        Brake force per unit mass at which a slide on the slick begins. [m/s2]
    """

    lengths: Floats
    u: Floats
    whole: Floats
    held: Floats


@dataclass(frozen=True)
class _Ground:
    """What the slick does: u gained back per node, and the force WSP holds on it."""

    gain: Floats
    held: Floats
    first: Ints


def ceilings(batch: Batch, given: TableInput, recovery: Floats, step: int) -> Ceilings:
    """Return the ceilings for slicks met while a step is held.

    Parameters
    ----------
    batch : Batch
    given : TableInput
    recovery : numpy.ndarray, shape (nodes, cases)
        u of the curve of the highest service step to the limit. [m2/s2]
    step : int
        The step held when the slick is met.

    Returns
    -------
    Ceilings
        Each no higher than that of a shorter slick.
    """
    ground = _lay_slick(batch, given, step)
    reaction = batch.settings.reaction + batch.dead_time
    after = _reacting(batch, recovery, ground, step, reaction)
    at_once = _reacting(batch, recovery, ground, step, np.zeros_like(reaction))
    lengths = np.array(LENGTHS, dtype=np.float64)
    out = np.empty((lengths.size, batch.cells + 1, batch.cases))
    lowest = np.full((batch.cells + 1, batch.cases), np.inf)
    for i, length in enumerate(lengths):
        shift = round(length / batch.cell)
        late = _over_slick(batch, after, ground, shift)
        early = _react_before(batch, _over_slick(batch, at_once, ground, shift), ground, step)
        inside = _nodes(batch)[:, None] - ground.first < shift
        early = np.where(inside, np.minimum(early, 2.0 * ground.gain), early)
        lowest = np.minimum(lowest, np.minimum(late, early))
        out[i] = lowest
    return Ceilings(lengths, out, 2.0 * ground.gain, ground.held)


def recovery_curve(batch: Batch, given: TableInput) -> Floats:
    """Return u of the highest service step to the limit, cylinders refilling.

    Listed places are lengthened downstream by what a train runs while the force that
    wheel-slide protection took away builds up again.

    Parameters
    ----------
    batch : Batch
    given : TableInput

    Returns
    -------
    numpy.ndarray, shape (cells + 1, cases)
        NaN past the limit. [m2/s2]
    """
    extend = np.array(
        [
            train.max_speed * max(train.steps[-1].rates) * (1 + train.rotating) / train.ramp
            for train in given.trains
        ]
    )
    cells = with_listed(batch, given, extend=extend)
    last = _last_step(batch, given)
    return curve_from_limit(batch, last, cells)


def _last_step(batch: Batch, given: TableInput) -> Ints:
    """Return the index of each case's highest service step."""
    return np.array([len(train.steps) - 1 for train in given.trains])[batch.index.train]


def _nodes(batch: Batch) -> Ints:
    return np.arange(batch.cells + 1)


def _lay_slick(batch: Batch, given: TableInput, step: int) -> _Ground:
    """Work out what a slick of any length gives, cell by cell, while a step is held."""
    eta_g = batch.settings.eta * GRAVITY
    least = np.array([s.plan * min(s.shape_factors) for s in given.states])
    slick = np.minimum(np.array([s.slick for s in given.states]), least)
    point = with_listed(batch, given, point=True)
    row = np.maximum(batch.listed_row, point.listed_row)
    phi = batch.step_share[np.arange(batch.cases), step]
    rest = batch.resistance.at(batch.index.train, batch.force.place_of(np.zeros(1)))
    rest = rest + batch.grade
    loss = _mixed_loss(batch, given, point, eta_g)
    on_slick = (phi * eta_g * slick[row] + rest) / (1 + (1 - phi) * batch.rotating)
    on_slick = on_slick + np.minimum(loss, 0.0)
    weakest, total = _weakest(batch, given, step)
    asked = (total + batch.grade) / (1.0 + batch.rotating)
    per_cell = np.minimum(on_slick, asked)
    first = batch.before - np.floor(batch.margin / batch.cell).astype(np.int64)
    gain = _gather_from(batch, per_cell, first)
    held = phi * eta_g * slick[batch.index.state]
    held = np.minimum(held, phi * eta_g * slick[row].min(axis=0))
    return _Ground(gain, np.minimum(held, weakest), first)


def _mixed_loss(batch: Batch, given: TableInput, point: Batch, eta_g: float) -> Floats:
    """Return how much more a slick takes where only the rear is on a listed place.

    The slick lies under wheelsets on the better rail, while the train's mean is worse:
    the loss counts against what the rail under the front gives. [m/s2]
    """
    if not batch.any_listed.any():
        return np.zeros_like(batch.grade)
    best = np.array([s.plan for s in given.states])[batch.index.state]
    least = np.array([s.plan * min(s.shape_factors) for s in given.states])
    phi = batch.step_share[:, -1]
    top = full_force(batch, batch.force_row(batch.steps - 1), np.zeros(batch.cases)) / phi
    clean = np.minimum(top, eta_g * best)
    low = np.minimum(top, eta_g * least[np.maximum(batch.listed_row, point.listed_row)])
    return np.asarray(phi * (point.share - batch.share) * (clean - low))


def _weakest(batch: Batch, given: TableInput, step: int) -> tuple[Floats, Floats]:
    """Return the least force of a step, and of step and resistance, at any speed."""
    top = np.array([train.max_speed for train in given.trains])[batch.index.train]
    u = np.linspace(0.0, 1.0, 60)[:, None] * top**2
    place = batch.force.place_of(u)
    force = batch.force.at(batch.force_row(step), place)
    total = force + batch.resistance.at(batch.index.train, place)
    return np.asarray(force.min(axis=0)), np.asarray(total.min(axis=0))


def _gather_from(batch: Batch, per_cell: Floats, first: Ints) -> Floats:
    """Sum a deceleration from each case's limit outward, at every node. [m2/s2]."""
    nodes = np.arange(batch.cells)[:, None]
    counted = np.where(nodes >= first, per_cell * batch.cell, 0.0)
    lane = np.arange(batch.cases)
    rest = batch.margin - np.floor(batch.margin / batch.cell) * batch.cell
    total = np.zeros((batch.cells + 1, batch.cases))
    np.cumsum(counted, axis=0, out=total[1:])
    return np.asarray(total + rest * per_cell[np.maximum(first - 1, 0), lane])


def _reacting(
    batch: Batch, recovery: Floats, ground: _Ground, step: int, wait: Floats
) -> Floats:
    """Return u at every node from which recovery still works after waiting in a step.

    Forward in time from the end of the slick: the force refills from what was held
    towards the step, for ``wait`` seconds, then builds up to the highest step.
    """
    row, phi = batch.force_row(step), batch.step_share[np.arange(batch.cases), step]
    top_row, top_phi = batch.force_row(batch.steps - 1), batch.step_share[:, -1]
    nodes = batch.distance(_nodes(batch))[:, None] * np.ones(batch.cases)
    speed = np.sqrt(np.maximum(np.nan_to_num(recovery), 0.0))
    reach = np.minimum(ground.held + batch.ramp * wait, full_force(batch, row, speed))
    points = []
    for part in (*_PARTS[:-1], None):
        if part is None:
            begin = Moment(nodes, speed)
            top = np.maximum(full_force(batch, top_row, speed), reach)
        else:
            begin = Moment(-batch.margin[None, :], np.sqrt(batch.goal)[None, :])
            full = full_force(batch, top_row, begin.speed)
            floor = np.minimum(ground.held + batch.ramp * wait, full)
            top = floor + part * (full - floor)
        level = reach if part is None else floor
        rise = (top - level) / batch.ramp
        rising = back_in_time(batch, begin, top_row, top_phi, top, level, rise)
        refill = np.maximum(level - batch.ramp * wait, ground.held)
        refill = np.minimum(refill, level)
        points.append(back_in_time(batch, rising, row, phi, level, refill, wait + 0 * level))
    near = Moment(
        np.concatenate([p.distance for p in points[:-1]]),
        np.concatenate([p.speed for p in points[:-1]]),
    )
    return slower_envelope(batch, near, points[-1], np.isfinite(recovery))


def slower_envelope(batch: Batch, near: Moment, far: Moment, valid: Flags) -> Floats:
    """Put points of a ceiling on the nodes, never above any point farther out.

    Parameters
    ----------
    batch : Batch
    near, far : Moment, shape (points, cases) and (nodes, cases)
        Points of the ceiling; ``near`` may have none.
    valid : numpy.ndarray of bool, shape (nodes, cases)
        Where there is a ceiling at all.

    Returns
    -------
    numpy.ndarray, shape (nodes, cases)
        u. [m2/s2]
    """
    nodes = batch.distance(_nodes(batch))
    out = np.zeros((batch.cells + 1, batch.cases))
    alone = near.distance.shape[0] == 0
    for lane in range(batch.cases):
        known = valid[:, lane]
        distance, speed = far.distance[known, lane], far.speed[known, lane]
        if not alone:
            distance = np.concatenate([near.distance[:, lane], distance])
            speed = np.concatenate([near.speed[:, lane], speed])
        if distance.size == 0:
            continue
        if (distance[1:] < distance[:-1]).any():
            order = np.argsort(distance, kind="stable")
            distance, speed = distance[order], speed[order]
        u = np.minimum.accumulate(speed[::-1] ** 2)[::-1]
        at = np.concatenate([[-batch.margin[lane]], distance])
        values = np.concatenate([[min(batch.goal[lane], u[0])], u])
        out[:, lane] = np.interp(nodes, at, values)
    return out


def _over_slick(batch: Batch, after: Floats, ground: _Ground, shift: int) -> Floats:
    """Return u at the start of a slick of ``shift`` cells that ends on ``after``."""
    out = 2.0 * ground.gain
    moved = after[:-shift] + 2.0 * (ground.gain[shift:] - ground.gain[:-shift])
    beyond = _nodes(batch)[shift:, None] - ground.first >= shift
    out[shift:] = np.where(beyond, moved, out[shift:])
    return out


def _react_before(batch: Batch, start: Floats, ground: _Ground, step: int) -> Floats:
    """Move a ceiling outward by reaction and dead time spent before the slick."""
    row, phi = batch.force_row(step), batch.step_share[np.arange(batch.cases), step]
    wait = batch.settings.reaction + batch.dead_time
    nodes = batch.distance(_nodes(batch))[:, None] * np.ones(batch.cases)
    speed = np.sqrt(np.maximum(start, 0.0))
    top = full_force(batch, row, speed)
    rise = np.clip((top - ground.held) / batch.ramp, 0.0, wait)
    level = top - (top - ground.held) * rise / (2.0 * wait)
    cell = cell_of(batch, nodes + 0.5 * wait * speed)
    actual, _ = batch.decelerate_at(cell, start.clip(0.0), row, phi, level)
    earlier = np.maximum(speed + np.minimum(actual, 0.0) * wait, 0.0)
    quick = np.maximum(speed + actual * wait, 0.0)
    distance = nodes + 0.5 * wait * (speed + quick)
    moved = Moment(distance, np.where(actual > 0, quick, earlier))
    nothing = Moment(np.empty((0, batch.cases)), np.empty((0, batch.cases)))
    valid = start > 0
    out = slower_envelope(batch, nothing, moved, valid) if valid.any() else start
    return np.where(start > 0, out, np.minimum(start, 0.0))
