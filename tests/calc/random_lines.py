"""Random lines, trains and tables: what no route file happens to hold."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from calc.constants import GRAVITY, MPH
from calc.model import RailState, Settings, TableInput, Target

from .cases import line, train

CHAIN = (
    RailState("dry", 0.15, 0.05, (0.0, 30.0, 60.0), (1.0, 0.8, 0.7)),
    RailState("wet", 0.10, 0.03, (0.0, 50.0), (1.0, 0.8), cover_aim=200.0),
    RailState("damp", 0.07, 0.029, (0.0, 50.0), (1.0, 0.8), cover_aim=200.0),
    RailState("leaf film", 0.04, 0.02, cover_aim=400.0),
    RailState("very low", 0.02, 0.01, cover_aim=400.0, pickable=False),
)


def random_line(rng: np.random.Generator, end: float, steepest: float = 1 / 40):
    """Gradients in stretches of 30 to 900 m, listed places among them."""
    starts = np.cumsum(rng.uniform(30, 900, 400))
    starts = starts[starts < end]
    gradients = rng.uniform(-steepest, steepest, starts.size)
    listed = []
    for place in np.arange(500.0, end, 2_000.0):
        start = place + rng.uniform(0, 1_200)
        stop = start + rng.uniform(20, 700)
        listed.append((start, stop, int(rng.integers(1, 4)), bool(rng.integers(2))))
    return line(list(zip(starts.tolist(), gradients.tolist(), strict=True)), listed=listed)


def random_train(rng: np.random.Generator, length: float):
    """Steps of about 2.5, 5 and 7.5 %g, weaker at speed; half may brake electrically."""
    high, mass = rng.uniform(0.8, 1.0), rng.uniform(60e3, 400e3)
    # A kilogram around the worked train of tests/outside (EN 14531-1).
    own = np.array([rng.uniform(0.01, 0.05), rng.uniform(0, 1.2e-3), rng.uniform(2e-5, 9e-5)])
    return train(
        [np.array([1.0, high]) * k * rng.uniform(0.02, 0.032) * GRAVITY for k in (1, 2, 3)],
        speeds=(0.0, 50.0),
        length=length,
        mass=mass,
        rotating=rng.uniform(0.0, 0.12),
        resistance=(own * mass).tolist(),
        wheelset_share=float(rng.choice([0.5, 1.0])),
        isolated_share=float(rng.choice([0.0, 0.25])),
        key=f"{length:.0f} m",
    )


def random_input(seed: int) -> TableInput:
    """Six stops on one random line, for trains of 0, 100 and 240 m."""
    rng = np.random.default_rng(seed)
    marks = np.arange(6_000.0, 30_000.0, 4_321.0)
    trains = tuple(random_train(rng, length) for length in (0.0, 100.0, 240.0))
    track = replace(
        random_line(rng, 35_000.0, 1 / 66), limit_speed=(float(rng.uniform(15, 32)),)
    )
    margins = rng.uniform(0, 80, marks.size)
    targets = tuple(
        Target(str(i), (mark,) * 3, (mark + margin,) * 3, 0.0, mark - 3_500.0)
        for i, (mark, margin) in enumerate(zip(marks.tolist(), margins.tolist(), strict=True))
    )
    speeds = tuple((np.arange(5, 76) * MPH).tolist())
    return TableInput(track, targets, trains, CHAIN, speeds, Settings(horizon=4_000.0))
