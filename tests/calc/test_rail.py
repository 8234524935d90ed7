"""The deceleration law against a plain sum over wheelsets."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc.constants import GRAVITY
from calc.rail import deceleration, wheelset_demand

from .truth import deceleration_of_wheelsets

FORCE = st.floats(0.0, 1.5)
REST = st.floats(-0.4, 0.4)
RHO = st.floats(0.0, 0.15)
SHARE = st.floats(0.3, 1.0)
HELD = st.floats(0.05, 2.0)


def array(value):
    return np.array([value])


@given(FORCE, REST, RHO, SHARE, HELD, st.floats(0.0, 1.0), HELD)
def test_closed_law_equals_the_sum_over_wheelsets(
    brake, rest, rho, share, held, listed, listed_held
):
    low = min(held, listed_held)
    groups = [(array(1 - listed), array(held)), (array(listed), array(low))]
    exact = deceleration_of_wheelsets(
        array(brake), array(rest), array(rho), array(share), groups
    )
    ours, _ = deceleration(brake, rest, rho, share, held, listed, listed_held)
    assert ours == pytest.approx(exact[0], abs=1e-9)


@given(FORCE, REST, RHO, SHARE, HELD, st.floats(0.0, 0.5))
def test_more_grip_never_slows_less(brake, rest, rho, share, held, more):
    less, _ = deceleration(brake, rest, rho, share, held)
    better, _ = deceleration(brake, rest, rho, share, held + more)
    assert better >= less - 1e-12


def test_dry_rail_gives_what_is_asked():
    actual, asked = deceleration(0.6, 0.02, 0.08, 1.0, 1.5)
    assert actual == asked == pytest.approx(0.62 / 1.08)


def test_a_slide_leaves_rail_and_resistance():
    actual, asked = deceleration(0.6, 0.02, 0.08, 1.0, 0.2)
    assert actual == pytest.approx(0.22)
    assert asked > actual


def test_half_the_wheelsets_ask_for_twice_the_adhesion():
    rate = 0.03 * GRAVITY
    all_of_them = wheelset_demand(rate, rate, 0.0, 1.0) / GRAVITY
    half = wheelset_demand(rate, rate, 0.0, 0.5) / GRAVITY
    assert all_of_them == pytest.approx(0.03)
    assert half == pytest.approx(0.06)


def test_quoted_rate_is_what_level_dry_track_gives():
    """f = rate (1 + rho) - r, so the law gives the rate back, at any speed."""
    rate, rho, own = 0.8826, 0.08, 0.05
    actual, _ = deceleration(rate * (1 + rho) - own, own, rho, 1.0, GRAVITY)
    assert actual == pytest.approx(rate, rel=1e-12)
