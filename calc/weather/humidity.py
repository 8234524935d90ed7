"""Water vapour: saturation pressure, dew point, frost point and spread.

Temperatures are in degC, as every weather report gives them; humidity is a share of 1
over water, also below 0 degC, as weather stations report it. NaN means not observed and
stays NaN; what cannot exist is refused.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .constants import ICE, ICE_RANGE, WATER, WATER_RANGE

Floats = NDArray[np.float64]


def saturation_pressure(temperature: ArrayLike) -> Floats:
    """Return the pressure of saturated vapour over water. [hPa].

    Parameters
    ----------
    temperature : array_like
        Air temperature. [degC]

    Raises
    ------
    ValueError
        Outside -45 to 60 degC, where the formula does not hold.

    Notes
    -----
    Magnus formula e = 6.112 exp(17.62 T / (243.12 + T)); within 0.3 % of IAPWS-97
    between 0 and 30 degC. The enhancement by air (0.4 %) is left out: it cancels in
    dew point and humidity.

    References
    ----------
    WMO-No. 8, Guide to Instruments, 2008, annex 4.B, p. 1.4-29 (after Sonntag 1990).
    """
    at = _within("air temperature", temperature, WATER_RANGE, "degC")
    base, slope, offset = WATER
    return np.asarray(base * np.exp(slope * at / (offset + at)))


def dew_point_from_humidity(temperature: ArrayLike, humidity: ArrayLike) -> Floats:
    """Return the temperature at which dew begins, over water. [degC].

    Parameters
    ----------
    temperature : array_like
        Air temperature. [degC]
    humidity : array_like
        Relative humidity over water, above 0, at most 1. [-]

    Raises
    ------
    ValueError
        If the humidity is impossible or the temperature outside -45 to 60 degC.

    Notes
    -----
    The Magnus formula solved for T; inputs within its range can give a dew point below
    it only in air drier than any that wets a rail. Below 0 degC what forms is ice: see
    `frost_point_from_humidity`.
    """
    return _solve(vapour_pressure(temperature, humidity), WATER)


def frost_point_from_humidity(temperature: ArrayLike, humidity: ArrayLike) -> Floats:
    """Return the temperature at which frost begins on a surface. [degC].

    NaN where it lies above 0 degC: there dew forms first.

    Parameters
    ----------
    temperature : array_like
        Air temperature. [degC]
    humidity : array_like
        Relative humidity over water. [-]

    Notes
    -----
    Magnus formula over ice, 6.112 exp(22.46 T / (272.62 + T)), -65 to 0 degC (WMO-No.
    8). The frost point lies above the dew point below 0 degC, so frost comes sooner.
    """
    point = _solve(vapour_pressure(temperature, humidity), ICE)
    return np.where((point <= 0.0) & (point >= ICE_RANGE[0]), point, np.nan)


def vapour_pressure(temperature: ArrayLike, humidity: ArrayLike) -> Floats:
    """Return the vapour pressure of air. [hPa].

    Parameters
    ----------
    temperature : array_like
        Air temperature. [degC]
    humidity : array_like
        Relative humidity over water, above 0, at most 1. [-]
    """
    share = np.asarray(humidity, dtype=np.float64)
    if np.any((share <= 0.0) | (share > 1.0)):
        raise ValueError(
            f"relative humidity must be above 0 and at most 1, got {_first_bad(share)}"
        )
    return np.asarray(saturation_pressure(temperature) * share)


def humidity_from_dew_point(temperature: ArrayLike, dew_point: ArrayLike) -> Floats:
    """Return relative humidity over water. [-].

    Parameters
    ----------
    temperature, dew_point : array_like
        Air temperature and dew point, which is never above it. [degC]

    Raises
    ------
    ValueError
        If a dew point lies above its air temperature.
    """
    air = np.asarray(temperature, dtype=np.float64)
    dew = np.asarray(dew_point, dtype=np.float64)
    if np.any(dew > air):
        raise ValueError("a dew point cannot lie above the air temperature")
    return np.asarray(saturation_pressure(dew) / saturation_pressure(air))


def spread(temperature: ArrayLike, humidity: ArrayLike) -> Floats:
    """Return air temperature less dew point, never below 0. [K].

    Parameters
    ----------
    temperature : array_like
        Air temperature. [degC]
    humidity : array_like
        Relative humidity over water. [-]
    """
    air = np.asarray(temperature, dtype=np.float64)
    return np.maximum(air - dew_point_from_humidity(air, humidity), 0.0)


def _solve(pressure: Floats, formula: tuple[float, float, float]) -> Floats:
    base, slope, offset = formula
    ratio = np.log(pressure / base)
    return np.asarray(offset * ratio / (slope - ratio))


def _within(what: str, values: ArrayLike, span: tuple[float, float], unit: str) -> Floats:
    value = np.asarray(values, dtype=np.float64)
    low, high = span
    outside = (value < low) | (value > high)
    if np.any(outside):
        worst = np.atleast_1d(value)[np.atleast_1d(outside)][0]
        raise ValueError(f"{what} must lie within {low:g} to {high:g} {unit}, got {worst:g}")
    return value


def _first_bad(share: Floats) -> float:
    flat = np.atleast_1d(share)
    return float(flat[(flat <= 0.0) | (flat > 1.0)][0])
