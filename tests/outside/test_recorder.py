"""A recorded stop on a falling line, read back as adhesion: what the rail itself gave."""

from __future__ import annotations

from functools import cache

import numpy as np

from calc.constants import GRAVITY, KMH
from calc.recorder import Piece, Trace, grip_from_trace
from tests.calc.cases import line, train

from .row import Source, outside

RECORDER = Source(
    "python4mechanical-engineers: 82 km/h to a stand in 545 m on 1 in 75 falling",
    "https://github.com/andy-pi/python4mechanical-engineers",
    "CONFIRMED",
)
SPEED, DISTANCE = 82 * KMH, 545.0


@cache
def read(wsp: bool, rotating: float = 0.08) -> Piece:
    """The stop as a recorder at 1 Hz shows it, in whole 0.1 km/h, read as one piece."""
    rate = SPEED**2 / (2 * DISTANCE)
    time = np.arange(0.0, 10.0 + SPEED / rate)
    speed = np.maximum(SPEED - rate * np.maximum(time - 10.0, 0.0), 0.0)
    on = time >= 10.0
    trace = Trace(
        time=time,
        speed=np.round(speed / (0.1 * KMH)) * 0.1 * KMH,
        step=np.where(on, 3, 0),
        wsp=on & wsp,
        place=np.full(time.size, np.nan),
    )
    braked = train((0.3, 0.6, 0.9), rotating=rotating)
    (piece,) = grip_from_trace(trace, braked, line(-1 / 75), piece=5_000.0).pieces
    return piece


@outside(
    RECORDER,
    0.606777,
    within=0.008,
    unit="m/s2",
    why="their rate on the level, gradient taken out; the fall adds to what the rail gave; "
    "a measured wheel may lag while it slides, which costs 1 %",
)
def test_rail_force_read_from_the_recorded_stop():
    piece = read(wsp=True)
    assert piece.limited
    return piece.adhesion * GRAVITY


@outside(
    RECORDER,
    0.0,
    within=1e-9,
    unit="m/s2",
    why="rotating mass lies between brake and rail: the rail's share does not change with it",
    status="DERIVED",
)
def test_rotating_mass_does_not_change_the_rail_force_read():
    return (read(True, 0.15).adhesion - read(True, 0.0).adhesion) * GRAVITY


@outside(
    RECORDER,
    (0.55, 0.606777),
    within=0.004,
    unit="m/s2",
    why="without wheel-slide protection the same stop is only a lower bound, not above it",
)
def test_lower_bound_read_from_the_recorded_stop():
    piece = read(wsp=False)
    assert not piece.limited
    return piece.low * GRAVITY
