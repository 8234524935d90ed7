"""How fast a train can be going on its way to a target, and where braking meets that.

The line's permanent speeds, what is reachable since the previous stop, and the train's
own top speed give an envelope; the advised brake point follows from where it meets the
joining points of the advised curve.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .model import Line, Target, Train

Floats = NDArray[np.float64]


def speed_envelope(line: Line, target: Target, train: Train, at: Floats) -> Floats:
    """Return the highest speed a train can have at places before a target. [m/s].

    Parameters
    ----------
    line, target, train
        The target supplies where the train last stood, if anywhere.
    at : numpy.ndarray, shape (n,)
        Places along the line, rising. [m]

    Returns
    -------
    numpy.ndarray, shape (n,)
        0 at and before the place where the train last stood. [m/s]

    Notes
    -----
    Neither the slowing down for a lower speed ahead nor the train's length at a higher
    one is counted: both would only make the train slower. Acceleration is bounded by
    the train's greatest, after the previous stop and after each lower speed.
    """
    index = np.searchsorted(np.asarray(line.limit_from), at, side="right") - 1
    limits = np.asarray(line.limit_speed)[np.clip(index, 0, len(line.limit_speed) - 1)]
    limits = np.minimum(limits, train.max_speed)
    gap = np.diff(at, prepend=at[0])
    u = np.empty_like(at)
    began = np.isfinite(target.start)
    reached = 0.0 if began else float(limits[0]) ** 2
    for i, place in enumerate(at):
        if began and place <= target.start:
            u[i] = 0.0
            continue
        run = min(float(gap[i]), float(place) - target.start) if began else float(gap[i])
        reached = min(reached + 2.0 * train.acceleration * run, float(limits[i]) ** 2)
        u[i] = reached
    return np.sqrt(u)


def slowed_for_boards(
    line: Line, at: Floats, envelope: Floats, rate: float, mark: float
) -> Floats:
    """Lower an envelope to what slows for each board before a mark at a given rate. [m/s].

    Parameters
    ----------
    at, envelope : numpy.ndarray, shape (n,)
        Places along the line, rising, and speeds there. [m, m/s]
    rate : float
        Deceleration towards each board. [m/s2]
    mark : float
        Where the target is; its own board does not count. [m]

    Returns
    -------
    numpy.ndarray, shape (n,)
        A new array, nowhere above ``envelope``. [m/s]
    """
    out = envelope.copy()
    for board, before, after in zip(
        line.limit_from[1:], line.limit_speed, line.limit_speed[1:], strict=False
    ):
        if after < before and board < mark - 1e-6:
            run = np.maximum(board - at, 0.0)
            bound = np.sqrt(after**2 + 2.0 * rate * run)
            out = np.where(at < board, np.minimum(out, bound), out)
    return out


def meeting(envelope: Floats, distance: Floats, speeds: Floats, brake: Floats) -> float:
    """Return the speed at which a train meets the advised brake points. [m/s].

    Parameters
    ----------
    envelope, distance : numpy.ndarray, shape (n,)
        Speed reachable at distances before the mark, the distances falling.
    speeds, brake : numpy.ndarray, shape (k,)
        Brake point for each approach speed; NaN where there is none.

    Returns
    -------
    float
        NaN where the train is still faster than the brake points are known for when
        it comes to the farthest of them.
    """
    known = np.isfinite(brake)
    if not known.any():
        return float("nan")
    top, end = speeds[known][-1], brake[known][-1]
    inside = np.flatnonzero((distance >= 0) & (distance <= end))
    if inside.size == 0 or envelope[inside[0]] > top:
        return float("nan")
    wanted = np.interp(envelope, speeds[known], brake[known], left=0.0)
    met = inside[wanted[inside] >= distance[inside]]
    speed = float(envelope[met[0]]) if met.size else float(envelope[inside[-1]])
    return speed if speed <= top else float("nan")
