"""The driver's handle: what is asked at each moment, from orders given as data."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

#: The brake controller is off.
OFF = -1
#: No order.
NO_STEP = -2
#: Never, or nowhere.
NEVER = np.inf

#: How the brake controller came where it is.
_FIRST, _RUN_IN, _LAST = 0, 1, 2


@dataclass(frozen=True)
class Orders:
    """How each run's brake is handled; every array (runs,).

    Attributes
    ----------
    step : numpy.ndarray of int
        First step.
    slide_step : numpy.ndarray of int
        Step after a slide; `NO_STEP`: as before.
    slide_after : numpy.ndarray
        From the first slide to that move, or to the first release of fanning. [s]
    fan_period : numpy.ndarray
        Time of one release and re-application after a slide; 0: not fanned. [s]
    fan_share : numpy.ndarray
        Share of the period in which the brake controller is off. [-]
    then_at : numpy.ndarray
        Place of the front at which the last resort is taken; infinite: nowhere. [m]
    then_step : numpy.ndarray of int
        Step of the last resort, held to the stand.
    release_speed, after_speed : numpy.ndarray
        Speed at which an application at full force is left, and the speed meant to be
        left when the force has gone; NaN: held. As `calc.forward.Runs`. [m/s]
    ease : numpy.ndarray of bool
        Whether it is then the lightest step instead of off.
    last : numpy.ndarray
        Where the lightest step is applied again; infinite: nowhere. [m]
    last_speed : numpy.ndarray
        Speed meant to be had there. [m/s]
    """

    step: Ints
    slide_step: Ints
    slide_after: Floats
    fan_period: Floats
    fan_share: Floats
    then_at: Floats
    then_step: Ints
    release_speed: Floats
    after_speed: Floats
    ease: Flags
    last: Floats
    last_speed: Floats

    def take(self, where: Ints) -> Orders:
        """Return the orders of some of the runs."""
        return Orders(**{f.name: getattr(self, f.name)[where] for f in fields(self)})


@dataclass
class Hand:
    """Where each driver's hand is: step, phase of the plan, time since the slide."""

    step: Ints
    phase: Ints
    since_slide: Floats
    applications: Ints

    def take(self, where: Flags) -> Hand:
        """Return the hands of some of the runs."""
        return Hand(**{f.name: getattr(self, f.name)[where] for f in fields(self)})


def first_move(orders: Orders) -> Hand:
    """Return the hands as they begin: the first step just chosen."""
    runs = orders.step.size
    return Hand(
        orders.step.copy(),
        np.full(runs, _FIRST),
        np.full(runs, -1.0),
        np.ones(runs, dtype=np.int64),
    )


def move_hand(
    hand: Hand, orders: Orders, front: Floats, speed: Floats, leave: Floats, sooner: Floats
) -> None:
    """Move every hand to where its orders want it now.

    Parameters
    ----------
    hand : Hand
        Changed in place.
    orders : Orders
    front, speed : numpy.ndarray
        [m, m/s]
    leave : numpy.ndarray
        Speed at which the first application is left; NaN: never. [m/s]
    sooner : numpy.ndarray
        How much before its place the last application begins. [m]
    """
    calm = hand.since_slide < 0
    with np.errstate(invalid="ignore"):
        release = calm & (hand.phase == _FIRST) & (speed <= leave)
    again = calm & (hand.phase == _RUN_IN) & (front >= orders.last - sooner)
    wanted = np.where(release, np.where(orders.ease, 0, OFF), hand.step)
    wanted = np.where(again, 0, wanted)
    hand.phase = np.where(release, _RUN_IN, np.where(again, _LAST, hand.phase))
    acts = hand.since_slide >= orders.slide_after
    wanted = np.where(acts, _after_slide(hand, orders, wanted), wanted)
    wanted = np.where(front >= orders.then_at, orders.then_step, wanted)
    hand.applications = hand.applications + ((hand.step == OFF) & (wanted != OFF))
    hand.step = wanted


def _after_slide(hand: Hand, orders: Orders, held: Ints) -> Ints:
    """Return the step asked for once the driver has answered a slide."""
    held = np.where(held == OFF, orders.step, held)
    steady = np.where(orders.slide_step == NO_STEP, held, orders.slide_step)
    period = np.maximum(orders.fan_period, 1e-9)
    since = np.where(orders.fan_period > 0, hand.since_slide - orders.slide_after, 0.0)
    part = np.mod(since, period) / period
    return np.where((orders.fan_period > 0) & (part < orders.fan_share), OFF, steady)
