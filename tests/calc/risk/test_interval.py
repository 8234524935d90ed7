"""Wilson's interval: against SciPy, its limits, and what it refuses."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from calc.risk.interval import normal_quantile, wilson_interval


@given(st.integers(1, 5000), st.data(), st.sampled_from([0.8, 0.9, 0.95, 0.99]))
def test_it_is_scipys_interval(runs, data, confidence):
    hits = data.draw(st.integers(0, runs))
    ours = wilson_interval(hits, runs, confidence)
    theirs = stats.binomtest(hits, runs).proportion_ci(confidence, method="wilson")
    assert ours.low == pytest.approx(theirs.low, abs=1e-9)
    assert ours.high == pytest.approx(theirs.high, abs=1e-9)
    assert 0.0 <= ours.low <= ours.share <= ours.high <= 1.0


def test_no_hit_leaves_room_and_more_runs_less_of_it():
    few, many = wilson_interval(0, 20), wilson_interval(0, 2000)
    assert few.low == many.low == 0.0 and few.high > many.high > 0.0


@given(st.floats(1e-6, 1 - 1e-6))
def test_the_quantile_is_scipys(probability):
    assert normal_quantile(probability) == pytest.approx(stats.norm.ppf(probability), abs=1e-6)


@pytest.mark.parametrize(("hits", "runs"), [(1, 0), (-1, 10), (11, 10)])
def test_counts_that_cannot_be_are_refused(hits, runs):
    with pytest.raises(ValueError, match="hits"):
        wilson_interval(hits, runs)


@pytest.mark.parametrize("confidence", [1.0, -1.0, float("nan")])
def test_a_confidence_that_cannot_be_is_refused(confidence):
    with pytest.raises(ValueError, match="probability"):
        wilson_interval(1, 10, confidence)
