"""The line under a train: gradients and listed places averaged over its length.

A train is a row of wheelsets spread evenly from its front backward, so a gradient or a
slippery place acts in the share of the train that stands on it.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from .model import Line

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def stepwise_integral(starts: Sequence[float], values: Sequence[float], at: Floats) -> Floats:
    """Integrate a stepwise constant function from its first start to each place.

    Before the first start the first value holds on, after the last start the last.

    Parameters
    ----------
    starts, values : sequence of float, length (stretches)
        Where each stretch begins, rising, and its value. [m, any]
    at : numpy.ndarray
        Places, in any order. [m]

    Returns
    -------
    numpy.ndarray, shape of ``at``
        [m times the unit of the values]

    Raises
    ------
    ValueError
        If there are no stretches, or the starts do not rise.
    """
    start = np.asarray(starts, dtype=np.float64)
    value = np.asarray(values, dtype=np.float64)
    if start.size == 0 or start.size != value.size:
        raise ValueError("a profile needs at least one stretch, and one value for each start")
    if np.any(np.diff(start) <= 0):
        raise ValueError("the starts of a profile must rise from stretch to stretch")
    whole = np.concatenate([[0.0], np.cumsum(np.diff(start) * value[:-1])])
    index = np.clip(np.searchsorted(start, at, side="right") - 1, 0, start.size - 1)
    return np.asarray(whole[index] + (at - start[index]) * value[index])


def train_mean(
    starts: Sequence[float], values: Sequence[float], front: Floats, length: float
) -> Floats:
    """Return the mean of a stepwise function over a train whose front is at ``front``.

    Parameters
    ----------
    starts, values : sequence of float, length (stretches)
        Where each stretch begins, rising, and its value. [m, any]
    front : numpy.ndarray
        Where the train's front is. [m]
    length : float
        Train length; 0 gives the value under the front itself (from behind). [m]

    Returns
    -------
    numpy.ndarray, shape of ``front``
        In the unit of the values.
    """
    if length > 0:
        ahead = stepwise_integral(starts, values, front)
        return (ahead - stepwise_integral(starts, values, front - length)) / length
    index = np.searchsorted(np.asarray(starts), front, side="left") - 1
    return np.asarray(values, dtype=np.float64)[np.clip(index, 0, len(values) - 1)]


def cell_means(
    starts: Sequence[float],
    values: Sequence[float],
    fronts: Floats,
    length: float,
) -> Floats:
    """Return cell means of the train mean, for cells between successive fronts.

    Parameters
    ----------
    starts, values : sequence of float
        The stepwise function along the direction of travel. [m, any]
    fronts : numpy.ndarray, shape (n + 1,)
        Evenly spaced front positions, in either order. [m]
    length : float
        Train length. [m]

    Returns
    -------
    numpy.ndarray, shape (n,)

    Notes
    -----
    For a point train the mean is exact; for a train with length Simpson's rule is
    used on the train mean, which is linear between the ends of stretches.
    """
    if length > 0:
        low, high = fronts[:-1], fronts[1:]
        ends = train_mean(starts, values, fronts, length)
        middle = train_mean(starts, values, (low + high) / 2, length)
        return np.asarray((ends[:-1] + 4 * middle + ends[1:]) / 6)
    whole = stepwise_integral(starts, values, fronts)
    return np.asarray(np.diff(whole) / np.diff(fronts))


def listed_cells(
    line: Line, fronts: Floats, length: float, season: bool, extend: float = 0.0
) -> tuple[Floats, Ints]:
    """Return, for each cell, the share of the train on listed places and their state.

    Parameters
    ----------
    line : Line
        Its listed places may overlap; where they do, the worse state counts.
    fronts : numpy.ndarray, shape (n + 1,)
        Front positions, falling (from the limit backward). [m]
    length : float
        Train length. [m]
    season : bool
        Whether places listed for a season only count.
    extend : float
        Each place is lengthened downstream by this, for cylinders that refill. [m]

    Returns
    -------
    share : numpy.ndarray, shape (n,)
    state : numpy.ndarray of int, shape (n,)
        Index of the worst state among the places touched; 0 where none is.
    """
    cells = fronts.size - 1
    state = np.zeros(cells, dtype=np.int64)
    spans: list[tuple[float, float]] = []
    for start, stop, index, seasonal in line.listed:
        if seasonal and not season:
            continue
        stop = stop + extend
        touched = (fronts[:-1] > start) & (fronts[1:] - length < stop)
        state[touched] = np.maximum(state[touched], index)
        spans.append((start, stop))
    if not spans:
        return np.zeros(cells), state
    starts, values = _union(spans, float(np.min(fronts)) - length - 1.0)
    return np.clip(cell_means(starts, values, fronts, length), 0.0, 1.0), state


def _union(spans: list[tuple[float, float]], before: float) -> tuple[list[float], list[float]]:
    """Turn overlapping spans into a stepwise function of 0 and 1."""
    merged: list[list[float]] = []
    for start, stop in sorted(spans):
        if merged and start <= merged[-1][1]:
            merged[-1][1] = max(merged[-1][1], stop)
        else:
            merged.append([start, stop])
    starts, values = [min(before, merged[0][0] - 1.0)], [0.0]
    for start, stop in merged:
        starts += [start, stop]
        values += [1.0, 0.0]
    return starts, values
