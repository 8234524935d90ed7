"""Cylinders and WSP: the brake force of each wheelset, and what of it the rail takes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np

from ..constants import GRAVITY
from ..speed_tables import (
    SpeedTable,
    brake_force_per_mass,
    braking_share,
    resistance_per_mass,
    tabulate,
)
from .model import Flags, Floats, Ints, SlideTrain

#: Slack before a wheelset counts as sliding [m/s2].
SLACK = 1e-6


@dataclass(frozen=True)
class Gear:
    """What a train's brake does by step and speed; the first row of each is "off".

    ``pattern`` (rows, wheelsets) shares a step's force out, its mean is 1; ``plain``
    tells that every wheelset takes the same.
    """

    force: SpeedTable
    resistance: SpeedTable
    pattern: Floats
    plain: bool


def make_gear(train: SlideTrain, top_speed: float) -> Gear:
    """Tabulate force and resistance of a train up to a speed. [m/s].

    Parameters
    ----------
    train : SlideTrain
    top_speed : float

    Returns
    -------
    Gear
        A row for "off" and one a step.
    """
    rules: list[Callable[[Floats], Floats]] = [np.zeros_like]
    shares = [np.ones(train.wheelsets)]
    for step in train.steps:
        rules.append(partial(brake_force_per_mass, train.base, step))
        shares.append(spread_over(train.wheelsets, braking_share(train.base, step)))
    pattern = np.stack(shares)
    own = tabulate([partial(resistance_per_mass, train.base)], top_speed)
    return Gear(tabulate(rules, top_speed), own, pattern, bool(np.all(pattern == 1.0)))


def spread_over(wheelsets: int, share: float) -> Floats:
    """Share a force out over some of the wheelsets, evenly along the train; mean 1.

    Which wheelsets brake electrically, or are isolated, is an assumption: evenly
    spread. At least one brakes.

    Parameters
    ----------
    wheelsets : int
    share : float
        Share of them that brakes. [-]

    Returns
    -------
    numpy.ndarray, shape (wheelsets,)
        0 on those that do not brake.
    """
    number = np.arange(wheelsets + 1)
    braked = np.diff(np.floor(number * share + 0.5))
    if not braked.any():
        braked[0] = 1.0
    return np.asarray(braked * (wheelsets / braked.sum()))


class Wheels:
    """Brake force of every wheelset per unit mass, (runs, wheelsets). [m/s2]."""

    def __init__(self, train: SlideTrain, gear: Gear, level: Floats, tick: float) -> None:
        self.train, self.gear, self.level, self.tick = train, gear, level, tick
        self._keep_fill = float(np.exp(-tick / train.fill_time))
        self._keep_empty = float(np.exp(-tick / train.empty_time))

    def goal(self, step: Ints, force: Floats) -> Floats:
        """Return the force each cylinder is asked for; one column where all are equal.

        Parameters
        ----------
        step : numpy.ndarray of int, shape (runs,)
            -1: off.
        force : numpy.ndarray, shape (runs,)
            Mean force of that step. [m/s2]

        Returns
        -------
        numpy.ndarray, shape (runs, 1 or wheelsets)
            [m/s2]
        """
        if self.gear.plain:
            return force[:, None]
        return np.asarray(force[:, None] * self.gear.pattern[step + 1])

    def fill(self, goal: Floats, friction: Floats) -> tuple[Floats, Floats]:
        """Fill and empty the cylinders for one time step.

        Parameters
        ----------
        goal : numpy.ndarray
            [m/s2]
        friction : numpy.ndarray, shape (runs,)
            Friction now over friction a time step ago, at the same pressure.

        Returns
        -------
        middle, moved : numpy.ndarray
            Force in the middle and at the end of the time step. [m/s2]
        """
        gap = self.level * friction[:, None]
        gap -= goal
        emptying = gap > 0
        if emptying.any():
            kept = np.where(emptying, self._keep_empty, self._keep_fill)
            moved = gap * kept
        else:
            moved = gap * self._keep_fill
        gap += moved
        gap *= 0.5
        gap += goal
        moved += goal
        return gap, moved

    def slow(self, middle: Floats, held: Floats, rest: Floats, before: Floats) -> Floats:
        """Return the deceleration, from a guess of it by one step of Newton. [m/s2].

        Parameters
        ----------
        middle, held : numpy.ndarray, shape (runs, wheelsets)
            Force asked, and what the rail gives. [m/s2]
        rest, before : numpy.ndarray, shape (runs,)
            Resistance and gradient; the guess. [m/s2]

        Returns
        -------
        numpy.ndarray, shape (runs,)

        Notes
        -----
        a = mean of min(f - rho a, held) + rest. The right side is straight while the
        same wheelsets slide, so one step is exact but for those that change within it.
        """
        rho = self.train.base.rotating
        net = middle - (rho * before)[:, None]
        count = self.train.wheelsets
        rolling = np.count_nonzero(net < held, axis=1) / count
        grip = np.minimum(net, held).sum(axis=1) / count
        return np.asarray((grip + rho * before * rolling + rest) / (1.0 + rho * rolling))

    def protect(self, moved: Floats, held: Floats, slowing: Floats) -> Flags:
        """Let WSP hold what slides; return which wheelsets do, (runs, wheelsets).

        A wheelset slides when its cylinder asks for more than its rail gives; WSP dumps
        the cylinder to what the rail holds, less its undershoot, and lets it refill.

        Parameters
        ----------
        moved, held : numpy.ndarray, shape (runs, wheelsets)
            Force at the end of the time step, and what the rail gives. [m/s2]
        slowing : numpy.ndarray, shape (runs,)
            [m/s2]

        Returns
        -------
        numpy.ndarray of bool, shape (runs, wheelsets)
        """
        most = held + (self.train.base.rotating * slowing)[:, None]
        sliding = moved > most + SLACK
        if self.train.undershoot > 0:
            most *= 1.0 - self.train.undershoot
            self.level = np.where(sliding, np.maximum(most, 0.0), moved)
        else:
            np.maximum(most, 0.0, out=most)
            self.level = np.minimum(moved, most, out=moved)
        return sliding


def held_by_rail(train: SlideTrain, adhesion: Floats) -> Floats:
    """Return the rail force per unit weight a wheelset can have, eta mu g. [m/s2].

    Parameters
    ----------
    train : SlideTrain
    adhesion : numpy.ndarray
        [-]

    Returns
    -------
    numpy.ndarray
        Shape of ``adhesion``. [m/s2]
    """
    return np.asarray(train.eta * GRAVITY * adhesion)
