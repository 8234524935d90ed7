"""A recorder's trace of a known stop: own truth in small time steps, then realistic faults.

Shares no code with the reader. Truth is the rail force as a share of weight, by place.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from calc.model import Line, Train
from calc.recorder import Trace
from tests.calc import cases

G = 9.80665
TICK = 0.05
RATES = (0.03 * G, 0.06 * G, 0.09 * G)
RESISTANCE = (1_800.0, 25.0, 6.5)
MASS = 140_000.0
ROTATING = 0.08


@dataclass(frozen=True)
class Road:
    """The rail's adhesion and the true gradient, each 10 m from place 0 on."""

    adhesion: np.ndarray
    gradient: np.ndarray


@dataclass(frozen=True)
class Run:
    """What really happened, each TICK."""

    time: np.ndarray
    place: np.ndarray
    speed: np.ndarray
    step: np.ndarray
    wsp: np.ndarray
    used: np.ndarray

    def mean_used(self, begun: float, over: float) -> float:
        """Return the true adhesion used between two moments, by way. [-]"""
        inside = (self.time >= begun) & (self.time < over)
        way = self.speed[inside]
        return float(np.sum(self.used[inside] * way) / np.sum(way))

    def place_at(self, time: float) -> float:
        return float(np.interp(time, self.time, self.place))


@dataclass(frozen=True)
class Recorded:
    """A trace, its train's place at the first row, and when its rows really were."""

    trace: Trace
    start: float
    true_time: np.ndarray

    def moment(self, shown: float) -> float:
        """Return the true time of what the trace's clock shows."""
        return float(np.interp(shown, self.trace.time, self.true_time))


def random_road(rng: np.random.Generator, level: float, patches: float) -> Road:
    """Adhesion in patches about a level, on a line of a few gradients."""
    cells = 1_000
    swing, own = np.zeros(cells), rng.normal(size=cells)
    keep = np.exp(-10.0 / patches)
    for k in range(1, cells):
        swing[k] = keep * swing[k - 1] + np.sqrt(1 - keep**2) * own[k]
    gradient = np.repeat(rng.choice([0.0, -1 / 75, -1 / 150, 1 / 200, 1 / 100], 10), 100)
    return Road(np.clip(level * np.exp(0.3 * swing), 0.01, 0.3), gradient)


def drive(roads: list[Road], speeds: np.ndarray, steps: np.ndarray) -> list[Run]:
    """Drive all runs to a stand: coast 15 s, then one step on rail of 0.85 its adhesion."""
    adhesion = np.stack([road.adhesion for road in roads])
    gradient = np.stack([road.gradient for road in roads])
    each, speed = np.arange(len(roads)), np.array(speeds, dtype=float)
    place, level = np.full(len(roads), 50.0), np.zeros(len(roads))
    a, b, c = RESISTANCE
    history = []
    for tick in range(int(400 / TICK)):
        cell = np.minimum((place / 10.0).astype(int), adhesion.shape[1] - 1)
        resistance = (a + b * speed + c * speed**2) / MASS
        rest = resistance + G * gradient[each, cell]
        force = np.array(RATES)[steps - 1] * (1 + ROTATING) - resistance
        built = tick * TICK >= 15.4
        level = np.minimum(level + 0.5 * TICK, force) * built
        asked = level - ROTATING * (level + rest) / (1 + ROTATING)
        given = 0.85 * G * adhesion[each, cell]
        slides = (asked > given) & built
        rail = np.where(slides, given, asked)
        history.append((place, speed, slides, rail / G))
        speed = np.maximum(speed - (rail + rest) * TICK, 0.0)
        place = place + speed * TICK
        if not speed.any():
            break
    columns = [np.stack(column, axis=1) for column in zip(*history, strict=True)]
    return [_run(columns, k, int(steps[k])) for k in each]


def _run(columns: list[np.ndarray], row: int, step: int) -> Run:
    place, speed, wsp, used = (column[row] for column in columns)
    moving = speed > 0
    time = np.arange(moving.sum()) * TICK
    held = np.where(time >= 15.0, step, 0)
    return Run(time, place[moving], speed[moving], held, wsp[moving], used[moving])


def slip_of_measured_wheel(run: Run, rng: np.random.Generator) -> np.ndarray:
    """A wheel that lets go and catches again: teeth of random depth and length."""
    slip = np.zeros(run.time.size)
    depth = rng.choice([0.05, 0.12, 0.2])
    left, length, tall = 0.0, 1.0, 0.0
    for k, slides in enumerate(run.wsp):
        if left <= 0:
            length = left = rng.uniform(0.6, 2.5)
            tall = depth * rng.gamma(2.0, 0.5) if slides else 0.0
        slip[k] = min(tall * np.sin(np.pi * (1 - left / length)), 0.9) if slides else 0.0
        left -= TICK
    return slip


@dataclass(frozen=True)
class Faults:
    """How bad the recorder is."""

    interval: float = 1.0
    display: float = 1 / 3.6
    noise: float = 0.05
    missing: float = 0.04
    scale: float = 0.01
    fixes: bool = False
    jump: bool = False


def recorded(run: Run, faults: Faults, rng: np.random.Generator) -> Recorded:
    """Return what the recorder keeps of a run."""
    first = rng.uniform(0.0, faults.interval)
    rows = np.searchsorted(run.time, np.arange(first, run.time[-1], faults.interval))
    rows = rows[rows < run.time.size]
    rows = rows[rng.random(rows.size) > faults.missing]
    wheel = run.speed * (1 - slip_of_measured_wheel(run, rng)) * rng.normal(1, faults.scale)
    speed = wheel[rows] + rng.normal(0, faults.noise, rows.size)
    if faults.display:
        speed = np.round(speed / faults.display) * faults.display
    time = run.time[rows] + rng.uniform(0.0, 0.02, rows.size)
    if faults.jump:
        time[rng.integers(5, rows.size - 3) :] += rng.choice([20.0, 3600.0])
    place = run.place[rows] + rng.normal(0, 5.0, rows.size)
    if not faults.fixes:
        place = np.full(rows.size, np.nan)
    trace = Trace(time, np.maximum(speed, 0.0), run.step[rows], run.wsp[rows], place)
    return Recorded(trace, float(run.place[rows[0]]), run.time[rows])


def the_train(rng: np.random.Generator | None = None) -> Train:
    """The train as the depot knows it: its resistance is off by 15 %."""
    share = 1.0 if rng is None else float(np.clip(rng.normal(1.0, 0.15), 0.6, 1.4))
    resistance = tuple(share * term for term in RESISTANCE)
    return cases.train(RATES, mass=MASS, rotating=ROTATING, resistance=resistance)


def the_line(road: Road, rng: np.random.Generator | None = None) -> Line:
    """The line as the depot knows it: its gradient is off by 0.0005."""
    off = 0.0 if rng is None else float(rng.normal(0, 0.0005))
    stretches = [
        (10.0 * k, float(g) + off) for k, g in enumerate(road.gradient) if k % 100 == 0
    ]
    return cases.line(stretches)
