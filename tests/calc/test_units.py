"""Units: exact where they are exact."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import constants

from calc import units
from calc.constants import CHAIN, GRAVITY, KMH, MILE, MPH, YARD


def test_constants_are_scipys():
    """Source: SciPy's table of constants, from the 1959 yard and CODATA."""
    assert pytest.approx(constants.yard, rel=3e-16) == YARD
    assert pytest.approx(constants.mile, rel=3e-16) == MILE
    assert pytest.approx(constants.mph, rel=3e-16) == MPH
    assert pytest.approx(constants.kmh, rel=3e-16) == KMH
    assert GRAVITY == constants.g


def test_chain_is_the_uk_chain_and_not_the_us_survey_chain():
    assert pytest.approx(20.1168, abs=1e-12) == CHAIN
    assert abs(CHAIN - 20.11684023) > 3e-5
    assert pytest.approx(MILE, rel=3e-16) == 80 * CHAIN


@given(st.integers(0, 200), st.integers(0, 79))
def test_miles_and_chains_come_back_exactly(miles, chains):
    metres = units.metres_from_miles_chains(miles, chains)
    assert units.miles_chains_from_metres(metres) == (miles, chains)


@given(st.integers(0, 199), st.integers(0, 79))
def test_each_chain_lies_one_chain_further(miles, chains):
    here = units.metres_from_miles_chains(miles, chains)
    there = units.metres_from_miles_chains(miles, chains + 1)
    assert there - here == pytest.approx(20.1168, abs=1e-9)


@given(st.floats(0, 321_868))
def test_nearest_chain_is_within_half_a_chain(metres):
    miles, chains = units.miles_chains_from_metres(metres)
    assert 0 <= chains < 80
    assert abs(units.metres_from_miles_chains(miles, chains) - metres) <= 10.0584 + 1e-9


def test_fractions_of_a_chain_are_kept():
    assert units.metres_from_miles_chains(0, 0.5) == pytest.approx(10.0584, abs=1e-12)
    assert units.metres_from_miles_chains(31, 20) == pytest.approx(31.25 * 1609.344, abs=1e-9)


@pytest.mark.parametrize(
    ("there", "back"),
    [
        (units.speed_from_mph, units.mph_from_speed),
        (units.speed_from_kmh, units.kmh_from_speed),
        (units.deceleration_from_percent_g, units.percent_g_from_deceleration),
    ],
)
@given(value=st.floats(0, 400))
def test_there_and_back_gives_the_same(there, back, value):
    assert back(there(value)) == pytest.approx(value, rel=1e-14)


def test_yards_and_rates_by_hand():
    assert units.metres_from_yards(2) == 1.8288
    assert units.deceleration_from_percent_g(9.0) == pytest.approx(0.8825985, abs=1e-12)
    assert units.speed_from_kmh(36.0) == pytest.approx(10.0, abs=1e-14)
    assert units.speed_from_mph(60.0) == pytest.approx(26.8224, abs=1e-12)


def test_falling_gradient_is_negative_and_a_wall_is_refused():
    assert units.gradient_from_one_in(-75) == pytest.approx(-1 / 75)
    assert units.gradient_from_one_in(200) == 0.005
    with pytest.raises(ValueError, match="level"):
        units.gradient_from_one_in(0)
