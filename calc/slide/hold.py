"""Hold or go: from the first sign of a slide, what still stops within the limit.

For Rehearsal and Recorder only, never for a page that moves: worked on the slick the
train is on, not on the planned rail.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..model import Line
from .handle import NEVER, NO_STEP, Orders
from .handlings import EMERGENCY, HIGHEST, USUAL, step_index
from .model import Floats, Ints, Rail, SlideRuns, SlideTrain
from .run import simulate

#: Whether an option stops the train within the limit.
UNKNOWN, NOT_ENOUGH, ENOUGH = -1, 0, 1
#: What can be done.
OPTIONS = (USUAL, HIGHEST, EMERGENCY)
#: Places tried for the last moment of a move.
_PLACES = 41


@dataclass(frozen=True)
class HoldOrGo:
    """What each option does; arrays (options, cases).

    Attributes
    ----------
    options : tuple of str
        Hold the usual step; go to the highest service step; go to emergency.
    verdict : numpy.ndarray of int
        `ENOUGH`, `NOT_ENOUGH`, or `UNKNOWN` where the train's emergency is not known.
    needed : numpy.ndarray
        From the first sign to the stand; on this rail, a slide that begins nearer to
        the limit than this is not stopped. NaN: unknown, or it never stops. [m]
    latest : numpy.ndarray
        How far before the limit the controller must move at the latest, with the usual step
        held until there; NaN: unknown, or not even at once is enough. For holding
        itself it is `needed` where that is enough. [m]
    """

    options: tuple[str, ...]
    verdict: Ints
    needed: Floats
    latest: Floats


def hold_or_go(
    train: SlideTrain,
    line: Line,
    rail: Rail,
    speed: Floats,
    front: Floats,
    limit: Floats,
    reaction: float = 2.0,
) -> HoldOrGo:
    """Compare holding, the highest step and emergency from the first sign of a slide.

    Parameters
    ----------
    train : SlideTrain
    line : Line
    rail : Rail
        The slick itself, and what follows it, a run a case.
    speed, front, limit : numpy.ndarray, shape (cases,)
        At the first sign, with the usual step acting in full. [m/s, m, m]
    reaction : float
        From the first sign to the brake controller moving. [s]

    Raises
    ------
    ValueError
        If a figure is missing, or the limit is already passed.

    Notes
    -----
    Nothing is assumed of emergency: it may equal the highest step, brake other
    wheelsets, and be what starts the sand (`Sand.from_step`). A train whose emergency
    is not known gets no verdict on it.
    """
    cases = np.asarray(speed).size
    if not np.all(np.asarray(limit) > np.asarray(front)):
        raise ValueError("hold or go: the limit must lie ahead of the train")
    verdict = np.full((len(OPTIONS), cases), UNKNOWN, dtype=np.int64)
    needed, latest = np.full((2, len(OPTIONS), cases), np.nan)
    for i, option in enumerate(OPTIONS):
        if option == EMERGENCY and train.emergency_step is None:
            continue
        step = step_index(train, option)
        runs = _runs(train, step, speed, front, limit, np.full(cases, reaction))
        stop = simulate(train, line, rail, runs).stop
        needed[i] = stop - front
        verdict[i] = np.where(stop <= limit, ENOUGH, NOT_ENOUGH)
        if option == USUAL:
            latest[i] = np.where(stop <= limit, needed[i], np.nan)
        else:
            latest[i] = _latest(train, line, rail, runs, step)
    return HoldOrGo(OPTIONS, verdict, needed, latest)


def _latest(
    train: SlideTrain, line: Line, rail: Rail, at_once: SlideRuns, step: int
) -> Floats:
    """Return how far before the limit a move to a step is still enough. [m].

    The places tried are even over the way to the limit; the nearest that passes, with
    every one before it, counts, so the answer errs outward by a fortieth of the way.
    """
    cases = at_once.speed.size
    share = np.linspace(0.0, 1.0, _PLACES)
    case = np.repeat(np.arange(cases), _PLACES)
    runs = at_once.take(case)
    place = runs.start + np.tile(share, cases) * (runs.limit - runs.start)
    orders = _orders(train, np.full(case.size, step), np.full(case.size, NEVER), place)
    runs = replace(runs, orders=orders)
    stop = simulate(train, line, rail.take(case), runs).stop.reshape(cases, _PLACES)
    passes = np.logical_and.accumulate(stop <= at_once.limit[:, None], axis=1)
    count = passes.sum(axis=1)
    nearest = share[np.maximum(count - 1, 0)]
    way = at_once.limit - at_once.start
    return np.where(count > 0, (1.0 - nearest) * way, np.nan)


def _runs(
    train: SlideTrain, step: int, speed: Floats, front: Floats, limit: Floats, after: Floats
) -> SlideRuns:
    cases = after.size
    where = np.full(cases, NEVER)
    return SlideRuns(
        speed=np.array(speed, dtype=np.float64),
        start=np.array(front, dtype=np.float64),
        mark=np.array(limit, dtype=np.float64),
        limit=np.array(limit, dtype=np.float64),
        applied=np.ones(cases, dtype=bool),
        orders=_orders(train, np.full(cases, step), after, where),
    )


def _orders(train: SlideTrain, step: Ints, after: Floats, place: Floats) -> Orders:
    """Hold the usual step; then another, some time after the slide or at a place."""
    cases = step.size
    usual = np.full(cases, train.base.usual_step)
    return Orders(
        step=usual,
        slide_step=np.where(np.isfinite(after), step, NO_STEP),
        slide_after=after,
        fan_period=np.zeros(cases),
        fan_share=np.zeros(cases),
        then_at=place,
        then_step=step,
        release_speed=np.full(cases, np.nan),
        after_speed=np.full(cases, np.nan),
        ease=np.zeros(cases, dtype=bool),
        last=np.full(cases, NEVER),
        last_speed=np.zeros(cases),
    )
