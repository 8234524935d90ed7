"""Electric brake on part of the wheelsets, and the jump when it gives way to friction.

The same rate asks more grip where fewer wheelsets carry it. When they slide, the
electric brake is taken off and friction comes on all wheelsets: between the two the
brake is gone for a moment, then bites at once. A driver feels both.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..constants import GRAVITY
from ..model import Train
from ..rail import deceleration, wheelset_demand
from ..speed_tables import brake_force_per_mass, braking_share, resistance_per_mass

Floats = NDArray[np.float64]

#: Time step [s] and longest time looked at [s].
_TICK, _LONGEST = 0.01, 10.0


@dataclass(frozen=True)
class Handover:
    """How electric gives way; each figure is an assumption, to be had from the maker.

    Attributes
    ----------
    electric_fall : float
        Time in which the electric brake goes. [s]
    friction_dead_time : float
        Until the friction brake's first force. [s]
    """

    electric_fall: float = 0.3
    friction_dead_time: float = 0.6


@dataclass(frozen=True)
class Changeover:
    """What is felt.

    Attributes
    ----------
    electric_demand, friction_demand : float
        Adhesion asked of each braking wheelset by electric on its own, and by friction
        on all. [-]
    slides : bool
        Whether the rail gives less than electric asks.
    before, lowest, after : float
        Deceleration with electric sliding, in the gap, and with friction on all. [m/s2]
    jump : float
        From the lowest to after. [m/s2]
    seconds : float
        Until 95 % of the deceleration after is there. [s]
    speed_kept : float
        Speed that was not taken off in that time, against friction from the start. [m/s]
    """

    electric_demand: float
    friction_demand: float
    slides: bool
    before: float
    lowest: float
    after: float
    jump: float
    seconds: float
    speed_kept: float


def changeover(
    train: Train,
    step: int,
    speed: float,
    adhesion: float,
    gradient: float = 0.0,
    eta: float = 0.85,
    handover: Handover | None = None,
) -> Changeover:
    """Return what happens when a step's electric brake gives way in a slide.

    Parameters
    ----------
    train : Train
    step : int
        Index of the step; its ``wheelset_share`` carries the electric brake.
    speed : float
        [m/s]
    adhesion : float
        Of the rail, everywhere under the train. [-]
    gradient : float
        Rising positive. [-]
    eta : float
        Share of the adhesion held while sliding. [-]
    handover : Handover, optional

    Raises
    ------
    ValueError
        If speed, adhesion, eta or mass is missing or impossible.

    Notes
    -----
    The speed is held constant over the second or two this lasts.
    """
    _check(train, step, speed, adhesion, gradient, eta)
    how = handover or Handover()
    at = np.array([speed])
    share, every = braking_share(train, train.steps[step]), 1.0 - train.isolated_share
    force = brake_force_per_mass(train, train.steps[step], at)
    rest = resistance_per_mass(train, at) + GRAVITY * gradient
    rotating, held = np.array([train.rotating]), np.array([eta * adhesion * GRAVITY])
    before, asked = deceleration(force, rest, rotating, np.array([share]), held)
    after, _ = deceleration(force, rest, rotating, np.array([every]), held)
    electric = wheelset_demand(force, asked, rotating, np.array([share]))
    friction = wheelset_demand(force, asked, rotating, np.array([every]))
    level = min(float(force[0]) / share, float(held[0] + train.rotating * before[0]))
    felt = _course(train, level, float(force[0]), float(rest[0]), float(held[0]), share, how)
    there = np.nonzero(felt >= 0.95 * after[0])[0]
    there = there[there > int(np.argmin(felt))] if felt.min() < 0.95 * after[0] else there
    return Changeover(
        electric_demand=float(electric[0]) / GRAVITY,
        friction_demand=float(friction[0]) / GRAVITY,
        slides=bool(electric[0] > held[0]),
        before=float(before[0]),
        lowest=float(felt.min()),
        after=float(after[0]),
        jump=float(after[0] - felt.min()),
        seconds=float(there[0] * _TICK) if there.size else float("inf"),
        speed_kept=float(np.sum(after[0] - felt) * _TICK),
    )


def _course(
    train: Train,
    level: float,
    force: float,
    rest: float,
    held: float,
    share: float,
    how: Handover,
) -> Floats:
    """Return the deceleration over time while electric falls and friction builds up.

    ``level`` is the electric brake of a motored wheelset at the start. [m/s2]
    """
    time = np.arange(0.0, _LONGEST, _TICK)
    falls, every = max(how.electric_fall, 1e-9), 1.0 - train.isolated_share
    electric = level * np.clip(1.0 - time / falls, 0.0, 1.0)
    built = np.clip(train.ramp * (time - how.friction_dead_time), 0.0, force) / every
    slow = np.zeros_like(time)
    for _ in range(8):
        spin = train.rotating * slow
        motored = np.minimum(electric + built - spin, held)
        trailing = np.minimum(built - spin, held)
        unbraked = -train.isolated_share * spin
        slow = share * motored + (every - share) * trailing + unbraked + rest
    return np.asarray(slow)


def _check(
    train: Train, step: int, speed: float, adhesion: float, gradient: float, eta: float
) -> None:
    if not 0 <= step < len(train.steps):
        raise ValueError(f"train {train.key}: it has no step {step}")
    if not 0.0 < adhesion <= 1.0 or not 0.0 < eta <= 1.0:
        raise ValueError(f"adhesion and eta must be within 0 and 1, got {adhesion}, {eta}")
    if not 0.0 <= speed < np.inf or not np.isfinite(gradient):
        raise ValueError(f"speed and gradient must be known, got {speed}, {gradient}")
    if not train.rotating >= 0 or not train.ramp > 0:
        raise ValueError(f"train {train.key}: rotating mass or build-up is impossible")
