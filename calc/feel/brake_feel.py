"""The feel table: seconds step 1 should take, and the band that tells nothing.

A running brake test compares the brake with what it should do. Speedometer, gradient,
mass and build-up are known only so well; a test inside the band they leave shows no
fault and excludes none. A weak result is first a fault of the brake.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..model import Line, Train
from .coast import TICK, Condition, Floats, Variation, as_written, seconds_taken

#: Fixed words; a company may translate them, not soften them.
WEAK = "Weaker than it should be. Treat as a brake problem: local instructions, signaller."
WITHIN = "Within the band: no fault shown, none excluded."
QUICK = "Quicker than the brake can do: look again at train, place and speeds."
NO_TEST = "No test here: the step takes too little off on this gradient."
#: What a weak result may mean only after the brake was looked at.
THEN = "Only when the brake has been found right: a sign about the rail."


@dataclass(frozen=True)
class Tolerances:
    """How well each thing is known; every figure is an assumption, see `BASIS`.

    Attributes
    ----------
    scale : float
        Speedometer's error of scale, as a share. [-]
    reading : float
        Error of each of the two readings. [m/s]
    clock : float
        Error of the time between them. [s]
    gradient : float
        Error of the mean gradient. [-]
    mass : float
        Error of the mass, as a share. [-]
    brake : float
        How far a brake in order may be off its quoted rate, as a share. [-]
    resistance : float
        Error of the running resistance, with wind, as a share. [-]
    dead_time : float
        Error of the dead time. [s]
    ramp : float
        Error of the build-up, as a share. [-]
    """

    scale: float = 0.02
    reading: float = 0.25
    clock: float = 0.5
    gradient: float = 0.001
    mass: float = 0.05
    brake: float = 0.05
    resistance: float = 0.3
    dead_time: float = 0.2
    ramp: float = 0.2


#: Why each tolerance is what it is; none has a published source.
BASIS = {
    "scale": "assumption: wheels worn by up to 2 % of their diameter",
    "reading": "assumption: about half a unit of the dial, read afterwards, not by stopwatch",
    "clock": "assumption: half a sample of a recorder that writes once a second",
    "gradient": "assumption: 1 in 1,000, posts and drawings are rounded",
    "mass": "assumption: seats taken or not",
    "brake": "assumption: a brake in order is within 5 % of its quoted rate",
    "resistance": "assumption: head or tail wind",
    "dead_time": "assumption: inside 0.2 to 0.6 s",
    "ramp": "assumption: pressure and temperature",
}


@dataclass(frozen=True)
class FeelRow:
    """What one train in one condition should take.

    Attributes
    ----------
    train, condition, step : str
    first, last : float
        Where the brake controller moves and where the clock stops. [m/s]
    expected : float
        inf where the step takes too little off. [s]
    quick, slow : float
        The band in which nothing can be concluded. [s]
    least_loss : float
        Smallest loss of brake force that shows outside the band, as a share; NaN if
        none does. [-]
    """

    train: str
    condition: str
    step: str
    first: float
    last: float
    expected: float
    quick: float
    slow: float
    least_loss: float


def feel_table(
    trains: Sequence[Train],
    conditions: Sequence[Condition],
    line: Line,
    start: float,
    first: float,
    last: float,
    step: int = 0,
    tolerances: Tolerances | None = None,
) -> tuple[FeelRow, ...]:
    """Return a row for each train and condition.

    Parameters
    ----------
    trains, conditions : sequence
    line : Line
        Gradients along the direction of travel.
    start : float
        Where the front is when the brake controller moves. [m]
    first, last : float
        Speed when the brake controller moves, lower speed that ends the test. [m/s]
    step : int
        Index of the step, the lightest by default.
    tolerances : Tolerances, optional

    Raises
    ------
    ValueError
        With what is missing or impossible.
    """
    known = tolerances or Tolerances()
    _check(trains, conditions, line, start, first, last, step, known)
    return tuple(
        _row(train, condition, line, start, as_written(first, last), step, known)
        for train in trains
        for condition in conditions
    )


def verdict(row: FeelRow, seconds: float) -> str:
    """Return what a test that took so long says, in fixed words.

    Raises
    ------
    ValueError
        If the seconds are missing or not above 0.
    """
    if not 0.0 < seconds < np.inf:
        raise ValueError(f"the test's seconds must be above 0, got {seconds}")
    if not np.isfinite(row.slow):
        return NO_TEST
    if seconds > row.slow:
        return WEAK
    return QUICK if seconds < row.quick else WITHIN


def _row(
    train: Train,
    condition: Condition,
    line: Line,
    start: float,
    way: Variation,
    step: int,
    known: Tolerances,
) -> FeelRow:
    taken = seconds_taken(train, condition, step, line, start, _varied(way, known))
    expected = float(taken[0])
    quick, slow = _band(taken, known.clock) if np.isfinite(expected) else (np.inf, np.inf)
    return FeelRow(
        train=train.key,
        condition=condition.name,
        step=train.steps[step].name,
        first=float(way.first),
        last=float(way.last),
        expected=expected,
        quick=quick,
        slow=slow,
        least_loss=_least_loss(train, condition, line, start, way, step, slow),
    )


def _band(taken: Floats, clock: float) -> tuple[float, float]:
    """Return the ends of the band from the test as written and its pairs of errors."""
    expected = float(taken[0])
    pairs = np.append(taken[1:] - expected, [clock, -clock]).reshape(-1, 2)
    later = np.sqrt(np.sum(np.maximum(pairs.max(axis=1), 0.0) ** 2))
    sooner = np.sqrt(np.sum(np.minimum(pairs.min(axis=1), 0.0) ** 2))
    return max(expected - float(sooner), 0.0), expected + float(later)


def _varied(way: Variation, known: Tolerances) -> Variation:
    """Return the test as written, then with each thing off by its tolerance, + and -.

    Independent of each other (assumption), so their effects add as squares.
    """
    moves = (
        {"first": 1.0 + known.scale, "last": 1.0 + known.scale},
        {"first+": known.reading},
        {"last+": known.reading},
        {"gradient+": known.gradient},
        {"mass": 1.0 + known.mass},
        {"brake": 1.0 + known.brake},
        {"resistance": 1.0 + known.resistance},
        {"dead_time+": known.dead_time},
        {"ramp": 1.0 + known.ramp},
    )
    out = way.many(1 + 2 * len(moves))
    for number, move in enumerate(moves):
        for name, figure in move.items():
            array = getattr(out, name.rstrip("+"))
            at = slice(1 + 2 * number, 3 + 2 * number)
            size = figure if name.endswith("+") else (figure - 1.0) * array[at]
            array[at] += size * np.array([1.0, -1.0])
    return out


def _least_loss(
    train: Train,
    condition: Condition,
    line: Line,
    start: float,
    way: Variation,
    step: int,
    slow: float,
) -> float:
    """Return the loss of brake force at which the expected time leaves the band."""
    if not np.isfinite(slow):
        return float("nan")
    left = np.linspace(1.0, 0.02, 50)
    weaker = replace(way.many(left.size), brake=left)
    taken = seconds_taken(train, condition, step, line, start, weaker, slow + 2 * TICK)
    shows = np.nonzero(taken > slow)[0]
    return float(1.0 - left[shows[0]]) if shows.size else float("nan")


def _check(
    trains: Sequence[Train],
    conditions: Sequence[Condition],
    line: Line,
    start: float,
    first: float,
    last: float,
    step: int,
    known: Tolerances,
) -> None:
    if not trains or not conditions:
        raise ValueError("the feel table needs at least one train and one condition")
    if not 0.0 <= last < first < np.inf:
        raise ValueError(f"speeds must fall, from {first} to {last} m/s, none below 0")
    if not np.isfinite(start):
        raise ValueError(f"where the test begins must be known, got {start}")
    if not np.all(np.isfinite((*line.gradient_from, *line.gradient))):
        raise ValueError("line: each gradient and each start of a stretch must be known")
    for name, figure in vars(known).items():
        if not 0.0 <= figure < np.inf:
            raise ValueError(f"tolerance {name} must be 0 or more, got {figure}")
    for train in trains:
        _check_train(train, step, first)
    for condition in conditions:
        if not 0.0 <= condition.isolated_share < 1.0 or not 0.0 < condition.load < np.inf:
            raise ValueError(
                f"condition {condition.name}: isolated share within 0 and 1, load above 0"
            )


def _check_train(train: Train, step: int, first: float) -> None:
    if not 0 <= step < len(train.steps):
        raise ValueError(f"train {train.key}: it has no step {step}")
    if not train.mass > 0 or not train.ramp > 0 or not train.rotating >= 0:
        raise ValueError(f"train {train.key}: mass and build-up must be above 0")
    figures = (train.length, train.dead_time, *train.resistance, *train.steps[step].rates)
    if not np.all(np.isfinite(figures)) or min(figures) < 0:
        raise ValueError(f"train {train.key}: a figure is missing or below 0")
    if first > train.max_speed:
        raise ValueError(f"train {train.key}: {first} m/s is above its top speed")
