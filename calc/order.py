"""What must never be braked later than what: worse rail, listed season, fewer brakes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from .batch import CaseIndex
from .model import RailState, Train

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Ints = NDArray[np.int64]


def less_isolated(trains: Sequence[Train]) -> tuple[int, ...]:
    """Return, for each train, the same train with the next fewer brakes isolated.

    Parameters
    ----------
    trains : sequence of Train

    Returns
    -------
    tuple of int, length (trains)
        Index of that train; -1 where there is none.
    """
    whole = [replace(train, key="", isolated_share=0.0) for train in trains]
    found = []
    for at, train in enumerate(trains):
        fewer = [
            other
            for other, figures in enumerate(whole)
            if figures == whole[at] and trains[other].isolated_share < train.isolated_share
        ]
        found.append(max(fewer, key=lambda other: trains[other].isolated_share, default=-1))
    return tuple(found)


def in_order(trains: Sequence[Train]) -> list[tuple[int, int]]:
    """Return which train is bound by which, the least isolated first.

    Parameters
    ----------
    trains : sequence of Train

    Returns
    -------
    list of (int, int)
        Indices of the same train with fewer and with more brakes isolated.
    """
    pairs = [(before, at) for at, before in enumerate(less_isolated(trains)) if before >= 0]
    return sorted(pairs, key=lambda pair: trains[pair[1]].isolated_share)


def never_less(values: Floats, trains: Sequence[Train]) -> Floats:
    """Make values never fall where it gets worse.

    Parameters
    ----------
    values : numpy.ndarray, shape (targets, seasons, states, trains, ...)
        States from best to worst; NaN where there is none. In any unit.
    trains : sequence of Train

    Returns
    -------
    numpy.ndarray, shape of ``values``
        Raised where a better case has more; NaN where the given value is not finite.
    """
    rising = np.fmax.accumulate(np.fmax.accumulate(values, axis=2), axis=1)
    for fewer, more in in_order(trains):
        rising[:, :, :, more] = np.fmax(rising[:, :, :, fewer], rising[:, :, :, more])
    return np.where(np.isfinite(values), rising, np.nan)


def ever_since(true: Flags, trains: Sequence[Train]) -> Flags:
    """Hand what is true once on to everything that is worse.

    Parameters
    ----------
    true : numpy.ndarray of bool, shape (targets, seasons, states, trains, ...)
        States from best to worst.
    trains : sequence of Train

    Returns
    -------
    numpy.ndarray of bool, shape of ``true``
    """
    out = np.logical_or.accumulate(np.logical_or.accumulate(true, axis=2), axis=1)
    for fewer, more in in_order(trains):
        out[:, :, :, more] |= out[:, :, :, fewer]
    return np.asarray(out)


def ranked_cases(
    index: CaseIndex, trains: Sequence[Train]
) -> list[tuple[Ints, tuple[Ints, ...]]]:
    """Return the cases in groups, better ones first, each with what it is bound by.

    Parameters
    ----------
    index : CaseIndex
        Target, season, state and train of each case.
    trains : sequence of Train

    Returns
    -------
    list of (lanes, bounds)
        ``bounds`` holds, for each lane, up to three lanes of groups before: the state
        before, the same train with fewer brakes isolated, the same place out of season;
        -1 where there is none.
    """
    columns = (index.target, index.season, index.state, index.train)
    keys = list(zip(*(column.tolist() for column in columns), strict=True))
    lane_of = {key: lane for lane, key in enumerate(keys)}
    fewer = less_isolated(trains)
    rank = [0] * len(trains)
    for before, at in in_order(trains):
        rank[at] = rank[before] + 1
    groups: dict[tuple[int, int, int], list[int]] = {}
    for lane, (_, season, state, train) in enumerate(keys):
        groups.setdefault((state, rank[train], season), []).append(lane)
    out = []
    for group in sorted(groups):
        lanes = groups[group]
        bounds = [
            (
                lane_of.get((t, season, state - 1, v), -1),
                lane_of.get((t, season, state, fewer[v]), -1),
                lane_of.get((t, season - 1, state, v), -1),
            )
            for t, season, state, v in (keys[lane] for lane in lanes)
        ]
        out.append((np.array(lanes), tuple(np.array(bounds).T)))
    return out


def next_pickable(states: Sequence[RailState]) -> Ints:
    """Return, for each rail state, the next worse one that a driver may pick.

    Parameters
    ----------
    states : sequence of RailState
        From best to worst.

    Returns
    -------
    numpy.ndarray of int, shape (states,)
        Index of that state; -1 where there is none.
    """
    out = np.full(len(states), -1)
    for at in range(len(states)):
        later = (n for n in range(at + 1, len(states)) if states[n].pickable)
        out[at] = next(later, -1)
    return out


def one_state_worse(index: CaseIndex, states: Sequence[RailState]) -> Ints:
    """Return, for each case, the same case in the next state to pick.

    Parameters
    ----------
    index : CaseIndex
        Target, season, state and train of each case.
    states : sequence of RailState
        From best to worst.

    Returns
    -------
    numpy.ndarray of int, shape (cases,)
        Index of that case; -1 where there is none.
    """
    columns = (index.target, index.season, index.state, index.train)
    keys = list(zip(*(column.tolist() for column in columns), strict=True))
    lane_of = {key: lane for lane, key in enumerate(keys)}
    worse = next_pickable(states).tolist()
    return np.array([lane_of.get((t, season, worse[s], v), -1) for t, season, s, v in keys])
