"""Slides against the backward curves, against SciPy with events, and their energy."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from calc.constants import GRAVITY
from calc.model import Settings
from calc.slide import Handling, even_rail, simulate
from tests.calc.cases import line, one_case, steady_curve, train

from .truth import Slide, stop_of
from .units import HOLD, OWN, runs_of, slide, unit

WAVES = [(-20_000.0, -0.004), (9_300.0, 0.008), (9_600.0, -0.006), (9_850.0, 0.002)]
FAST = {"rates": [(0.4, 0.24), (0.8, 0.5), (1.0, 0.7)], "speeds": (0.0, 40.0)}


@pytest.mark.parametrize("share", [1.0, 0.5])
@pytest.mark.parametrize("length", [0.0, 80.0, 240.0])
@pytest.mark.parametrize(("step", "name"), [(0, "lightest"), (1, "usual"), (2, "highest")])
def test_slide_and_backward_curve_agree_where_nothing_slides(step, name, length, share):
    """To a thousandth of the way, from every speed, on a waving line, rates by speed."""
    shape = {"length": length, "rotating": 0.08, "resistance": OWN, "wheelset_share": share}
    braked = train(**FAST, **shape)
    batch = one_case(
        braked, line(WAVES), settings=Settings(eta=1.0, cell=2.0, horizon=2_500.0)
    )
    away, speeds = steady_curve(batch, step)
    node = np.searchsorted(speeds, [5.0, 10.0, 18.0, 25.0])
    ours = replace(unit(8), base=braked)
    result = slide(
        ours,
        HOLD[name],
        speeds[node],
        1.0,
        gradient=WAVES,
        start=10_000.0 - away[node],
        mark=10_000.0,
        applied=True,
    )
    assert not result.slid.any()
    error = np.abs(result.to_mark) / away[node]
    print(f"{error.max():.2e} of {away[node].max():.0f} m")
    assert error.max() < 1e-3


def random_slide(seed: int) -> tuple[Slide, dict]:
    rng = np.random.default_rng(seed)
    own = unit(4, length=rng.uniform(20, 120), rotating=rng.uniform(0, 0.12))
    own = replace(own, fill_time=rng.uniform(0.3, 0.8), empty_time=rng.uniform(0.3, 0.8))
    # Longer than the way of a tick: a shorter one may be stepped over.
    first, second = rng.uniform(5, 60), rng.uniform(80, 150)
    patches = [
        (first, first + rng.uniform(5, 60), rng.uniform(0.015, 0.03)),
        (second, second + rng.uniform(5, 100), rng.uniform(0.02, 0.05)),
    ]
    speed, mu = rng.uniform(12, 28), rng.uniform(0.06, 0.12)
    gradient = rng.uniform(-0.008, 0.01)
    dead = own.base.dead_time
    case = Slide(own, speed, mu, patches, [(dead, 2)], gradient)
    return case, {"patches": patches, "gradient": gradient}


@pytest.mark.parametrize("seed", range(8))
def test_slide_agrees_with_solve_ivp_and_events(seed):
    """To 0.5 % of way and time, where wheelsets slide one by one."""
    case, rest = random_slide(seed)
    result = slide(case.train, HOLD["highest"], case.speed, case.adhesion, mark=3e3, **rest)
    metres, seconds = stop_of(case)
    print(f"{result.stop[0]:.2f} m against {metres:.2f} m")
    assert case.slid, "nothing slid: this compares nothing"
    assert {int(i) for i in np.flatnonzero(result.slid_metres[0])} == case.slid
    assert result.stop[0] == pytest.approx(metres, rel=5e-3)
    assert result.seconds[0] == pytest.approx(seconds, rel=5e-3)


def test_fanned_slide_agrees_with_solve_ivp():
    """Releases and re-applications at the times the hand really moved."""
    case, rest = random_slide(3)
    fan = Handling("fan", step="highest", fan_period=3.0, fan_share=0.4, after=1.0)
    result = slide(case.train, fan, case.speed, 0.03, mark=3e3, trace=True, **rest)
    hand = result.trace.handle[:, 0]
    moved = np.flatnonzero(np.diff(hand)) + 1
    dead = case.train.base.dead_time
    begins = np.concatenate([[0.0], result.trace.seconds])[moved]
    case.adhesion = 0.03
    case.orders += [(t + dead, int(hand[i])) for t, i in zip(begins, moved, strict=True)]
    metres, seconds = stop_of(case)
    assert len(moved) > 6
    assert result.stop[0] == pytest.approx(metres, rel=5e-3)
    assert result.seconds[0] == pytest.approx(seconds, rel=5e-3)


def test_half_the_tick_changes_next_to_nothing():
    own = unit()
    runs = runs_of(own, [HOLD["highest"]], [15.0, 25.0], mark=2e3)
    rail = even_rail(np.array([0.03, 0.05]), 2)
    coarse, fine = (simulate(own, line(), rail, runs, tick=t).stop for t in (0.1, 0.025))
    np.testing.assert_allclose(coarse, fine, rtol=5e-4)


@pytest.mark.parametrize("adhesion", [0.15, 0.05, 0.02])
def test_energy_balance_closes(adhesion):
    """Energy at the start = heat of brakes and slip + drag + climb, each summed apart.

    Brake work is summed from the cylinders, drag from the law of resistance, climb from
    the heights of the line; none uses our own deceleration.
    """
    own = unit(8, rotating=0.1)
    speed = 26.0
    result = slide(
        own,
        HOLD["highest"],
        speed,
        adhesion,
        gradient=WAVES,
        start=9_000.0,
        mark=12_000.0,
        patches=((9_100.0, 9_250.0, 0.02),),
        trace=True,
    )
    trace = result.trace
    front = np.concatenate([[9_000.0], trace.front[:, 0]])
    v = np.concatenate([[speed], trace.speed[:, 0]])
    metres, mean = np.diff(front), 0.5 * (v[1:] + v[:-1])
    level = np.concatenate([np.zeros((1, 8)), trace.level[:, 0]])
    # While a wheelset slides WSP holds its cylinder at the level of the tick's end.
    torque = np.where(trace.sliding[:, 0], level[1:], 0.5 * (level[1:] + level[:-1]))
    brake = np.sum(torque.mean(axis=1) * metres)
    a, b, c = own.base.resistance
    drag = np.sum((a + b * mean + c * mean**2) / own.base.mass * metres)
    heights = [mean_height(x, own.base.length) for x in (front[0], front[-1])]
    climb = GRAVITY * (heights[1] - heights[0])
    start = 0.5 * (1 + own.base.rotating) * speed**2
    print(f"{(brake + drag + climb) / start - 1:+.2e} of the energy at the start")
    assert brake + drag + climb == pytest.approx(start, rel=1e-3)
    assert result.brake_work[0] == pytest.approx(brake, rel=1e-3)
    assert result.climb_work[0] == pytest.approx(climb, abs=1e-3 * start)


def mean_height(front: float, length: float) -> float:
    """Height of the middle of many equal pieces of a train, by summing the gradients."""
    starts, values = np.array(WAVES).T
    place = front - length * (np.arange(4_000) + 0.5) / 4_000
    knots = np.concatenate([starts, [1e6]])
    high = np.concatenate([[0.0], np.cumsum(np.diff(knots) * values)])
    return float(np.interp(place, knots, high).mean())
