"""Joining a steady curve: for each of its points, where the handle must have moved."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .batch import Batch, Flags, Floats, Ints
from .ramps import Moment, brake_point
from .sweep import curve


@dataclass(frozen=True)
class Joins:
    """A steady curve at the nodes, and the approach that joins it at each.

    All (nodes, cases); NaN outside the curve. Distances before the mark, seconds to it.
    ``quiet`` and ``slows`` tell whether no wheelset slides, and whether the train still
    slows by the least deceleration, all the way from the node to the mark.
    """

    distance: Floats
    speed: Floats
    seconds: Floats
    handle: Floats
    handle_speed: Floats
    handle_seconds: Floats
    bite: Floats
    quiet: Flags
    slows: Flags


def joins(batch: Batch, step: int | Ints, start: Ints, first: Floats) -> Joins:
    """Sweep a step's curve and return it with its joining points.

    Where the curve stops slowing there is nothing to join: NaN. ``step``, ``start`` and
    ``first`` as in `sweep.curve`.

    Parameters
    ----------
    batch : Batch
    step : int or numpy.ndarray of int, shape (cases,)
    start : numpy.ndarray of int, shape (cases,)
    first : numpy.ndarray, shape (cases,)

    Returns
    -------
    Joins
    """
    u, actual, slid = curve(batch, step, start, first)
    steps = np.broadcast_to(np.asarray(step, dtype=np.int64), (batch.cases,))
    phi = batch.step_share[np.arange(batch.cases), steps]
    distance = batch.distance(np.arange(batch.cells + 1))[:, None] + np.zeros(batch.cases)
    slows = np.vstack([np.ones((1, batch.cases), dtype=bool), ~(actual <= 0.02)])
    alive = np.logical_and.accumulate(slows, axis=0) & np.isfinite(u)
    speed = np.where(alive, np.sqrt(np.where(alive, u, 0.0)), np.nan)
    seconds = seconds_along(distance, speed)
    steady = Moment(distance, np.nan_to_num(speed))
    handle, bite, duration = brake_point(batch, steady, batch.force_row(steps), phi)
    nothing = np.where(alive, 0.0, np.nan)
    return Joins(
        distance + nothing,
        speed,
        seconds,
        np.maximum.accumulate(np.nan_to_num(handle.distance), axis=0) + nothing,
        handle.speed + nothing,
        seconds + duration,
        bite.distance + nothing,
        _so_far(~slid),
        _so_far(~(actual < batch.settings.slowing)),
    )


def _so_far(good: Flags) -> Flags:
    """Return, at every node, whether all cells nearer the mark were good."""
    first = np.ones((1, good.shape[1]), dtype=bool)
    return np.asarray(np.logical_and.accumulate(np.vstack([first, good]), axis=0))


def seconds_along(distance: Floats, speed: Floats) -> Floats:
    """Return the seconds from each node of a curve to its start. [s].

    Parameters
    ----------
    distance, speed : numpy.ndarray, shape (nodes, cases)
        Metres before the mark and speed there, NaN outside the curve. [m, m/s]

    Returns
    -------
    numpy.ndarray, shape (nodes, cases)
        [s]
    """
    pace = speed[1:] + speed[:-1]
    with np.errstate(divide="ignore", invalid="ignore"):
        each = 2.0 * np.diff(distance, axis=0) / pace
    total = np.zeros_like(speed)
    np.cumsum(np.nan_to_num(each, posinf=0.0), axis=0, out=total[1:])
    return np.asarray(np.where(np.isfinite(speed), total, np.nan), dtype=np.float64)


def value_at(speeds: Floats, values: Floats, wanted: Floats) -> Floats:
    """Interpolate values over speed, lane by lane; NaN beyond the curve.

    ``speeds`` and ``values`` are (nodes, cases), ``wanted`` (plans, cases).

    Parameters
    ----------
    speeds, values : numpy.ndarray, shape (nodes, cases)
        Speed [m/s], and any value there.
    wanted : numpy.ndarray, shape (plans, cases)
        [m/s]

    Returns
    -------
    numpy.ndarray, shape (plans, cases)
        In the unit of ``values``.
    """
    out: Floats = np.empty(wanted.shape)
    for lane in range(wanted.shape[1]):
        known = np.isfinite(speeds[:, lane]) & np.isfinite(values[:, lane])
        at = np.maximum.accumulate(speeds[known, lane]) if known.any() else np.array([0.0])
        held = values[known, lane] if known.any() else np.array([np.nan])
        out[:, lane] = np.interp(wanted[:, lane], at, held, right=np.nan)
    return out


def distance_at(curve: Joins, speed: float) -> Floats:
    """Return how far before the mark a curve has a speed. Shape (cases,), NaN if never.

    Parameters
    ----------
    curve : Joins
    speed : float
        [m/s]

    Returns
    -------
    numpy.ndarray, shape (cases,)
        [m]
    """
    wanted = np.full((1, curve.speed.shape[1]), speed)
    return np.asarray(value_at(curve.speed, curve.distance, wanted)[0])
