"""What no slide may ever do: open loop, so that nothing is triggered by the slide."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calc.constants import GRAVITY, MPH
from calc.slide import Handling, Sand, Sander, even_rail, simulate
from calc.slide.model import patch
from tests.calc.cases import line

from .units import HOLD, runs_of, slide, unit

#: A tick finds the end of a patch up to 0.1 s late. [m]
NOISE = 0.3
#: Runs side by side in one example; each has its own speed, rail and patch.
BATCH = 48
SEED = st.integers(0, 2**32 - 1)
GRADE = st.floats(-0.006, 0.015)
LENGTH = st.sampled_from([0.0, 80.0, 160.0])


def random_runs(seed: int, own, handling):
    """Random speeds and rails, each with a patch: worse, or much better, than the rest."""
    rng = np.random.default_rng(seed)
    speed = rng.uniform(5.0, 30.0, BATCH)
    mu, low = np.exp(rng.uniform(np.log(0.012), np.log(0.15), (2, BATCH)))
    begin = rng.uniform(0.0, 400.0, BATCH)
    end = begin + rng.uniform(3.0, 400.0, BATCH)
    return runs_of(own, [handling], speed, mark=5e3), mu, (begin, end, low), rng


def stops(own, runs, mu, laid, grade):
    """Where each run stood; infinite if it never did."""
    rail = even_rail(mu, BATCH, (patch(*laid, BATCH),))
    return np.nan_to_num(
        simulate(own, line(grade), rail, runs, longest=400.0).stop, nan=np.inf
    )


@settings(deadline=None, max_examples=10)
@given(seed=SEED, grade=GRADE, length=LENGTH, step=st.sampled_from(sorted(HOLD)))
def test_more_grip_never_lengthens_a_stop(seed, grade, length, step):
    own = unit(6, length=length)
    runs, mu, (begin, end, low), rng = random_runs(seed, own, HOLD[step])
    worse = stops(own, runs, mu, (begin, end, low), grade)
    more, better = rng.uniform(0.0, 0.06, (2, BATCH)) * rng.choice([0.0, 0.1, 1.0], (2, BATCH))
    best = stops(own, runs, mu + more, (begin, end, low + better), grade)
    assert np.isfinite(best).sum() > BATCH / 3
    assert np.all(best <= worse + NOISE)


@settings(deadline=None, max_examples=10)
@given(
    seed=SEED,
    grade=GRADE,
    length=LENGTH,
    period=st.floats(0.8, 8.0),
    share=st.floats(0.05, 0.8),
    after=st.floats(0.0, 4.0),
    empty=st.floats(0.2, 1.0),
)
def test_fanning_never_shortens_a_stop(seed, grade, length, period, share, after, empty):
    own = replace(unit(6, length=length), empty_time=empty)
    runs, mu, laid, _ = random_runs(seed, own, HOLD["usual"])
    held = stops(own, runs, mu, laid, grade)
    fan = Handling("fan", fan_period=period, fan_share=share, after=after)
    fanned = stops(own, random_runs(seed, own, fan)[0], mu, laid, grade)
    assert np.all(fanned >= held - NOISE)


def test_sand_that_a_slide_triggers_is_why_the_rule_names_open_loop():
    """This train sands only once it slides: a little more grip then means a longer stop."""
    sanded = replace(unit(), sand=Sand((Sander(0, 60.0),), from_step=0))
    mu = np.array([0.03, 0.04])
    runs = runs_of(sanded, [HOLD["highest"]], [25.0, 25.0], mark=5e3)
    assert np.all(np.isfinite(simulate(sanded, line(), even_rail(mu, 2), runs).stop))
    light = runs_of(sanded, [HOLD["lightest"]], [25.0, 25.0], mark=5e3)
    slid = simulate(sanded, line(), even_rail(mu, 2), light).slid
    assert slid.tolist() == [True, False]


@pytest.mark.parametrize("mu", [0.02, 0.03, 0.05])
def test_fanning_costs_what_emptying_and_refilling_take(mu):
    """Slower cylinders make the same fanning dearer; a long share released too."""
    speed = 60 * MPH

    def fanned(share=0.3, **times):
        fan = Handling("fan", fan_period=4.0, fan_share=share)
        return slide(unit(**times), fan, speed, mu, mark=5e3).stop[0]

    held = slide(unit(), HOLD["usual"], speed, mu, mark=5e3).stop[0]
    quick = fanned(fill_time=0.1, empty_time=0.1)
    print(f"mu {mu}: held {held:.0f}, fanned {fanned():.0f}, quick cylinders {quick:.0f} m")
    assert held < fanned() < fanned(share=0.5)
    assert fanned(fill_time=0.8) > fanned(fill_time=0.4)


def test_slide_on_even_rail_by_hand():
    """v v / (2 eta mu g), once the wheels hold what the rail gives."""
    own = unit(4, resistance=(0.0, 0.0, 0.0), rotating=0.1)
    result = slide(own, HOLD["highest"], 25.0, 0.02, applied=True, mark=3e3)
    assert result.stop[0] == pytest.approx(25.0**2 / (2 * 0.85 * 0.02 * GRAVITY), rel=1e-3)


def test_each_wheelset_slides_where_its_own_rail_is_slippery():
    """A short patch: every wheelset slides on it and, refilling, a little behind it."""
    own = unit(8, length=160.0)
    result = slide(own, HOLD["usual"], 20.0, 0.12, patches=((60.0, 75.0, 0.02),), mark=2e3)
    assert (result.slid_metres[0] > 10).all() and (result.slid_metres[0] < 16).all()
    assert (result.slid_from[0] >= 59).all() and (result.slid_to[0] <= 78).all()


def test_wheels_that_do_not_brake_never_slide():
    own = unit(8, wheelset_share=0.5)
    result = slide(own, HOLD["usual"], 20.0, 0.03, mark=2e3)
    assert np.count_nonzero(result.slid_metres[0]) == 4


def test_cleaning_by_leading_wheelsets_is_off_unless_asked_for():
    assert unit().cleaning == 0.0
    plain, cleaned = (
        slide(unit(cleaning=share), HOLD["usual"], 20.0, 0.02, mark=3e3)
        for share in (0.0, 0.05)
    )
    assert cleaned.stop[0] < plain.stop[0]
    assert cleaned.slid_metres[0, 0] > cleaned.slid_metres[0, -1]


def test_electric_brake_slides_earlier_than_friction_on_all():
    half, whole = (
        slide(unit(8, wheelset_share=share), HOLD["lightest"], 20.0, 0.06, mark=2e3)
        for share in (0.5, 1.0)
    )
    assert half.slid[0] and not whole.slid[0]


def test_undershoot_of_wsp_lengthens_a_slide():
    perfect, real = (
        slide(unit(undershoot=u), HOLD["usual"], 25.0, 0.03, mark=3e3).stop[0]
        for u in (0.0, 0.3)
    )
    assert perfect < real < 1.3 * perfect
