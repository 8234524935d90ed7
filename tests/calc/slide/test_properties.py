"""What no slide may ever do: open loop, so that nothing is triggered by the slide."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calc.constants import GRAVITY, MPH
from calc.slide import Handling

from .units import HOLD, slide, unit

MU = st.floats(0.012, 0.15)
SPEED = st.floats(5.0, 30.0)
GRADE = st.floats(-0.006, 0.015)
EDGE = st.floats(0.0, 400.0)
LENGTH = st.sampled_from([0.0, 80.0, 160.0])
#: A tick finds the end of a patch up to 0.1 s late. [m]
NOISE = 0.3


def patched(low, begin, span):
    return ((begin, begin + span, low),)


@settings(deadline=None, max_examples=60)
@given(
    mu=MU,
    more=st.floats(0.0, 0.08),
    low=MU,
    better=st.floats(0.0, 0.05),
    begin=EDGE,
    span=EDGE,
    speed=SPEED,
    grade=GRADE,
    length=LENGTH,
    step=st.sampled_from(sorted(HOLD)),
)
def test_more_grip_never_lengthens_a_stop(
    mu, more, low, better, begin, span, speed, grade, length, step
):
    own = unit(6, length=length)
    rest = {"gradient": grade, "mark": 5e3}
    worse = slide(own, HOLD[step], speed, mu, patches=patched(low, begin, span), **rest)
    laid = patched(low + better, begin, span)
    best = slide(own, HOLD[step], speed, mu + more, patches=laid, **rest)
    assert not best.stop[0] > np.nan_to_num(worse.stop[0], nan=np.inf) + NOISE


@settings(deadline=None, max_examples=60)
@given(
    mu=MU,
    low=MU,
    begin=EDGE,
    span=EDGE,
    speed=SPEED,
    grade=GRADE,
    length=LENGTH,
    period=st.floats(0.8, 8.0),
    share=st.floats(0.05, 0.8),
    after=st.floats(0.0, 4.0),
    empty=st.floats(0.2, 1.0),
)
def test_fanning_never_shortens_a_stop(
    mu, low, begin, span, speed, grade, length, period, share, after, empty
):
    own = replace(unit(6, length=length), empty_time=empty)
    rest = {"gradient": grade, "mark": 5e3, "patches": patched(low, begin, span)}
    fan = Handling("fan", fan_period=period, fan_share=share, after=after)
    held = slide(own, HOLD["usual"], speed, mu, **rest)
    fanned = slide(own, fan, speed, mu, **rest)
    assert not fanned.stop[0] < held.stop[0] - NOISE


def test_sand_that_a_slide_triggers_is_why_more_grip_may_lengthen():
    """The exception that the rule names: without a slide this train never sands."""
    from calc.slide import Sand, Sander

    sanded = replace(unit(), sand=Sand((Sander(0, 60.0),)))
    slides, quiet = (
        slide(sanded, HOLD["lightest"], 25.0, mu).stop[0] for mu in (0.034, 0.036)
    )
    harder = [slide(sanded, HOLD["highest"], 25.0, mu).stop[0] for mu in (0.05, 0.12)]
    assert quiet > 0 and slides > 0 and all(np.isfinite(harder))


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
