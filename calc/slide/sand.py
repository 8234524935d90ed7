"""Sand: when it runs, where it lies, and what it adds to the adhesion."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from .model import Flags, Floats, Ints, Sand, SlideTrain


@dataclass
class SandState:
    """Since when a run's conditions are met, and between which places sand was laid.

    ``begun`` and ``ended`` are places of the train's front [m]; a second stretch of sand
    replaces the first, so what is forgotten is always sand that helped.
    """

    ready: Floats
    begun: Floats
    ended: Floats

    def take(self, where: Flags) -> SandState:
        """Return the state of some of the runs."""
        return SandState(**{f.name: getattr(self, f.name)[where] for f in fields(self)})


def no_sand_yet(runs: int) -> SandState:
    """Return the state of runs that have laid none.

    Parameters
    ----------
    runs : int

    Returns
    -------
    SandState
        Arrays of shape (runs,).
    """
    return SandState(np.zeros(runs), np.full(runs, np.inf), np.full(runs, np.inf))


def run_sand(
    sand: Sand,
    state: SandState,
    step: Ints,
    slid: Flags,
    front: Floats,
    speed: Floats,
    tick: float,
) -> None:
    """Let the sanders start and stop, for one time step; ``state`` changes in place.

    Parameters
    ----------
    sand : Sand
    state : SandState
    step : numpy.ndarray of int, shape (runs,)
        Step of the brake controller; -1: off.
    slid : numpy.ndarray of bool, shape (runs,)
        Whether any wheelset has slid.
    front, speed : numpy.ndarray, shape (runs,)
        At the start of the time step. [m, m/s]
    tick : float
        The time step. [s]
    """
    asked = (step >= sand.from_step) & (speed >= sand.min_speed)
    if sand.needs_slide:
        asked &= slid
    was = np.isfinite(state.begun) & np.isinf(state.ended)
    state.ready = np.where(asked, state.ready + tick, 0.0)
    runs = asked & (state.ready >= sand.delay)
    # The very moment lies inside the tick.
    early = np.clip(state.ready - sand.delay, 0.0, tick) * speed
    state.begun = np.where(runs & ~was, front + speed * tick - early, state.begun)
    state.ended = np.where(runs, np.inf, np.where(was & ~runs, front, state.ended))


def sand_gain(
    train: SlideTrain,
    sand: Sand,
    state: SandState,
    front: Floats,
    speed: Floats,
    slowing: Floats,
) -> Floats:
    """Return what sand adds to the adhesion of each wheelset, (runs, wheelsets). [-].

    Parameters
    ----------
    train : SlideTrain
    sand : Sand
    state : SandState
    front, speed, slowing : numpy.ndarray, shape (runs,)
        Place of the front, speed and deceleration now. [m, m/s, m/s2]

    Returns
    -------
    numpy.ndarray, shape (runs, wheelsets)

    Notes
    -----
    gain (1 - exp(-q / scale)), q the sand on the rail [g/m]: rate / v where the rate is
    fixed in time, the rate itself where it follows the speed. v is the speed at which
    the sander passed the place, from the present deceleration held constant in between
    (exact for a steady slide).
    """
    offsets = train.offsets
    laid = np.zeros((front.size, offsets.size))
    for sander in sand.sanders:
        back = offsets - offsets[sander.wheelset]
        was = front[:, None] - back
        on = (back >= 0) & (was >= state.begun[:, None]) & (was < state.ended[:, None])
        if sander.variable:
            laid += np.where(on, sander.rate, 0.0)
            continue
        earlier = speed[:, None] ** 2 + 2.0 * slowing[:, None] * np.maximum(back, 0.0)
        laid += np.where(on, sander.rate / np.sqrt(np.maximum(earlier, 0.25)), 0.0)
    return np.asarray(-sand.gain * np.expm1(-laid / sand.scale))
