"""First applications that are left before their force is full.

From a little above the run-in speed a full application would take off too much, so a
driver leaves it early: the force rises to a peak and falls at once.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .batch import Batch, Flags, Floats, Ints
from .ramps import Moment, back_in_time, full_force

#: Peaks that are worked out, as shares of the way from the lower force to the full one.
_PEAKS = (0.05, 0.2, 0.4, 0.6, 0.8, 1.0)


@dataclass(frozen=True)
class Touches:
    """Where and how fast the brake controller moves for each peak, and seconds to the mark.

    All (peaks, cases), the lowest peak first.
    """

    speed: Floats
    handle: Floats
    seconds: Floats


def touches(batch: Batch, after: Moment, seconds: Floats, step: Ints, eased: Flags) -> Touches:
    """Step back from the end of the first application through each peak.

    Parameters
    ----------
    after : Moment
        Where the lower force is reached, shape (cases,).
    seconds : numpy.ndarray
        From leaving the full application to the mark. [s]
    step : numpy.ndarray of int
        First step of each case.
    eased : numpy.ndarray of bool
        Whether the lower force is the lightest step's, else none.

    Returns
    -------
    Touches
        Shape (peaks, cases).

    Notes
    -----
    A step cannot be left before it begins to act, and acts on for the dead time: no
    peak is below what builds up in that.
    """
    row, phi = batch.force_row(step), batch.step_share[np.arange(batch.cases), step]
    full = full_force(batch, row, after.speed)
    low = np.where(eased, full_force(batch, batch.force_row(0), after.speed), 0.0)
    top = np.maximum(full, low)
    least = np.minimum(batch.ramp * batch.dead_time, top)
    remaining = seconds - (top - low) / batch.release_ramp - batch.dead_time
    zero = np.zeros_like(top)
    found = []
    for share in _PEAKS:
        peak = np.maximum(low + share * (top - low), least)
        fall, rise = (peak - low) / batch.release_ramp, peak / batch.ramp
        falling = back_in_time(batch, after, row, phi, low, peak, fall)
        bite = back_in_time(batch, falling, row, phi, peak, zero, rise)
        handle = back_in_time(batch, bite, row, phi, zero, zero, batch.dead_time, substeps=1)
        spent = remaining + fall + rise + batch.dead_time
        found.append((handle.speed, handle.distance, spent))
    speed, distance, spent = (np.stack(column) for column in zip(*found, strict=True))
    return Touches(speed, distance, spent)
