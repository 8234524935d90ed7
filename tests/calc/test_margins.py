"""Rounding errs to the side of more room and less speed, and does so once."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc import margins
from calc.constants import KMH, MPH

METRES = st.floats(0, 20_000)
TINY = 1e-6  # a micrometre: far below what anybody can drive or measure


@given(METRES)
def test_brake_point_is_never_later(metres):
    out = margins.brake_distance_out(metres)
    assert metres - TINY <= out < metres + 5
    assert out % 5 == 0


@given(st.floats(0, 90), st.sampled_from([(MPH, 5), (KMH, 10), (KMH, 5), (MPH, 1)]))
def test_speed_is_never_higher_and_on_the_dial(speed, dial):
    unit, grid = dial
    down = margins.speed_down(speed, unit, grid)
    assert down * unit <= speed + TINY
    assert (down + grid) * unit > speed
    assert down % grid == 0


@given(METRES)
def test_cover_is_never_more(metres):
    down = margins.cover_down(metres)
    assert metres - 10 < down <= metres + TINY
    assert down % 10 == 0


@given(st.floats(0, 3_600))
def test_time_lost_is_never_less(seconds):
    up = margins.seconds_up(seconds)
    assert seconds - TINY <= up < seconds + 1


@given(METRES)
def test_rounding_twice_changes_nothing(metres):
    for function in (margins.brake_distance_out, margins.cover_down, margins.seconds_up):
        once = function(metres)
        assert function(once) == once


@given(st.integers(0, 40), st.sampled_from([(MPH, 5), (KMH, 10)]))
def test_a_speed_on_the_dial_stays(mark, dial):
    unit, grid = dial
    assert margins.speed_down(mark * grid * unit, unit, grid) == mark * grid


@given(st.lists(METRES, min_size=2, max_size=2).map(sorted))
def test_rounding_keeps_the_order(pair):
    for function in (margins.brake_distance_out, margins.cover_down, margins.seconds_up):
        low, high = function(pair)
        assert low <= high


@pytest.mark.parametrize(
    "function",
    [
        margins.brake_distance_out,
        margins.cover_down,
        margins.seconds_up,
        lambda x: margins.speed_down(x, MPH),
    ],
)
def test_shape_is_kept_input_untouched_and_unknown_stays_unknown(function):
    given_values = np.array([[3.2, np.nan], [17.0, 0.0]])
    before = given_values.copy()
    out = function(given_values)
    assert out.shape == (2, 2)
    assert np.isnan(out[0, 1]) and not np.isnan(out[1]).any()
    np.testing.assert_array_equal(given_values, before)


@st.composite
def rising_values(draw):
    """Brake distances at every whole unit, rising, and knots among them."""
    gaps = draw(st.lists(st.integers(1, 9), min_size=1, max_size=8))
    knots = np.cumsum([draw(st.integers(5, 20)), *gaps])
    count = int(knots[-1] - knots[0]) + 1
    rises = draw(st.lists(st.floats(0, 400), min_size=count, max_size=count))
    return np.cumsum(rises), np.arange(knots[0], knots[-1] + 1), knots


@given(rising_values())
def test_line_between_knots_never_lies_below_a_whole_unit(case):
    values, units, knots = case
    raised = margins.knots_raised(values, units, knots)
    assert np.all(np.interp(units, knots, raised) >= values - TINY)
    assert np.all(raised % 5 == 0)
    assert np.all(np.diff(raised) >= 0)


@given(rising_values())
def test_the_browsers_integer_line_never_lies_below_a_whole_unit(case):
    values, units, knots = case
    b = margins.knots_raised(values, units, knots).astype(int).tolist()
    for j in range(len(knots) - 1):
        v0, v1 = int(knots[j]), int(knots[j + 1])
        for v in range(v0, v1 + 1):
            line = -(-(b[j] * (v1 - v) + b[j + 1] * (v - v0)) // (v1 - v0))
            assert line >= values[v - units[0]] - TINY


def test_knots_of_a_parabola_by_hand():
    """A convex curve lies below its chords, so nothing but the grid lifts it."""
    units = np.arange(0, 11)
    raised = margins.knots_raised(units**2.0, units, [0, 5, 10])
    np.testing.assert_array_equal(raised, [0, 25, 100])


def test_a_hump_between_knots_lifts_both_ends():
    values = np.array([0.0, 40.0, 40.0])
    np.testing.assert_array_equal(margins.knots_raised(values, [0, 1, 2], [0, 2]), [20, 60])


def test_an_unknown_value_makes_its_neighbours_unknown():
    values = np.arange(0.0, 110.0, 10.0)
    values[3] = np.nan
    raised = margins.knots_raised(values, np.arange(11), [0, 5, 10])
    assert np.isnan(raised[:2]).all()
