"""Rounding, always earlier and slower, in functions of their own.

Formulae elsewhere in ``calc`` never round. Whoever shows a figure calls one of these,
so that each number on a screen errs to the side of more room and less speed.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

_TINY = 1e-9


def brake_distance_out(metres: ArrayLike, grid: float = 5.0) -> NDArray[np.float64]:
    """Round a distance before the mark outward, to where the brake begins sooner.

    Parameters
    ----------
    metres : array_like
        Distance before the mark. [m]
    grid : float
        The result is a multiple of this. [m]

    Returns
    -------
    numpy.ndarray, shape of ``metres``
        Never less than what was given. [m]
    """
    value = np.asarray(metres, dtype=np.float64)
    return np.asarray(np.ceil(value / grid - _TINY) * grid)


def speed_down(speed: ArrayLike, unit: float, grid: int = 5) -> NDArray[np.float64]:
    """Round a speed [m/s] down to a mark on the dial, in whole posted units.

    Parameters
    ----------
    speed : array_like
        Speed. [m/s]
    unit : float
        One posted unit of speed, for instance one mph. [m/s]
    grid : int
        Marks on the dial, in posted units.

    Returns
    -------
    numpy.ndarray
        Posted units, whole multiples of ``grid``.
    """
    value = np.asarray(speed, dtype=np.float64) / unit
    return np.asarray(np.floor(value / grid + _TINY) * grid)


def cover_down(metres: ArrayLike, grid: float = 10.0) -> NDArray[np.float64]:
    """Round a cover down, to what is surely there.

    Parameters
    ----------
    metres : array_like
        Length of slick. [m]
    grid : float
        The result is a multiple of this. [m]

    Returns
    -------
    numpy.ndarray, shape of ``metres``
        Never more than what was given. [m]
    """
    return np.asarray(np.floor(np.asarray(metres, dtype=np.float64) / grid + _TINY) * grid)


def seconds_up(seconds: ArrayLike) -> NDArray[np.float64]:
    """Round a time cost up to whole seconds.

    Parameters
    ----------
    seconds : array_like
        Time lost. [s]

    Returns
    -------
    numpy.ndarray, shape of ``seconds``
        Whole numbers. [s]
    """
    return np.asarray(np.ceil(np.asarray(seconds, dtype=np.float64) - _TINY))


def knots_raised(
    values: ArrayLike, units: ArrayLike, knots: ArrayLike, grid: float = 5.0
) -> NDArray[np.float64]:
    """Return knot values whose straight lines lie on or above every whole-unit value.

    Parameters
    ----------
    values : array_like, shape (..., n)
        Brake distance at every whole unit of speed, rising; NaN where there is none. [m]
    units : array_like, shape (n,)
        Those whole units, rising, without gaps.
    knots : array_like, shape (k,)
        Units at which the table keeps a value; the first and last are in ``units``.
    grid : float
        The kept values are multiples of this. [m]

    Returns
    -------
    numpy.ndarray, shape (..., k)
        NaN where any whole unit next to the knot has no value.

    Notes
    -----
    Each interval is lifted at both ends by its largest shortfall, then every knot takes
    the larger of its two demands: more than needed, never less. A last running maximum
    keeps the knots rising where a lift left one below its slower neighbour.
    """
    value = np.asarray(values, dtype=np.float64)
    unit = np.asarray(units, dtype=np.float64)
    knot = np.asarray(knots, dtype=np.float64)
    at = np.searchsorted(unit, knot)
    out = value[..., at].copy()
    lift = np.zeros_like(out)
    for j in range(len(knot) - 1):
        inside = slice(at[j], at[j + 1] + 1)
        share = (unit[inside] - knot[j]) / (knot[j + 1] - knot[j])
        line = out[..., j, None] * (1 - share) + out[..., j + 1, None] * share
        short = np.max(value[..., inside] - line, axis=-1)
        lift[..., j] = np.maximum(lift[..., j], short)
        lift[..., j + 1] = np.maximum(lift[..., j + 1], short)
    raised = brake_distance_out(out + np.maximum(lift, 0.0), grid)
    rising = np.fmax.accumulate(raised, axis=-1)
    return np.where(np.isnan(raised), np.nan, rising)
