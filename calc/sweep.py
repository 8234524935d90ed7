"""Braking curves: one sweep backward from the target in u = v2 serves every speed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from .batch import Batch, Flags, Floats, Ints

#: Slack below which an actual deceleration counts as the asked one [m/s2].
SLIDE_SLACK = 1e-9


@dataclass(frozen=True)
class Stride:
    """One cell of a sweep: u at its near and far node, and what happened in it."""

    node: int
    active: Flags
    near: Floats
    far: Floats
    actual: Floats
    slid: Flags


def march_back(
    batch: Batch, force_row: Ints, phi: Floats, start: Ints, first: Floats
) -> Iterator[Stride]:
    """Walk away from the target cell by cell, yielding each cell's stride.

    Parameters
    ----------
    batch : Batch
    force_row, phi : numpy.ndarray, shape (..., cases)
        Row of brake force and share of the weight that brakes.
    start : numpy.ndarray of int, shape (..., cases)
        Node where each lane begins; before it the lane stands still at ``first``.
    first : numpy.ndarray, shape (..., cases)
        u at the start. [m2/s2]

    Yields
    ------
    Stride
        Arrays of shape (..., cases); ``far`` is the next one's ``near``, not to be changed.

    Notes
    -----
    Midpoint rule with one evaluation a cell, at u_mid = u + a_prev ds (at the start
    a_prev is worked out first: from a stand it would otherwise cost 0.5 %). A lane whose
    deceleration is not positive keeps its u: there is no curve beyond, and the caller
    sees it in ``actual``.
    """
    u = np.array(np.broadcast_to(first, np.broadcast_shapes(first.shape, start.shape)))
    begin, all_begun = int(np.min(start)), int(np.max(start))
    free = np.full(u.shape, np.inf)
    slow = np.maximum(batch.decelerate_at(start, u, force_row, phi, free)[0], 0.0)
    for node in range(begin, batch.cells):
        actual, asked = batch.decelerate(node, u + slow * batch.cell, force_row, phi)
        active = start <= node
        slid = actual < asked - SLIDE_SLACK
        if node >= all_begun:
            slow = np.maximum(actual, 0.0)
            far = u + (2.0 * batch.cell) * slow
        else:
            slid &= active
            slow = np.where(active, np.maximum(actual, 0.0), slow)
            far = np.where(active, u + (2.0 * batch.cell) * slow, u)
        yield Stride(node, active, u, far, actual, slid)
        u = far


def curve(
    batch: Batch, step: Ints | int, start: Ints, first: Floats
) -> tuple[Floats, Floats, Flags]:
    """Sweep one step's curve: u at every node, deceleration and sliding in every cell.

    Parameters
    ----------
    batch : Batch
    step : int or numpy.ndarray of int, shape (cases,)
        Index of the step that is held.
    start : numpy.ndarray of int, shape (cases,)
        Node where each curve begins; nodes before it are NaN.
    first : numpy.ndarray, shape (cases,)
        u at the start. [m2/s2]

    Returns
    -------
    u : numpy.ndarray, shape (cells + 1, cases)
        [m2/s2]
    actual : numpy.ndarray, shape (cells, cases)
        Deceleration. [m/s2]
    slid : numpy.ndarray of bool, shape (cells, cases)
        Whether any wheelset slides in the cell at that speed.
    """
    steps = np.broadcast_to(np.asarray(step, dtype=np.int64), (batch.cases,))
    phi = batch.step_share[np.arange(batch.cases), steps]
    u = np.full((batch.cells + 1, batch.cases), np.nan)
    actual = np.full((batch.cells, batch.cases), np.nan)
    slid = np.zeros((batch.cells, batch.cases), dtype=bool)
    u[start, np.arange(batch.cases)] = first
    for stride in march_back(batch, batch.force_row(steps), phi, start, first):
        np.copyto(u[stride.node + 1], stride.far, where=stride.active)
        np.copyto(actual[stride.node], stride.actual, where=stride.active)
        slid[stride.node] = stride.slid
    return u, actual, slid


def curve_from_limit(batch: Batch, step: Ints | int, batch_cells: Batch) -> Floats:
    """Return u of the curve to the limit itself, at every node.

    Parameters
    ----------
    batch : Batch
        Says where the limit is and what speed is allowed there.
    step : int or numpy.ndarray of int, shape (cases,)
        Index of the step that is held.
    batch_cells : Batch
        The cells to sweep over; may carry other data than ``batch`` (listed places
        lengthened for cylinders that refill).

    Returns
    -------
    numpy.ndarray, shape (cells + 1, cases)
        NaN past the limit. [m2/s2]
    """
    whole = np.floor(batch.margin / batch.cell).astype(np.int64)
    start = batch.before - whole
    rest = batch.margin - whole * batch.cell
    u0 = batch.goal.copy()
    steps = np.broadcast_to(np.asarray(step, dtype=np.int64), (batch.cases,))
    phi = batch.step_share[np.arange(batch.cases), steps]
    row = batch.force_row(steps)
    cap = np.full(batch.cases, np.inf)
    actual, _ = batch_cells.decelerate_at(start - 1, u0, row, phi, cap)
    first = u0 + 2.0 * rest * np.maximum(actual, 0.0)
    return curve(batch_cells, steps, start, first)[0]
