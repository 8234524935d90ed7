"""The night model: its sign, its limits, and what never makes the rail colder."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc.weather.rail_temperature import RailSurface, night_rail_temperature, sky_emissivity
from calc.weather.sun import rail_keeps_night, sun_height

air = st.floats(-10.0, 30.0)
moist = st.floats(0.3, 1.0)
cloud = st.floats(0.0, 1.0)
wind = st.floats(0.0, 15.0)


def test_a_calm_cloudless_night_takes_a_rail_a_few_degrees_below_the_air():
    rail = night_rail_temperature(10.0, 0.9, 0.0, 0.0)
    assert 6.0 < rail < 8.0


def test_by_hand_with_one_number_a_term():
    # 10 degC, 90 %: e = 11.034 hPa, eps = 1.24 (11.034 / 283.15)^(1/7) = 0.7800;
    # lost 0.4 * 0.8 * 5.6704e-8 * 283.15^4 * 0.2200 = 25.66 W/m2;
    # taken 5.7 + 4 * 0.4 * 0.8 * 5.6704e-8 * 283.15^3 = 7.348 W/(m2 K); 25.66 / 7.348 = 3.49 K
    assert night_rail_temperature(10.0, 0.9, 0.0, 0.0) == pytest.approx(6.51, abs=0.005)


def test_wind_and_cloud_hold_the_rail_near_the_air():
    assert 10.0 - night_rail_temperature(10.0, 0.9, 1.0, 0.0) < 1.0
    assert 10.0 - night_rail_temperature(10.0, 0.9, 0.0, 8.0) < 1.0


@given(air, moist, cloud, wind)
def test_the_rail_is_never_warmer_than_the_air(t, humidity, covered, blowing):
    assert night_rail_temperature(t, humidity, covered, blowing) <= t + 1e-9


@given(air, moist, cloud, wind, st.floats(0.0, 0.3))
def test_more_cloud_or_wind_never_cools_it(t, humidity, covered, blowing, more):
    here = night_rail_temperature(t, humidity, covered, blowing)
    cloudier = min(covered + more, 1.0)
    assert night_rail_temperature(t, humidity, cloudier, blowing) >= here - 1e-9
    assert night_rail_temperature(t, humidity, covered, blowing + 10 * more) >= here - 1e-9


@given(air, moist, cloud, wind, st.floats(0.1, 5.0))
def test_colder_air_never_warms_the_rail(t, humidity, covered, blowing, less):
    colder = night_rail_temperature(t - less, humidity, covered, blowing)
    assert colder < night_rail_temperature(t, humidity, covered, blowing)


def test_a_rail_that_sees_no_sky_keeps_the_air_temperature():
    surface = RailSurface(sky_share=0.0)
    assert night_rail_temperature(10.0, 0.9, 0.0, 0.0, surface) == 10.0


def test_missing_is_nan_and_impossible_is_refused():
    assert np.isnan(night_rail_temperature(10.0, 0.9, np.nan, 0.0))
    with pytest.raises(ValueError, match="cloud"):
        sky_emissivity(10.0, 0.9, 1.5)
    with pytest.raises(ValueError, match="wind"):
        night_rail_temperature(10.0, 0.9, 0.0, -1.0)


def test_the_sun_at_noon_midnight_and_equinox():
    assert sun_height(172, 53.0, 12.0) == pytest.approx(90 - 53 + 23.44, abs=0.1)
    assert sun_height(355, 53.0, 12.0) == pytest.approx(90 - 53 - 23.44, abs=0.1)
    assert sun_height(172, 53.0, 0.0) == pytest.approx(-(90 - 53 - 23.44), abs=0.1)
    assert rail_keeps_night(290, 53.0, 6.0) and not rail_keeps_night(290, 53.0, 12.0)


@pytest.mark.parametrize("bad", [(0, 53.0, 12.0), (10, 95.0, 12.0), (10, 53.0, 25.0)])
def test_a_sun_that_cannot_be_is_refused(bad):
    with pytest.raises(ValueError, match="no sun"):
        sun_height(*bad)
