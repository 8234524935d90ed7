"""A recorder's trace: what is refused, where a train brakes in it, and where it was.

A recorder counts the turns of a wheel. Rows may be missing, and its clock may be set
forward; a clock that goes back is for whoever reads the file to take apart.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

#: Rows farther apart than this many usual intervals may be a clock set forward: nothing
#: is read across them. Assumption. [-]
GAP_INTERVALS = 2.5
#: ... unless they are no farther apart than this. Assumption. [s]
GAP_LEAST = 1.5
#: Longest gap over which a train may be followed by its speed alone. Assumption. [s]
BLIND = 10.0
#: Rows before and after an application that are read with it. Assumption. [s]
CONTEXT = 10.0
#: Applications closer than this are read as one. Assumption. [s]
SAME_APPLICATION = 5.0
#: Shortest interval worth keeping: a faster trace is averaged to it. Assumption. [s]
BLOCK = 1.0
#: Most rows of one application; a longer one is averaged more coarsely.
MOST_ROWS = 400
#: Farthest a satellite fix may fall back and still be noise. Assumption. [m]
FIX_NOISE = 50.0
#: Fixes averaged into one place; an odd number.
FIXES = 9
#: Fastest speed that is no slip of the pen. [m/s]
FASTEST = 160.0


@dataclass(frozen=True)
class Trace:
    """One part of a recorder's trace with one clock.

    Attributes
    ----------
    time : numpy.ndarray
        Strictly rising. [s]
    speed : numpy.ndarray
        As recorded, from the turns of a wheel, so too low while that wheel slides. [m/s]
    step : numpy.ndarray of int
        Brake step held: 0 none, 1 the lightest, above the train's steps emergency.
    wsp : numpy.ndarray of bool
        Whether wheel-slide protection was at work.
    place : numpy.ndarray
        Where the front was, growing in the direction of travel; NaN where not known. [m]
    """

    time: Floats
    speed: Floats
    step: Ints
    wsp: Flags
    place: Floats

    def take(self, where: Ints | Flags | slice) -> Trace:
        """Return some of the rows."""
        return Trace(**{f.name: getattr(self, f.name)[where] for f in fields(self)})


def check_trace(trace: Trace) -> None:
    """Refuse a trace from which no number may come.

    Raises
    ------
    ValueError
        With what is wrong and in which row, counted from 1.
    """
    rows = trace.time.size
    if rows < 3 or any(getattr(trace, f.name).shape != (rows,) for f in fields(trace)):
        raise ValueError("a trace needs at least 3 rows, and as many of each column")
    _refuse(~np.isfinite(trace.time), "the time is not known")
    _refuse(~np.isfinite(trace.speed), "the speed is not known: leave such a row out")
    _refuse((trace.speed < 0) | (trace.speed > FASTEST), "the speed is below 0 or impossible")
    _refuse(trace.step < 0, "the brake step is below 0")
    _refuse(np.isinf(trace.place), "the place is endless: NaN where not known")
    _refuse(np.diff(trace.time, prepend=-np.inf) <= 0, "the time does not rise")
    back = falls_back(trace.place)
    _refuse(back, "the place goes back: it must grow in the direction of travel")


def falls_back(place: Floats) -> Flags:
    """Return the rows whose place lies behind an earlier one by more than noise."""
    known = np.isfinite(place)
    farthest = np.maximum.accumulate(np.where(known, place, -np.inf))
    return np.asarray(known & (place < farthest - FIX_NOISE))


def _refuse(bad: Flags, problem: str) -> None:
    if bad.any():
        raise ValueError(f"trace, row {int(np.argmax(bad)) + 1}: {problem}")


def gap_limit(time: Floats) -> float:
    """Return the interval above which rows are not taken to follow one another. [s]."""
    return max(GAP_INTERVALS * float(np.median(np.diff(time))), GAP_LEAST)


def stretches(trace: Trace, start: float) -> list[tuple[Trace, Floats]]:
    """Take a trace apart where rows do not follow one another, and place every row.

    Parameters
    ----------
    trace : Trace
    start : float
        Place of the first row, used where the trace has no place of its own. [m]

    Returns
    -------
    list of (Trace, numpy.ndarray)
        Rows with no place unknown, and the standard deviation of each place: 10 m by
        fixes, farther from one 2 % of the way (assumptions) and all that passed unseen.
        [m]

    Notes
    -----
    Without fixes the place is lost after a gap so long that only a clock set forward or
    a recorder at rest explains it; what follows is left out.
    """
    interval = np.diff(trace.time)
    breaks = np.flatnonzero(interval > gap_limit(trace.time)) + 1
    edges = [0, *breaks.tolist(), trace.time.size]
    found: list[tuple[Trace, Floats]] = []
    at, off = start, 0.0
    for first, last in pairwise(edges):
        part = trace.take(slice(first, last))
        if first:
            blind = float(trace.speed[first - 1]) * float(interval[first - 1])
            lost = interval[first - 1] > BLIND
            at, off = (float("nan") if lost else at + blind), off + blind
        place, doubt = _placed(part, at, off)
        if not np.isfinite(place[0]):
            break
        at, off = float(place[-1]), float(doubt[-1])
        found.append((replace(part, place=place), doubt))
    return found


def _placed(part: Trace, at: float, off: float) -> tuple[Floats, Floats]:
    """Place the rows of a stretch by its fixes, else from where it begins."""
    legs = 0.5 * (part.speed[1:] + part.speed[:-1]) * np.diff(part.time)
    way = np.concatenate([[0.0], np.cumsum(legs)])
    known = np.flatnonzero(np.isfinite(part.place))
    if known.size == 0:
        return at + way, 10.0 + off + 0.02 * way
    lead = _running_mean(part.place[known] - way[known], FIXES)
    away = np.abs(way - way[known][_nearest(way[known], way)])
    return way + np.interp(way, way[known], lead), 10.0 + 0.02 * away


def _running_mean(values: Floats, count: int) -> Floats:
    """Return the mean of the neighbours on both sides; fewer towards the ends."""
    half = np.minimum(np.arange(values.size), np.arange(values.size)[::-1])
    half = np.minimum(half, count // 2)
    sums = np.concatenate([[0.0], np.cumsum(values)])
    at = np.arange(values.size)
    return np.asarray((sums[at + half + 1] - sums[at - half]) / (2 * half + 1))


def _nearest(rising: Floats, wanted: Floats) -> Ints:
    after = np.clip(np.searchsorted(rising, wanted), 0, rising.size - 1)
    before = np.maximum(after - 1, 0)
    nearer = np.abs(wanted - rising[before]) < np.abs(wanted - rising[after])
    return np.asarray(np.where(nearer, before, after))


def applications(trace: Trace) -> list[slice]:
    """Return the rows of each application of a stretch with some before and after."""
    time = trace.time
    on = np.flatnonzero(trace.step > 0)
    if on.size == 0:
        return []
    parts = np.split(on, np.flatnonzero(np.diff(time[on]) > SAME_APPLICATION) + 1)
    found = []
    for part in parts:
        begin = np.searchsorted(time, time[part[0]] - CONTEXT)
        end = np.searchsorted(time, time[part[-1]] + CONTEXT, side="right")
        found.append(slice(int(begin), int(end)))
    return found


def before_the_stand(trace: Trace) -> Trace:
    """Leave out the rows after the train stood: a stand tells nothing of the rail."""
    standing = (trace.speed == 0) & ~trace.wsp
    moving = np.flatnonzero(~standing)
    if moving.size == 0:
        return trace.take(slice(0, 0))
    # Nor the first row of the stand: the train stood at some moment before it.
    return trace.take(slice(int(moving[0]), int(moving[-1]) + 1))


def averaged(trace: Trace) -> Trace:
    """Average a fast or very long trace into blocks; a 1 Hz trace stays as it is."""
    time = trace.time
    if time.size < 3:
        return trace
    block = max(BLOCK, float(time[-1] - time[0]) / MOST_ROWS)
    if float(np.median(np.diff(time))) > 0.7 * block:
        return trace
    number = np.floor((time - time[0]) / block)
    _, first, rows = np.unique(number, return_index=True, return_counts=True)

    def mean(values: Floats) -> Floats:
        return np.asarray(np.add.reduceat(values, first) / rows)

    return Trace(
        time=mean(time),
        speed=mean(trace.speed),
        step=np.asarray(np.maximum.reduceat(trace.step, first)),
        wsp=np.asarray(np.logical_or.reduceat(trace.wsp, first)),
        place=mean(trace.place),
    )
