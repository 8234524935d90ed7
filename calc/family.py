"""The family of plans a driver would recognise, and what each would be like.

Three kinds: one step all the way; a heavier step eased to the lightest near the mark;
or braking as if the mark were nearer, releasing at a run-in speed, running in, and
stopping with the lightest step. All plans of all cases are marched back together.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .batch import Batch, Flags, Floats, Ints
from .cover import Ceilings
from .joins import Joins, distance_at, joins, value_at
from .model import TableInput
from .ramps import Moment, cell_of, full_force, release_point
from .sweep import march_back

#: Covers that plans are compared by, besides those asked for [m].
AIMS = (40.0, 80.0, 120.0, 200.0, 300.0, 400.0)
#: Slowest speed a run-in may have been released at [m/s].
_LEAST_RUN = 2.0


@dataclass(frozen=True)
class Family:
    """All plans: first step, metres aimed short, run-in or easing speed; (plans,)."""

    step: Ints
    aim: Floats
    near_speed: Floats

    @property
    def eased(self) -> Flags:
        """Plans that ease to the lightest step without a release between."""
        return np.asarray((self.near_speed > 0) & (self.aim == 0))

    @property
    def run_in(self) -> Flags:
        """Plans that release once and run in."""
        return np.asarray(self.aim > 0)


@dataclass(frozen=True)
class Start:
    """Where the first application ends, for each plan and case.

    Attributes
    ----------
    handle : Moment
        Where the handle leaves the first step.
    after : Moment
        Where the lower force is reached.
    last : Moment
        Where the handle moves for the last application (run-in plans).
    seconds : numpy.ndarray
        From ``handle`` to the mark. [s]
    possible : numpy.ndarray of bool
    """

    handle: Moment
    after: Moment
    last: Moment
    seconds: Floats
    possible: Flags


@dataclass(frozen=True)
class Scores:
    """What each plan would be like at the top approach speed; (plans, cases).

    ``stops_worse`` tells whether it still stops before the limit one state worse.
    """

    possible: Flags
    quiet: Flags
    slows: Flags
    stops_worse: Flags
    brake: Floats
    cost: Floats
    level: Ints
    start: Start


def make_family(given: TableInput) -> Family:
    """List the plans of PHYSICS: steps up to the usual one, aims and run-in speeds.

    Parameters
    ----------
    given : TableInput

    Returns
    -------
    Family
        The same plans for every case; those a train may not use are left out later.
    """
    settings = given.settings
    heaviest = max(min(t.usual_step, len(t.steps) - 2) for t in given.trains)
    plans: list[tuple[int, float, float]] = []
    for step in range(max(heaviest, 0) + 1):
        plans.append((step, 0.0, 0.0))
        if step > 0:
            plans += [(step, 0.0, speed) for speed in settings.run_in_speeds]
        plans += [(step, a, v) for a in settings.aim_short for v in settings.run_in_speeds]
    step_, aim, near = zip(*plans, strict=True)
    return Family(np.array(step_), np.array(aim), np.array(near))


def allowed_steps(batch: Batch, given: TableInput) -> Ints:
    """Return the heaviest first step each case may use, keeping one in hand.

    Parameters
    ----------
    batch : Batch
    given : TableInput

    Returns
    -------
    numpy.ndarray of int, shape (cases,)
        Index of a step; 0 where a train has only two.
    """
    most = [max(min(t.usual_step, len(t.steps) - 2), 0) for t in given.trains]
    return np.array(most)[batch.index.train]


def last_joins(batch: Batch) -> Joins:
    """Return the lightest step's curve to the mark, with its joining points.

    Parameters
    ----------
    batch : Batch

    Returns
    -------
    Joins
        Shapes (nodes, cases).
    """
    return joins(batch, 0, np.full(batch.cases, batch.before), batch.goal)


def family_starts(batch: Batch, family: Family, last: Joins, plain: dict[int, Joins]) -> Start:
    """Work out where each plan's first application must end. Shapes (plans, cases).

    Parameters
    ----------
    batch : Batch
    family : Family
    last : Joins
        The lightest step's curve to the mark.
    plain : dict of Joins
        Each step's own curve to the mark, by step.

    Returns
    -------
    Start
        ``possible`` is False where an aim leaves no room to run in, or the target isn't a
        stop.
    """
    shape = (family.step.size, batch.cases)
    near = np.broadcast_to(family.near_speed[:, None], shape)
    steps = np.broadcast_to(family.step[:, None], shape)
    phi = batch.step_share[np.arange(batch.cases), steps]
    row = batch.force_row(steps)
    last_handle = _at_near_speed(family, last.handle_speed, last.handle)
    eased_at = _at_near_speed(family, last.speed, last.distance)
    pairs = list(zip(family.step.tolist(), family.near_speed.tolist(), strict=True))
    reached = {(k, v): distance_at(plain[k], v) for k, v in set(pairs)}
    aimed = np.stack([reached[pair] for pair in pairs])
    aimed = aimed + family.aim[:, None]
    aimed = np.ceil(aimed / batch.cell) * batch.cell
    slow, coast_seconds = _coast_back(batch, last_handle, aimed, near)
    eased = family.eased[:, None]
    after = Moment(
        np.where(eased, eased_at, aimed), np.where(eased, near, np.sqrt(np.maximum(slow, 0)))
    )
    low = np.where(eased, full_force(batch, batch.force_row(0), near), 0.0)
    handle, seconds = release_point(batch, after, row, phi, low)
    seconds = seconds + np.where(
        eased,
        _at_near_speed(family, last.speed, last.seconds),
        coast_seconds + _at_near_speed(family, last.handle_speed, last.handle_seconds),
    )
    fits = (aimed >= last_handle) & (slow > _LEAST_RUN**2)
    possible = np.where(eased, np.isfinite(eased_at), fits & np.isfinite(aimed))
    one = (family.near_speed == 0)[:, None]
    mark = np.zeros(shape)
    goal = np.broadcast_to(np.sqrt(batch.goal), shape)
    return Start(
        Moment(np.where(one, mark, handle.distance), np.where(one, goal, handle.speed)),
        Moment(np.where(one, mark, after.distance), np.where(one, goal, after.speed)),
        Moment(np.where(one | eased, np.nan, last_handle), near),
        np.where(one, 0.0, seconds),
        one | ((batch.goal == 0) & possible),
    )


def _at_near_speed(family: Family, speeds: Floats, values: Floats) -> Floats:
    """Read a curve at each plan's run-in or easing speed. Shape (plans, cases)."""
    few, place = np.unique(family.near_speed, return_inverse=True)
    wanted = np.broadcast_to(few[:, None], (few.size, speeds.shape[1]))
    return np.asarray(value_at(speeds, values, wanted)[place])


def _coast_back(
    batch: Batch, near: Floats, far: Floats, speed: Floats
) -> tuple[Floats, Floats]:
    """Return u where a run-in begins, and its seconds.

    On a falling stretch the train gathers speed running in, so it must have been
    released slower; on a rising one the driver holds the speed with power.
    """
    out = np.empty_like(far)
    nodes = batch.distance(np.arange(batch.cells + 1))
    for value in np.unique(speed[:, 0]):
        mine = speed[:, 0] == value
        place = batch.force.place_of(np.array([value**2]))
        rest = batch.resistance.at(batch.index.train, place) + batch.grade
        gather = np.minimum(rest, 0.0) / (1.0 + batch.rotating)
        total = np.zeros((batch.cells + 1, batch.cases))
        np.cumsum(gather * batch.cell, axis=0, out=total[1:])
        for lane in range(batch.cases):
            path = np.interp(far[mine, lane], nodes, total[:, lane]) - np.interp(
                near[mine, lane], nodes, total[:, lane]
            )
            out[mine, lane] = value**2 + 2.0 * path
    mean = 0.5 * (speed + np.sqrt(np.maximum(out, 0.0)))
    seconds = (far - near) / np.maximum(mean, 0.1)
    return out, seconds


def score_family(
    batch: Batch,
    given: TableInput,
    family: Family,
    starts: Start,
    ceiling: dict[int, Ceilings],
    worse_ceiling: dict[int, Floats],
    last: Joins,
    top_speed: Floats,
) -> Scores:
    """March every plan back to the top approach speed and note what it would be like.

    Build-up is taken into the brake point by its mean here; the chosen plan is worked
    out exactly afterwards.

    Parameters
    ----------
    batch : Batch
    given : TableInput
    family : Family
    starts : Start
    ceiling, worse_ceiling : dict
        By step: ceilings of u on the planned rail, and (nodes, cases) one state worse.
    last : Joins
        The lightest step's curve to the mark.
    top_speed : numpy.ndarray, shape (cases,)
        Fastest approach of each case. [m/s]

    Returns
    -------
    Scores
        ``brake`` in metres before the mark, ``cost`` in seconds over a run at ``top_speed``;
        ``level`` is how many of `AIMS` the plan covers.
    """
    steps = np.broadcast_to(family.step[:, None], starts.possible.shape)
    phi = batch.step_share[np.arange(batch.cases), steps]
    row = batch.force_row(steps)
    node, first, gap = enter_grid(batch, starts.handle, row, phi)
    goal = top_speed**2
    seconds = starts.seconds + gap
    quiet, slows, level, stops_worse = _near_part(
        batch, family, ceiling, worse_ceiling[0], last
    )
    limits = np.stack([_picked(ceiling[k]) for k in sorted(ceiling)], axis=1)
    limits_worse = np.stack([worse_ceiling[k] for k in sorted(worse_ceiling)])
    done = first >= goal
    brake = np.where(done, starts.handle.distance, np.nan)
    for stride in march_back(batch, row, phi, node, first):
        live = stride.active & ~done
        quiet &= ~(stride.slid & live)
        slows &= ~live | (stride.actual >= batch.settings.slowing)
        passed = (np.minimum(stride.far, goal) <= limits[:, family.step, stride.node + 1]).sum(
            axis=0
        )
        level = np.where(live, np.minimum(level, passed), level)
        below = np.minimum(stride.far, goal) <= limits_worse[family.step, stride.node + 1]
        stops_worse &= ~live | below
        ended = live & (stride.far >= goal)
        part = (goal - stride.near) / np.maximum(stride.far - stride.near, 1e-9)
        part = np.where(ended, np.clip(part, 0.0, 1.0), 1.0)
        reached = np.minimum(stride.far, goal)
        pace = np.sqrt(np.maximum(stride.near, 0.0)) + np.sqrt(np.maximum(reached, 1e-9))
        seconds = np.where(live, seconds + 2.0 * part * batch.cell / pace, seconds)
        at = batch.distance(stride.node) + part * batch.cell
        brake = np.where(ended, at, brake)
        done |= ended
        if done.all():
            break
    wait = batch.dead_time + 0.5 * full_force(batch, row, top_speed + 0 * seconds) / batch.ramp
    brake = brake + (wait + batch.settings.late) * top_speed
    possible = starts.possible & np.isfinite(brake) & done
    possible &= (family.near_speed[:, None] < top_speed) | (family.near_speed == 0)[:, None]
    cost = seconds + wait + batch.settings.late - brake / top_speed
    return Scores(possible, quiet, slows, stops_worse, brake, cost, level, starts)


def enter_grid(
    batch: Batch, handle: Moment, row: Ints, phi: Floats
) -> tuple[Ints, Floats, Floats]:
    """Step from a point between nodes to the next node out: node, u there, seconds.

    Parameters
    ----------
    batch : Batch
    handle : Moment, shape (..., cases)
        The point. NaN counts as the mark, at a stand.
    row, phi : numpy.ndarray, shape (..., cases)
        Row of brake force, and share of the weight that brakes.

    Returns
    -------
    node : numpy.ndarray of int
    first : numpy.ndarray
        u at that node. [m2/s2]
    seconds : numpy.ndarray
        From there to the point; all (..., cases). [s]
    """
    distance = np.nan_to_num(handle.distance)
    speed = np.nan_to_num(handle.speed)
    node = np.ceil(distance / batch.cell - 1e-9).astype(np.int64) + batch.before
    node = np.minimum(node, batch.cells)
    rest = np.maximum(batch.distance(node) - distance, 0.0)
    cap = np.full(distance.shape, np.inf)
    actual, _ = batch.decelerate_at(cell_of(batch, distance), speed**2, row, phi, cap)
    first = speed**2 + 2.0 * rest * np.maximum(actual, 0.0)
    return node, first, 2.0 * rest / np.maximum(speed + np.sqrt(first), 0.1)


def _picked(ceiling: Ceilings) -> Floats:
    """Return the ceilings at the compared covers. Shape (aims, nodes, cases)."""
    return ceiling.u[np.searchsorted(ceiling.lengths, AIMS)]


def _near_part(
    batch: Batch,
    family: Family,
    ceiling: dict[int, Ceilings],
    worse_ceiling: Floats,
    last: Joins,
) -> tuple[Flags, Flags, Ints, Flags]:
    """Return whether the last application is quiet and slows, and the covers it keeps.

    At the end whether it stops before the limit one state worse.
    """
    u = last.speed**2
    passed = (u <= _picked(ceiling[0])).sum(axis=0)
    nodes = np.arange(batch.cells + 1)[:, None]
    lowest = np.minimum.accumulate(np.where(nodes < batch.before, len(AIMS), passed), axis=0)
    below = np.logical_and.accumulate((nodes < batch.before) | (u <= worse_ceiling), axis=0)
    shape = (family.step.size, batch.cases)
    quiet, slows = np.ones(shape, dtype=bool), np.ones(shape, dtype=bool)
    stops_worse = np.ones(shape, dtype=bool)
    level = np.full(shape, len(AIMS))
    lane = np.arange(batch.cases)
    for plan, speed in enumerate(family.near_speed):
        if speed > 0:
            at = np.minimum((u <= speed**2).sum(axis=0) + batch.before, batch.cells)
            level[plan] = lowest[at, lane]
            quiet[plan], slows[plan] = last.quiet[at, lane], last.slows[at, lane]
            stops_worse[plan] = below[at, lane]
    return quiet, slows, level, stops_worse
