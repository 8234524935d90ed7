"""A state in hand: what a plan comes to on a rail one state worse than planned.

A driver guesses the rail. Where the plan is quiet on the next state a driver may pick,
nothing changes when he guessed one state too good; on the better rails it is enough that
the train, its step held and then the highest service step applied after the reaction
time, still stops before the limit there. Emergency stays unspent.
"""

from __future__ import annotations

import numpy as np

from .batch import Batch, Flags, Floats, Ints
from .cover import slower_envelope
from .ramps import Moment, back_in_time, full_force


def worse_ceilings(
    batch: Batch, recovery: Floats, steps: list[int], worse: Ints
) -> dict[int, Floats]:
    """Return u up to which a slide one state worse is still stopped before the limit.

    Parameters
    ----------
    batch : Batch
    recovery : numpy.ndarray, shape (nodes, cases)
        u of the curve of the highest service step to the limit. [m2/s2]
    steps : list of int
        First steps of the family.
    worse : numpy.ndarray of int, shape (cases,)
        Lane of the same case one state worse, -1 where there is none.

    Returns
    -------
    dict of numpy.ndarray, shape (nodes, cases)
        By step held when the slide begins; -1 where there is no worse state. [m2/s2]
    """
    if batch.settings.quiet_from < 0:
        return {step: np.full(recovery.shape, -1.0) for step in steps}
    nodes = batch.distance(np.arange(batch.cells + 1))[:, None] * np.ones(batch.cases)
    speed = np.sqrt(np.maximum(np.nan_to_num(recovery), 0.0))
    top_row, top_phi = batch.force_row(batch.steps - 1), batch.step_share[:, -1]
    wait = batch.settings.reaction + batch.dead_time + 0.0 * speed
    none = Moment(np.empty((0, batch.cases)), np.empty((0, batch.cases)))
    out = {}
    for step in steps:
        row, phi = batch.force_row(step), batch.step_share[np.arange(batch.cases), step]
        level = full_force(batch, row, speed)
        top = np.maximum(full_force(batch, top_row, speed), level)
        rise = (top - level) / batch.ramp
        rising = back_in_time(batch, Moment(nodes, speed), top_row, top_phi, top, level, rise)
        slid = back_in_time(batch, rising, row, phi, level, level, wait)
        u = slower_envelope(batch, none, slid, np.isfinite(recovery))
        out[step] = np.where(worse >= 0, u[:, np.maximum(worse, 0)], -1.0)
    return out


def in_hand(
    batch: Batch, quiet: Flags, stops_worse: Flags, possible: Flags, worse: Ints
) -> Flags:
    """Tell which plans leave each case a state in hand. Shape (plans, cases).

    ``quiet`` and ``possible`` are each plan's on its own rail, ``stops_worse`` whether it
    stays below `worse_ceilings` all the way. A board of a lower speed asks for none:
    there a plan that slows sooner would let the mark of the stop behind it come later.

    Parameters
    ----------
    batch : Batch
    quiet, stops_worse, possible : numpy.ndarray of bool, shape (plans, cases)
    worse : numpy.ndarray of int, shape (cases,)
        Lane of the same case one state worse, -1 where there is none.

    Returns
    -------
    numpy.ndarray of bool, shape (plans, cases)
    """
    if batch.settings.quiet_from < 0:
        return np.zeros(quiet.shape, dtype=bool)
    same = np.maximum(worse, 0)
    quiet_worse = quiet[:, same] & possible[:, same]
    stops = stops_worse & (batch.index.state < batch.settings.quiet_from)
    return np.asarray((quiet_worse | stops) & (worse >= 0) & (batch.goal == 0))
