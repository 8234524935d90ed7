"""Brake force, resistance and adhesion as tables over the square of speed.

The backward sweep works in u = v2, so its inner loop looks every speed-dependent
quantity up over u and never takes a square root. Rows are what differs between lanes:
one row a train for resistance, one a train and step for brake force, one a rail state
for adhesion.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

import numpy as np
from numpy.typing import NDArray

from .constants import GRAVITY
from .model import BrakeStep, RailState, Train

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

#: Width of a bin of u [m2/s2]; straight lines between, error below 0.1 % of a rate.
BIN = 2.0


class SpeedTable:
    """Rows of values over u, straight lines between the bins, held beyond the last."""

    def __init__(self, rows: Floats) -> None:
        self.bins = rows.shape[1]
        self._value = np.ascontiguousarray(rows).ravel()
        slope = np.zeros_like(rows)
        slope[:, :-1] = np.diff(rows, axis=1)
        self._slope = slope.ravel()

    def at(self, row: Ints, place: tuple[Ints, Floats]) -> Floats:
        """Return the value of ``row`` at a place found by `place_of`.

        Parameters
        ----------
        row : numpy.ndarray of int
        place : tuple of numpy.ndarray
            Shapes that broadcast with ``row``.

        Returns
        -------
        numpy.ndarray
            In the unit of the table; beyond its last bin, that bin's.
        """
        index = place[0] + row * self.bins
        out = self._slope.take(index)
        out *= place[1]
        out += self._value.take(index)
        return np.asarray(out)

    def place_of(self, u: Floats) -> tuple[Ints, Floats]:
        """Return bin and fraction of each u, shared by all tables of one width.

        An unknown u gives an unknown fraction, so an unknown value.

        Parameters
        ----------
        u : numpy.ndarray
            [m2/s2]

        Returns
        -------
        bin : numpy.ndarray of int
        fraction : numpy.ndarray
            From 0 to 1; both of the shape of ``u``.
        """
        scaled = np.minimum(np.maximum(u * (1.0 / BIN), 0.0), self.bins - 1.0)
        whole = np.fmax(scaled, 0.0).astype(np.int64)
        return whole, scaled - whole


def tabulate(functions: Sequence[Callable[[Floats], Floats]], top_speed: float) -> SpeedTable:
    """Tabulate functions of speed [m/s] up to ``top_speed``, one row each.

    Parameters
    ----------
    functions : sequence of callable
        Each takes speeds, shape (bins,), and returns as many values.
    top_speed : float
        [m/s]

    Returns
    -------
    SpeedTable
    """
    bins = int(np.ceil(top_speed**2 / BIN)) + 2
    speed = np.sqrt(np.arange(bins) * BIN)
    return SpeedTable(np.stack([function(speed) for function in functions]))


def resistance_per_mass(train: Train, speed: Floats) -> Floats:
    """Return running resistance per unit of static mass. [m/s2].

    R = A + B v + C v2, the form of Davis and of EN 14531-1.

    Parameters
    ----------
    train : Train
    speed : numpy.ndarray
        [m/s]

    Returns
    -------
    numpy.ndarray
        Shape of ``speed``; gradient left out. [m/s2]

    Raises
    ------
    ValueError
        If the train has no mass.
    """
    if not train.mass > 0:
        raise ValueError(f"train {train.key}: mass must be above 0 kg, got {train.mass}")
    a, b, c = train.resistance
    return np.asarray((a + b * speed + c * speed**2) / train.mass)


def brake_force_per_mass(train: Train, step: BrakeStep, speed: Floats) -> Floats:
    """Return the mean brake force of a step per unit of static mass. [m/s2].

    Parameters
    ----------
    train : Train
    step : BrakeStep
    speed : numpy.ndarray
        [m/s]

    Returns
    -------
    numpy.ndarray
        Shape of ``speed``; 0 or above. [m/s2]

    Notes
    -----
    A quoted rate is a deceleration measured on dry level track, so the force is
    f = rate (1 + rho) - r, less what is isolated. Common practice, no source.
    """
    rate = np.interp(speed, step.speeds, step.rates)
    full = rate * (1.0 + train.rotating) - resistance_per_mass(train, speed)
    return np.asarray(np.maximum(full, 0.0) * (1.0 - train.isolated_share) * train.brake_share)


def plan_adhesion(state: RailState, speed: Floats) -> Floats:
    """Return the adhesion to plan with in a rail state, by speed. [-].

    Parameters
    ----------
    state : RailState
    speed : numpy.ndarray
        [m/s]

    Returns
    -------
    numpy.ndarray
        Shape of ``speed``. [-]
    """
    factor = np.interp(speed, state.shape_speeds, state.shape_factors)
    return np.asarray(state.plan * factor)


def braking_share(train: Train, step: BrakeStep) -> float:
    """Return the share of the train's weight on wheelsets that brake in a step. [-].

    Parameters
    ----------
    train : Train
    step : BrakeStep

    Returns
    -------
    float
        From 0 to 1.
    """
    return step.wheelset_share * (1.0 - train.isolated_share)


def most_steps(trains: Sequence[Train]) -> int:
    """Return the largest number of service steps of any train.

    Parameters
    ----------
    trains : sequence of Train

    Returns
    -------
    int
    """
    return max(len(train.steps) for train in trains)


def _own_steps(train: Train, steps: int) -> list[BrakeStep]:
    """Return a train's steps, the last repeated up to ``steps``."""
    return list(train.steps) + [train.steps[-1]] * (steps - len(train.steps))


def step_shares(trains: Sequence[Train]) -> Floats:
    """Return the braking share of each train and step, (trains, steps). [-].

    Parameters
    ----------
    trains : sequence of Train

    Returns
    -------
    numpy.ndarray, shape (trains, steps)
        A train with fewer steps repeats its last.
    """
    steps = most_steps(trains)
    return np.array([[braking_share(t, s) for s in _own_steps(t, steps)] for t in trains])


def force_table(trains: Sequence[Train], top_speed: float) -> SpeedTable:
    """Tabulate brake force, row train * `most_steps` + step. [m/s2].

    Parameters
    ----------
    trains : sequence of Train
    top_speed : float
        [m/s]

    Returns
    -------
    SpeedTable
    """
    steps = most_steps(trains)
    return tabulate(
        [
            partial(brake_force_per_mass, train, step)
            for train in trains
            for step in _own_steps(train, steps)
        ],
        top_speed,
    )


def resistance_table(trains: Sequence[Train], top_speed: float) -> SpeedTable:
    """Tabulate running resistance, a row a train. [m/s2].

    Parameters
    ----------
    trains : sequence of Train
    top_speed : float
        [m/s]

    Returns
    -------
    SpeedTable
    """
    return tabulate([partial(resistance_per_mass, train) for train in trains], top_speed)


def adhesion_table(states: Sequence[RailState], top_speed: float) -> SpeedTable:
    """Tabulate the adhesion to plan with, a row a rail state. [-].

    Parameters
    ----------
    states : sequence of RailState
    top_speed : float
        [m/s]

    Returns
    -------
    SpeedTable
    """
    return tabulate([partial(plan_adhesion, state) for state in states], top_speed)


def asked_table(trains: Sequence[Train], top_speed: float) -> SpeedTable:
    """Tabulate the deceleration asked on the level, rows as `force_table`. [m/s2].

    Parameters
    ----------
    trains : sequence of Train
    top_speed : float
        [m/s]

    Returns
    -------
    SpeedTable
    """

    def asked(train: Train, step: BrakeStep, speed: Floats) -> Floats:
        force = brake_force_per_mass(train, step, speed)
        return (force + resistance_per_mass(train, speed)) / (1.0 + train.rotating)

    steps = most_steps(trains)
    return tabulate(
        [partial(asked, train, step) for train in trains for step in _own_steps(train, steps)],
        top_speed,
    )


def sliding_table(
    trains: Sequence[Train], states: Sequence[RailState], eta: float, top_speed: float
) -> SpeedTable:
    """Tabulate the deceleration on the level with every braking wheelset sliding. [m/s2].

    Row (state * trains + train) * `most_steps` + step.

    Parameters
    ----------
    trains : sequence of Train
    states : sequence of RailState
    eta : float
        What wheel-slide protection makes of the adhesion there is. [-]
    top_speed : float
        [m/s]

    Returns
    -------
    SpeedTable
    """

    def sliding(state: RailState, train: Train, share: float, speed: Floats) -> Floats:
        held = share * (eta * GRAVITY * plan_adhesion(state, speed))
        rest = resistance_per_mass(train, speed)
        return (held + rest) / (1.0 + (1.0 - share) * train.rotating)

    shares = step_shares(trains)
    return tabulate(
        [
            partial(sliding, state, train, float(share))
            for state in states
            for train, row in zip(trains, shares, strict=True)
            for share in row
        ],
        top_speed,
    )
