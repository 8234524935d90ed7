"""When a driver who follows a plan leaves an application, and begins the last one."""

from __future__ import annotations

import numpy as np

from .handle import Hand, Orders
from .model import Floats, SlideTrain
from .now import Now
from .wheels import Gear

#: Least deceleration a last application is begun for when the train runs in too fast
#: [m/s2]; the default of `calc.model.Settings`.
_LEAST = 0.15
#: Brake force below which a train counts as running free [m/s2].
_FREE = 0.01


def plan_speeds(
    train: SlideTrain, gear: Gear, hand: Hand, orders: Orders, now: Now, built: Floats
) -> tuple[Floats, Floats]:
    """Return at which speed the first application is left, and how much sooner the last.

    Parameters
    ----------
    built : numpy.ndarray
        Mean brake force now. [m/s2]

    Returns
    -------
    leave, sooner : numpy.ndarray
        [m/s, m]

    Notes
    -----
    The plan's own speeds are for build-up and release in straight lines (`calc.model`).
    The driver knows his train: he shares out what these cylinders take off while they
    empty against what those lines would.
    """
    none = np.full(built.shape, np.nan)
    calm = hand.since_slide < 0
    if np.isnan(orders.release_speed).all():
        return none, np.zeros(built.shape)
    base, dead = train.base, train.base.dead_time
    place = gear.force.place_of(now.speed**2)
    top = gear.force.at(orders.step + 1, place)
    low = np.where(orders.ease, gear.force.at(np.ones_like(orders.step), place), 0.0)
    risen = top - (top - built) * np.exp(-dead / train.fill_time)
    peak = np.maximum(np.minimum(risen, top), low)
    lost = 0.5 * (built + peak) * dead + (peak - low) * train.empty_time
    straight = top * dead + (top**2 - low**2) / (2.0 * base.release_ramp)
    part = np.clip(lost / np.maximum(straight, 1e-9), 0.0, 2.0)
    leave = orders.after_speed + part * (orders.release_speed - orders.after_speed)
    leave = np.where(calm & (now.step >= 0), leave, np.nan)
    free = built < _FREE
    excess = np.where(free, now.speed**2 - orders.last_speed**2, 0.0)
    return leave, np.maximum(excess, 0.0) / (2.0 * _LEAST)
