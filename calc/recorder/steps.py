"""What each brake step achieved in dry brake tests, laid over what is planned with.

A dry brake test is one step, held from a steady speed, with no wheelset sliding. Each is
driven again from its first speed with the train's quoted rates; what share of them was
had, and how much longer the brake took to build up, is fitted to the recorded speeds.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..constants import GRAVITY
from ..model import Line, Train
from ..speed_tables import brake_force_per_mass, resistance_per_mass
from ..track import train_mean
from .grip import NINETY, Doubt
from .trace import Trace, check_trace, stretches

Floats = NDArray[np.float64]

#: A test must begin this fast, and its step be held this long. Assumptions. [m/s, s]
LEAST_SPEED, LEAST_HELD = 5.0, 6.0
#: Below this speed a wheel counts too few turns. Assumption. [m/s]
SLOWEST = 1.0
_TICK, _ROUNDS = 0.05, 12
#: Student's quantile that holds 90 % of a mean, by tests less one.
_STUDENT = (6.31, 2.92, 2.35, 2.13, 2.02, 1.94, 1.89, 1.86, 1.83)


@dataclass(frozen=True)
class Pressure:
    """Brake-cylinder pressure beside a trace, one figure a row; any unit, NaN unknown."""

    value: Floats


@dataclass(frozen=True)
class DryTest:
    """One dry brake test; the spreads are standard deviations.

    Attributes
    ----------
    step : int
        0 the lightest.
    begun : float
        When the brake controller moved. [s]
    speed : float
        [m/s]
    share, share_spread : float
        Force had as a share of the quoted. [-]
    wait, wait_spread : float
        Dead time and half the build-up together. [s]
    dead, rise : float
        By the pressure: to its first rise, and from there to full; NaN without. [s]
    """

    step: int
    begun: float
    speed: float
    share: float
    share_spread: float
    wait: float
    wait_spread: float
    dead: float
    rise: float


@dataclass(frozen=True)
class LeftOut:
    """An application that is no dry brake test, and why."""

    begun: float
    why: str


@dataclass(frozen=True)
class Figure:
    """A mean of some tests with the ends of its 90 % interval."""

    mean: float
    low: float
    high: float


@dataclass(frozen=True)
class StepFigures:
    """All tests of one step together; ``assumed_wait`` is what is planned with. [s]."""

    step: int
    tests: int
    share: Figure
    wait: Figure
    assumed_wait: float
    dead: Figure | None
    rise: Figure | None


def brake_tests(
    trace: Trace,
    train: Train,
    line: Line,
    *,
    start: float = 0.0,
    pressure: Pressure | None = None,
    doubt: Doubt | None = None,
) -> tuple[list[DryTest], list[LeftOut]]:
    """Return the dry brake tests of a trace, and the applications that are none.

    Parameters
    ----------
    trace : Trace
    train : Train
        Mass, rotating mass, resistance and quoted rates, as planned with.
    line : Line
        For the gradients along the trace's places.
    start : float
        Place of the first row, if the trace has no places. [m]
    pressure : Pressure, optional
    doubt : Doubt, optional

    Raises
    ------
    ValueError
        If the trace is impossible.
    """
    check_trace(trace)
    value = np.full(trace.time.size, np.nan) if pressure is None else pressure.value
    tests: list[DryTest] = []
    left: list[LeftOut] = []
    for part, _ in stretches(trace, start):
        first = int(np.searchsorted(trace.time, part.time[0]))
        mine = value[first : first + part.time.size]
        for begin, end in _held(part):
            why = _no_test(part, train, begin, end)
            if why:
                left.append(LeftOut(float(part.time[begin]), why))
                continue
            rows = _rows_of(part, begin, end)
            tests.append(_fitted(part.take(rows), mine[rows], train, line, doubt or Doubt()))
    return tests, left


def _held(part: Trace) -> list[tuple[int, int]]:
    """Return first and last row of every stretch in which one step is held."""
    edges = np.flatnonzero(np.diff(part.step)) + 1
    pieces = np.split(np.arange(part.time.size), edges)
    return [(int(p[0]), int(p[-1])) for p in pieces if part.step[p[0]] > 0]


def _no_test(part: Trace, train: Train, begin: int, end: int) -> str:
    """Say why an application is no dry brake test; nothing if it is one."""
    held = slice(begin, end + 1)
    if part.step[begin] > len(train.steps):
        return "emergency, no service step"
    if begin == 0 or part.step[begin - 1] > 0:
        return "the step was not taken from brake off"
    if part.wsp[held].any():
        return "wheel-slide protection was at work: not dry"
    if part.speed[begin] < LEAST_SPEED:
        return f"it began below {LEAST_SPEED:g} m/s"
    moving = part.time[held][part.speed[held] > SLOWEST]
    if moving.size < 4 or moving[-1] - moving[0] < LEAST_HELD:
        return f"the step was held for less than {LEAST_HELD:g} s"
    return ""


def _rows_of(part: Trace, begin: int, end: int) -> slice:
    """Return the rows to fit: the last one with the brake off, until nearly a stand."""
    moving = np.flatnonzero(part.speed[begin : end + 1] > SLOWEST)
    return slice(begin - 1, begin + int(moving[-1]) + 1)


class _Again:
    """A test driven again: speeds at its rows for a share, a stretch of build-up, a start."""

    def __init__(self, rows: Trace, train: Train, line: Line, handle: float) -> None:
        self.train, self.step = train, int(rows.step[-1]) - 1
        self.time, self.handle = rows.time, handle
        places = np.interp(
            np.arange(rows.time[0], rows.time[-1] + 1, 1.0), rows.time, rows.place
        )
        grade = train_mean(line.gradient_from, line.gradient, places, train.length)
        self.grade_at = (np.arange(grade.size) + rows.time[0], GRAVITY * grade)
        top = 1.2 * float(rows.speed.max()) + 1.0
        self.speeds = np.linspace(0.0, top, 200)
        self.force = brake_force_per_mass(train, train.steps[self.step], self.speeds)
        self.own = resistance_per_mass(train, self.speeds)

    def drive(self, share: Floats, stretch: Floats, first: Floats) -> Floats:
        """Return the speeds at the rows, (rows, columns), for columns of parameters."""
        train, rho = self.train, self.train.rotating
        ticks = np.arange(self.time[0], self.time[-1] + _TICK, _TICK)
        grade = np.interp(ticks, *self.grade_at)
        speed, level = first.copy(), np.zeros_like(first)
        kept = np.empty((ticks.size, first.size))
        for i, now in enumerate(ticks):
            kept[i] = speed
            full = np.interp(speed, self.speeds, self.force) * share
            begun = now + _TICK - self.handle - train.dead_time * stretch
            rise = train.ramp * share / stretch * np.clip(begun, 0.0, _TICK)
            level = np.minimum(level + rise, full)
            rest = np.interp(speed, self.speeds, self.own) + grade[i]
            slowing = (level + rest) / (1.0 + rho)
            speed = np.maximum(speed - slowing * _TICK, 0.0)
        columns = [np.interp(self.time, ticks, kept[:, c]) for c in range(first.size)]
        return np.stack(columns, axis=1)


def _fitted(rows: Trace, pressure: Floats, train: Train, line: Line, doubt: Doubt) -> DryTest:
    """Fit share, build-up and first speed by Gauss and Newton's method."""
    on = int(np.argmax(rows.step > 0))
    handle = 0.5 * float(rows.time[on - 1] + rows.time[on])
    again = _Again(rows, train, line, handle)
    guess = np.array([1.0, 1.0, float(rows.speed[0])])
    nudge = np.array([0.01, 0.05, 0.05])
    slope = np.empty((rows.time.size, 3))
    wrong = np.zeros(rows.time.size)
    for _ in range(_ROUNDS):
        tried = guess[:, None] + np.diag(nudge) @ np.eye(3, 4, 1)
        speeds = again.drive(*tried)
        wrong = rows.speed - speeds[:, 0]
        slope = (speeds[:, 1:] - speeds[:, :1]) / nudge
        step = np.linalg.lstsq(slope, wrong, rcond=None)[0]
        moved = np.clip(guess + step, [0.2, 0.05, 0.0], [2.0, 8.0, np.inf])
        done = float(np.abs(moved - guess).max()) < 1e-4
        guess = moved
        if done:
            break
    noise = float(np.sqrt(wrong @ wrong / max(rows.time.size - 3, 1)))
    spread = noise * np.sqrt(np.diag(np.linalg.pinv(slope.T @ slope)))
    speed, index = float(rows.speed[on]), again.step
    wait = _wait(train, index, speed)
    dead, rise = _by_pressure(rows.time, pressure, handle)
    gap = float(rows.time[on] - rows.time[on - 1])
    return DryTest(
        step=index,
        begun=float(rows.time[on]),
        speed=speed,
        share=float(guess[0]),
        share_spread=float(np.hypot(spread[0], _share_doubt(train, index, speed, doubt))),
        wait=float(guess[1] * wait),
        wait_spread=float(np.hypot(spread[1] * wait, gap / np.sqrt(12.0))),
        dead=dead,
        rise=rise,
    )


def _wait(train: Train, step: int, speed: float) -> float:
    """Return dead time and half the build-up of a step as planned with. [s]."""
    full = float(brake_force_per_mass(train, train.steps[step], np.array([speed]))[0])
    return train.dead_time + 0.5 * full / train.ramp


def _share_doubt(train: Train, step: int, speed: float, doubt: Doubt) -> float:
    """Return what gradient, resistance and the recorder's scale leave open of a share."""
    half = np.array([0.7 * speed])
    full = float(brake_force_per_mass(train, train.steps[step], half)[0])
    own = float(resistance_per_mass(train, half)[0])
    terms = (GRAVITY * doubt.gradient, doubt.resistance * own, doubt.speed * (full + own))
    return float(np.sqrt(sum(term**2 for term in terms)) / full)


def _by_pressure(time: Floats, value: Floats, handle: float) -> tuple[float, float]:
    """Return dead time and rise that a cylinder's pressure shows; NaN where it does not."""
    after = np.isfinite(value) & (time >= handle)
    if after.sum() < 4:
        return float("nan"), float("nan")
    before = value[np.isfinite(value) & (time < handle)]
    rest = float(before.mean()) if before.size else 0.0
    top = float(np.median(value[after][after.sum() // 2 :]))
    if not top > rest:
        return float("nan"), float("nan")
    rising = np.maximum.accumulate((value[after] - rest) / (top - rest))
    low, high = (float(np.interp(part, rising, time[after])) for part in (0.1, 0.9))
    rise = max(high - low, 0.0) / 0.8
    return max(low - handle - 0.1 * rise, 0.0), rise


def step_figures(tests: Sequence[DryTest], train: Train) -> list[StepFigures]:
    """Put the tests of each step together."""
    out = []
    for step in sorted({test.step for test in tests}):
        mine = [test for test in tests if test.step == step]
        speed = float(np.mean([test.speed for test in mine]))
        timed = [test for test in mine if np.isfinite(test.dead)]
        out.append(
            StepFigures(
                step,
                len(mine),
                _mean([t.share for t in mine], [t.share_spread for t in mine]),
                _mean([t.wait for t in mine], [t.wait_spread for t in mine]),
                _wait(train, step, speed),
                _mean([t.dead for t in timed], [0.0] * len(timed)) if timed else None,
                _mean([t.rise for t in timed], [0.0] * len(timed)) if timed else None,
            )
        )
    return out


def _mean(values: list[float], spreads: list[float]) -> Figure:
    """Return the mean with its 90 % interval, from the tests' scatter and their doubt.

    What leaves each test open is taken as common to all: more tests do not cure a worn
    wheel or a wrong gradient.
    """
    count, mean = len(values), float(np.mean(values))
    common = NINETY * float(np.mean(spreads))
    if count == 1:
        return Figure(mean, mean - common, mean + common)
    student = _STUDENT[min(count - 2, len(_STUDENT) - 1)]
    scatter = student * float(np.std(values, ddof=1)) / np.sqrt(count)
    half = float(np.hypot(scatter, common))
    return Figure(mean, mean - half, mean + half)
