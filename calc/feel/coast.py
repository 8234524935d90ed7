"""Seconds between two speeds under one step, forward in time on the actual gradient."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from ..constants import GRAVITY
from ..model import Line, Train
from ..speed_tables import brake_force_per_mass
from ..track import train_mean

Floats = NDArray[np.float64]

#: Time step [s].
TICK = 0.1
#: A test that takes longer than this is none [s].
LONGEST = 180.0


@dataclass(frozen=True)
class Condition:
    """How the train runs today.

    Attributes
    ----------
    name : str
        As it stands in the table.
    isolated_share : float
        Braked weight isolated, as a share of the whole. [-]
    load : float
        Mass today over the mass the rates were measured at. [-]
    load_weighed : bool
        Whether the brake force follows the load.
    """

    name: str
    isolated_share: float = 0.0
    load: float = 1.0
    load_weighed: bool = True


@dataclass(frozen=True)
class Variation:
    """One way a test could really be, off what is written; arrays of one length.

    Attributes
    ----------
    first, last : numpy.ndarray
        Speeds at which the brake controller moves and the clock stops. [m/s]
    gradient : numpy.ndarray
        Added to the gradient of the line. [-]
    mass, brake, resistance : numpy.ndarray
        Factors. [-]
    dead_time : numpy.ndarray
        Added to the dead time. [s]
    ramp : numpy.ndarray
        Factor on the build-up. [-]
    """

    first: Floats
    last: Floats
    gradient: Floats
    mass: Floats
    brake: Floats
    resistance: Floats
    dead_time: Floats
    ramp: Floats

    def many(self, count: int) -> Variation:
        """Return ``count`` equal copies of a single one, to be varied."""
        return replace(self, **{f.name: self._wide(f.name, count) for f in fields(self)})

    def _wide(self, name: str, count: int) -> Floats:
        return np.full(count, float(getattr(self, name)))


def as_written(first: float, last: float) -> Variation:
    """Return a test as it is written, with nothing off."""
    one, nought = np.float64(1.0), np.float64(0.0)
    made = [np.asarray(x) for x in (first, last, nought, one, one, one, nought, one)]
    return Variation(*made)


def seconds_taken(
    train: Train,
    condition: Condition,
    step: int,
    line: Line,
    start: float,
    way: Variation,
    longest: float = LONGEST,
) -> Floats:
    """Return the seconds from the brake controller's move until the lower speed is read. [s].

    Parameters
    ----------
    train : Train
    condition : Condition
    step : int
        Index of the step.
    line : Line
        Only its gradients are used, averaged over the train's length.
    start : float
        Where the front is when the brake controller moves, along the line. [m]
    way : Variation
        Every array of the same length.
    longest : float
        How long to wait. [s]

    Returns
    -------
    numpy.ndarray
        inf where the speed has not come down by then.

    Notes
    -----
    Midpoint rule. Dry rail: no wheelset slides. The rotating masses stay as they are
    when the load changes; of the resistance, A follows the load and B, C do not
    (assumption); the brake force follows it where it is weighed.
    """
    speed, place = way.first.copy(), np.full_like(way.first, start)
    out = np.full_like(way.first, np.inf)
    law = _Law(train, condition, step, line, way)
    for tick in range(int(np.ceil(longest / TICK))):
        time = tick * TICK
        half = np.maximum(speed - 0.5 * TICK * law.at(time, speed, place), 0.0)
        middle = place + 0.5 * TICK * speed
        later = np.maximum(speed - TICK * law.at(time + 0.5 * TICK, half, middle), 0.0)
        met = ~np.isfinite(out) & (later <= way.last)
        gone = np.where(met, speed - later, 1.0)
        out = np.where(met, time + TICK * (speed - way.last) / gone, out)
        if np.isfinite(out).all():
            break
        place, speed = place + 0.5 * TICK * (speed + later), later
    return out


class _Law:
    """Deceleration under a step that builds up, on the gradient under the train."""

    def __init__(
        self, train: Train, condition: Condition, step: int, line: Line, way: Variation
    ) -> None:
        self.train = replace(train, isolated_share=condition.isolated_share)
        self.step, self.line, self.way = train.steps[step], line, way
        self.load = condition.load * way.mass
        # What is weighed is the load itself, not the error of what is known of it.
        self.weighed = condition.load if condition.load_weighed else 1.0

    def at(self, time: float, speed: Floats, place: Floats) -> Floats:
        """Return the deceleration. [m/s2]."""
        train, way = self.train, self.way
        full = brake_force_per_mass(train, self.step, speed) * way.brake
        built = train.ramp * way.ramp * (time - train.dead_time - way.dead_time)
        brake = np.clip(built, 0.0, full) * self.weighed / self.load
        a, b, c = train.resistance
        drag = a * self.load + b * speed + c * speed**2
        drag = drag * way.resistance / (train.mass * self.load)
        line = self.line
        slope = train_mean(line.gradient_from, line.gradient, place, train.length)
        rest = drag + GRAVITY * (slope + way.gradient)
        return np.asarray((brake + rest) / (1.0 + train.rotating / self.load))
