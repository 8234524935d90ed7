"""Gradients and listed places under a train with length."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc.track import cell_means, listed_cells, stepwise_integral, train_mean

from .cases import line

STARTS, VALUES = [0.0, 100.0, 300.0], [0.01, -0.02, 0.0]


def test_integral_by_hand():
    at = np.array([-50.0, 0.0, 100.0, 200.0, 300.0, 400.0])
    found = stepwise_integral(STARTS, VALUES, at)
    np.testing.assert_allclose(found, [-0.5, 0.0, 1.0, -1.0, -3.0, -3.0])


def test_mean_under_a_train_by_hand():
    """Front at 150 m, 100 m long: half on 1 in 100 up, half on 1 in 50 down."""
    assert train_mean(STARTS, VALUES, np.array(150.0), 100.0) == pytest.approx(-0.005)


def test_point_train_stands_on_what_lies_behind_its_front():
    np.testing.assert_array_equal(
        train_mean(STARTS, VALUES, np.array([100.0, 100.1, 300.0]), 0.0), [0.01, -0.02, -0.02]
    )


@given(st.floats(50, 700), st.floats(1, 300))
def test_mean_lies_between_the_least_and_the_greatest(front, length):
    mean = train_mean(STARTS, VALUES, np.array(front), length)
    assert -0.02 - 1e-12 <= mean <= 0.01 + 1e-12


@given(st.floats(20, 240), st.integers(80, 160))
def test_cells_together_give_the_whole_rise(length, cells):
    """Cells of 5 to 10 m, as used, add up to the height the train gains: within 2 cm."""
    fronts = np.linspace(900.0, 400.0 - 300.0, cells + 1)
    means = cell_means(STARTS, VALUES, fronts, length)
    fine = np.linspace(900.0, 100.0, 20_001)
    exact = -np.trapezoid(train_mean(STARTS, VALUES, fine, length), fine)
    size = 800.0 / cells
    assert means.sum() * size == pytest.approx(exact, abs=0.02)


@pytest.mark.parametrize(
    ("starts", "values"), [([], []), ([0.0, 0.0], [1.0, 2.0]), ([0.0, 5.0], [1.0])]
)
def test_impossible_profile_is_refused(starts, values):
    with pytest.raises(ValueError):
        stepwise_integral(starts, values, np.array([1.0]))


def test_listed_places_that_overlap_count_once_and_the_worse_state_wins():
    place = line(listed=[(100.0, 200.0, 1, False), (150.0, 250.0, 3, False)])
    fronts = np.array([260.0, 250.0, 200.0, 190.0, 160.0, 150.0, 100.0, 90.0])
    share, state = listed_cells(place, fronts, 0.0, season=False)
    np.testing.assert_allclose(share, [0, 1, 1, 1, 1, 1, 0], atol=1e-12)
    assert state.tolist()[1:5] == [3, 3, 3, 3]
    assert state[5] == 1


def test_place_of_a_season_counts_in_season_only():
    place = line(listed=[(100.0, 200.0, 2, True)])
    fronts = np.array([180.0, 170.0])
    assert listed_cells(place, fronts, 0.0, season=False)[0] == [0.0]
    assert listed_cells(place, fronts, 0.0, season=True)[0] == [1.0]


def test_share_of_a_long_train_on_a_short_place():
    place = line(listed=[(100.0, 150.0, 2, False)])
    share, _ = listed_cells(place, np.array([301.0, 300.0, 299.0]), 200.0, season=False)
    np.testing.assert_allclose(share, [0.2475, 0.25], atol=0.01)
    share, _ = listed_cells(place, np.array([250.0, 240.0]), 200.0, season=False)
    assert share == pytest.approx([0.25])
