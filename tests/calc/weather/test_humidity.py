"""Dew point and its kin: by hand, limits, round trips, and what never rises."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc.weather.humidity import (
    dew_point_from_humidity,
    frost_point_from_humidity,
    humidity_from_dew_point,
    saturation_pressure,
    spread,
)

air = st.floats(-20.0, 40.0)
moist = st.floats(0.05, 1.0)


def test_by_hand_at_nought_and_at_a_hundred_per_cent():
    assert saturation_pressure(0.0) == pytest.approx(6.112)
    assert dew_point_from_humidity(12.0, 1.0) == pytest.approx(12.0)
    assert spread(12.0, 1.0) == 0.0


def test_arrays_and_numbers_give_the_same_and_arguments_stay_as_they_were():
    given_air, given_moist = np.array([5.0, 20.0]), np.array([0.8, 0.5])
    both = dew_point_from_humidity(given_air, given_moist)
    assert both[1] == dew_point_from_humidity(20.0, 0.5)
    assert given_air.tolist() == [5.0, 20.0] and given_moist.tolist() == [0.8, 0.5]


def test_dew_point_is_nan_when_humidity_is_missing():
    assert np.isnan(dew_point_from_humidity(10.0, np.nan))
    assert np.isnan(spread(np.nan, 0.8))


@pytest.mark.parametrize(
    ("temperature", "humidity", "words"),
    [
        (10.0, 0.0, "above 0"),
        (10.0, 1.2, "at most 1, got 1.2"),
        (10.0, -0.5, "above 0"),
        (70.0, 0.5, "-45 to 60 degC, got 70"),
        (-50.0, 0.5, "air temperature"),
        (np.inf, 0.5, "air temperature"),
    ],
)
def test_what_cannot_be_is_refused(temperature, humidity, words):
    with pytest.raises(ValueError, match=words):
        dew_point_from_humidity(temperature, humidity)


def test_a_dew_point_above_the_air_is_refused():
    with pytest.raises(ValueError, match="above the air"):
        humidity_from_dew_point(10.0, 10.5)


@given(air, moist)
def test_there_and_back(temperature, humidity):
    dew = dew_point_from_humidity(temperature, humidity)
    if dew >= -45.0:
        back = humidity_from_dew_point(temperature, min(dew, temperature))
        assert back == pytest.approx(humidity, rel=1e-9)


@given(air, moist, st.floats(0.1, 10.0))
def test_colder_air_of_one_humidity_never_raises_dew_point_or_spread(t, humidity, less):
    assert dew_point_from_humidity(t - less, humidity) <= dew_point_from_humidity(t, humidity)
    assert spread(t - less, humidity) <= spread(t, humidity) + 1e-9


@given(air, st.floats(0.05, 0.9), st.floats(0.0, 0.1))
def test_moister_air_never_lowers_dew_point_nor_widens_spread(temperature, humidity, more):
    moister = humidity + more
    assert dew_point_from_humidity(temperature, moister) >= dew_point_from_humidity(
        temperature, humidity
    )
    assert spread(temperature, moister) <= spread(temperature, humidity)


@given(st.floats(-20.0, -0.5), st.floats(0.3, 1.0))
def test_frost_comes_before_dew_below_nought(temperature, humidity):
    frost = frost_point_from_humidity(temperature, humidity)
    if np.isfinite(frost):
        assert frost >= dew_point_from_humidity(temperature, humidity)


def test_no_frost_point_above_nought():
    assert np.isnan(frost_point_from_humidity(15.0, 0.9))
