"""Grip from a recorder's trace: where the rail was the limit, how much it gave."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..constants import GRAVITY
from ..model import Line, Train
from ..speed_tables import brake_force_per_mass, resistance_per_mass
from ..track import train_mean
from .motion import Estimate, estimate
from .pieces import Cut, Piece, cuts, slides, weights
from .trace import Trace, applications, averaged, before_the_stand, check_trace, stretches

Floats = NDArray[np.float64]

#: Standard deviations on either side that hold 90 % of a Gaussian.
NINETY = 1.6449
#: An application seen in fewer rows says nothing.
LEAST_ROWS = 4


@dataclass(frozen=True)
class Doubt:
    """Standard deviations of what a trace cannot tell; assumptions, to be replaced.

    Attributes
    ----------
    resistance : float
        Of running resistance, as a share of it. [-]
    gradient : float
        Of the gradient under the train. [-]
    speed : float
        Of the recorder's scale, mostly worn wheels, as a share of speed. [-]
    """

    resistance: float = 0.15
    gradient: float = 0.0005
    speed: float = 0.01


@dataclass(frozen=True)
class Grip:
    """What a trace says: pieces in order of travel, and each slide as a whole."""

    pieces: tuple[Piece, ...]
    slides: tuple[Piece, ...]


@dataclass(frozen=True)
class _Terms:
    """Decelerations between rows that rail force does not make. [m/s2]."""

    resistance: Floats
    grade: Floats
    grade_doubt: Floats


def grip_from_trace(
    trace: Trace,
    train: Train,
    line: Line,
    *,
    start: float = 0.0,
    piece: float = 100.0,
    doubt: Doubt | None = None,
) -> Grip:
    """Return the adhesion achieved by place, where the rail was the limit.

    Parameters
    ----------
    trace : Trace
        Sampled at 1 Hz or faster; rows may be missing, the clock may jump forward.
    train : Train
        For length, mass, resistance, rotating mass and what each step asks.
    line : Line
        For the gradients along the trace's places.
    start : float
        Place of the first row, if the trace has no places. [m]
    piece : float
        Length of a piece of line, about. [m]
    doubt : Doubt, optional

    Raises
    ------
    ValueError
        If the trace, the train's mass or the length of a piece are impossible.

    Notes
    -----
    mu = (a - r - g i) / g with a the deceleration of the train as a whole: rotating mass
    is between brake and rail, so it has no place here. On a falling line the rail gave
    more than v v / 2 s says. The recorded wheel is that of a train whose other wheels
    slide as well, so the adhesion is the mean over its wheelsets.
    """
    check_trace(trace)
    _check_stock(train, line, piece)
    doubt = doubt or Doubt()
    found: list[Piece] = []
    slid: list[Piece] = []
    for stretch, off in stretches(trace, start):
        for rows in applications(stretch):
            part = averaged(before_the_stand(stretch.take(rows)))
            if part.time.size < LEAST_ROWS:
                continue
            pieces, long = _read(part, float(np.max(off[rows])), train, line, piece, doubt)
            found += pieces
            slid += long
    return Grip(tuple(found), tuple(slid))


def _check_stock(train: Train, line: Line, piece: float) -> None:
    figures = (train.mass, train.length, train.rotating, *train.resistance, piece)
    if not np.all(np.isfinite(figures)) or min(figures) < 0 or train.mass <= 0 or piece <= 0:
        raise ValueError(
            f"train {train.key}: mass and the length of a piece must be above 0, and length, "
            "rotating mass and resistance known and not below 0"
        )
    if not line.gradient or not np.all(np.isfinite(line.gradient + line.gradient_from)):
        raise ValueError("line: at least one gradient, and each must be known")


def _read(
    part: Trace, off: float, train: Train, line: Line, length: float, doubt: Doubt
) -> tuple[list[Piece], list[Piece]]:
    """Return the pieces and the whole slides of one application."""
    long = slides(part)
    short = cuts(part, long, length)
    if not short:
        return [], []
    terms = _terms(part, off, train, line)
    wanted = weights(part, [*short, *long])
    seen = estimate(part, terms.resistance + terms.grade, wanted)
    spread = _with_doubt(seen, wanted, terms, doubt)
    asked = wanted @ _asked(part, train, terms)
    made = [
        _piece(part, cut, *figures)
        for cut, *figures in zip(
            [*short, *long], seen.mean, spread, asked / GRAVITY, strict=True
        )
    ]
    return made[: len(short)], made[len(short) :]


def _terms(part: Trace, off: float, train: Train, line: Line) -> _Terms:
    """Work out resistance and gradient between rows, the gradient over the train."""
    speed = 0.5 * (part.speed[1:] + part.speed[:-1])
    front = 0.5 * (part.place[1:] + part.place[:-1])

    def grade(at: Floats) -> Floats:
        means = train_mean(line.gradient_from, line.gradient, at, train.length)
        return np.asarray(GRAVITY * means)

    here = grade(front)
    astray = np.maximum(np.abs(grade(front - off) - here), np.abs(grade(front + off) - here))
    return _Terms(resistance_per_mass(train, speed), here, astray)


def _with_doubt(seen: Estimate, wanted: Floats, terms: _Terms, doubt: Doubt) -> Floats:
    """Add what the trace cannot tell to what its noise leaves open."""
    resistance = wanted @ terms.resistance / GRAVITY
    grade = wanted @ terms.grade / GRAVITY
    astray = wanted @ terms.grade_doubt / GRAVITY
    slowing = seen.mean + resistance + grade
    return np.asarray(
        np.sqrt(
            seen.spread**2
            + (doubt.resistance * resistance) ** 2
            + doubt.gradient**2
            + astray**2
            + (doubt.speed * slowing) ** 2
        )
    )


def _asked(part: Trace, train: Train, terms: _Terms) -> Floats:
    """Return the rail force per unit mass that the step asks for between rows. [m/s2].

    What reaches the rail of a step's force f is f - rho a; emergency counts as the highest
    service step, which claims less.
    """
    speed = 0.5 * (part.speed[1:] + part.speed[:-1])
    forces = [brake_force_per_mass(train, step, speed) for step in train.steps]
    index = np.clip(part.step[:-1], 1, len(train.steps)) - 1
    force = np.stack(forces)[index, np.arange(speed.size)]
    slowing = (force + terms.resistance + terms.grade) / (1.0 + train.rotating)
    return np.asarray(force - train.rotating * slowing)


def _piece(part: Trace, cut: Cut, mean: float, spread: float, asked: float) -> Piece:
    # Had as much as was asked: the brake was the limit, and some wheelset slid alone.
    limited = cut.sliding and mean + NINETY * spread < asked
    inside = slice(cut.first, cut.last + 1)
    return Piece(
        start=float(part.place[cut.first]),
        end=float(part.place[cut.last]),
        begun=float(part.time[cut.first]),
        over=float(part.time[cut.last]),
        speed=float(np.mean(part.speed[inside])),
        adhesion=float(mean),
        low=float(mean - NINETY * spread),
        high=float(mean + NINETY * spread) if limited else float("inf"),
        limited=bool(limited),
    )
