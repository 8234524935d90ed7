"""Brake force that builds up and falls: steps back in time from a point of a curve."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .batch import Batch, Floats, Ints


@dataclass(frozen=True)
class Moment:
    """Where a train is and how fast: metres before the mark, metres a second."""

    distance: Floats
    speed: Floats


def cell_of(batch: Batch, distance: Floats) -> Ints:
    """Return the cell a distance before the mark lies in (the far side of a node).

    Parameters
    ----------
    batch : Batch
    distance : numpy.ndarray, shape (..., cases)
        Metres before the mark; what is not finite counts as the mark itself. [m]

    Returns
    -------
    numpy.ndarray of int, shape (..., cases)
        May lie outside the batch's cells.
    """
    safe = np.where(np.isfinite(distance), distance, 0.0)
    return np.floor(safe / batch.cell + 1e-9).astype(np.int64) + batch.before


def back_in_time(
    batch: Batch,
    later: Moment,
    row: Ints,
    phi: Floats,
    level_from: Floats,
    level_to: Floats,
    duration: Floats,
    substeps: int = 4,
) -> Moment:
    """Step back over a stretch of time in which the force level changes evenly.

    Parameters
    ----------
    later : Moment
        At the end of the stretch; shape (..., cases).
    row, phi : numpy.ndarray
        Row of brake force and share of the weight that brakes.
    level_from, level_to : numpy.ndarray
        Force level per unit mass at the end and at the start of the stretch, that is in
        the order of walking back. [m/s2]
    duration : numpy.ndarray
        [s]

    Returns
    -------
    Moment
        At the start of the stretch; shape (..., cases).

    Notes
    -----
    Midpoint rule, four substeps; the force is the smaller of level and step.
    """
    distance, speed = later.distance, later.speed
    tick = duration / substeps
    for i in range(substeps):
        level = level_from + (level_to - level_from) * ((i + 0.5) / substeps)
        middle = distance + 0.5 * tick * speed
        here, _ = batch.decelerate_at(cell_of(batch, middle), speed**2, row, phi, level)
        half = np.maximum(speed + 0.5 * tick * here, 0.0)
        actual, _ = batch.decelerate_at(cell_of(batch, middle), half**2, row, phi, level)
        earlier = np.maximum(speed + tick * actual, 0.0)
        distance = distance + 0.5 * tick * (speed + earlier)
        speed = earlier
    return Moment(distance, speed)


def full_force(batch: Batch, row: Ints, speed: Floats) -> Floats:
    """Return the force per unit mass that a step asks for at a speed.

    Parameters
    ----------
    batch : Batch
    row : numpy.ndarray of int, shape (..., cases)
        Row of the batch's table of brake force.
    speed : numpy.ndarray, shape (..., cases)
        NaN counts as a stand. [m/s]

    Returns
    -------
    numpy.ndarray, shape (..., cases)
        [m/s2]
    """
    place = batch.force.place_of(np.nan_to_num(speed) ** 2)
    return np.asarray(batch.force.at(row, place))


def brake_point(
    batch: Batch, steady: Moment, row: Ints, phi: Floats
) -> tuple[Moment, Moment, Floats]:
    """Return where the brake controller must move so that a point of the curve is met.

    Parameters
    ----------
    batch : Batch
    steady : Moment
        The point of the curve at which the step's full force acts; shape (..., cases).
    row, phi : numpy.ndarray, shape (..., cases)
        Row of brake force and share of the weight that brakes.

    Returns
    -------
    handle : Moment
        When the brake controller moves, brake off before it.
    bite : Moment
        When the first force comes, after the dead time.
    duration : numpy.ndarray
        From the controller's move to full force. [s]
    """
    top = full_force(batch, row, steady.speed)
    zero = np.zeros_like(top)
    rise = top / batch.ramp
    bite = back_in_time(batch, steady, row, phi, top, zero, rise)
    dead = np.broadcast_to(batch.dead_time, top.shape)
    handle = back_in_time(batch, bite, row, phi, zero, zero, dead, substeps=1)
    return handle, bite, rise + dead


def release_point(
    batch: Batch, after: Moment, row: Ints, phi: Floats, low: Floats
) -> tuple[Moment, Floats]:
    """Return where the controller must leave a step so that ``after`` is met at ``low``.

    Parameters
    ----------
    batch : Batch
    after : Moment
        When the lower level is reached; shape (..., cases).
    row, phi : numpy.ndarray, shape (..., cases)
        Row of brake force and share of the weight that brakes, of the step that is left.
    low : numpy.ndarray, shape (..., cases)
        The lower level of force per unit mass. [m/s2]

    Returns
    -------
    handle : Moment
        When the brake controller moves.
    duration : numpy.ndarray
        From the controller's move until the lower level is reached. [s]
    """
    top = np.maximum(full_force(batch, row, after.speed), low)
    fall = (top - low) / batch.release_ramp
    falling = back_in_time(batch, after, row, phi, low, top, fall)
    dead = np.broadcast_to(batch.dead_time, top.shape)
    handle = back_in_time(batch, falling, row, phi, top, top, dead, substeps=2)
    return handle, fall + dead
