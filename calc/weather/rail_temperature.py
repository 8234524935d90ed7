"""How cold the rail gets under a clear night sky: a simple model, labelled as one.

A rail gives off heat to a cold sky and takes it back from the air that blows over it.
In the steady state of a long night both are equal; that is all this model knows.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .constants import STEFAN_BOLTZMANN, ZERO_CELSIUS
from .humidity import vapour_pressure

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class RailSurface:
    """What is assumed of a rail; each figure can be replaced by a company.

    Attributes
    ----------
    emissivity : float
        Of the sides, which are rusty; the bright head gives off less. Assumption. [-]
    sky_share : float
        Share of the rail's surface that sees the sky: the head and a part of the
        sides; the rest sees ballast about as warm as the air. Assumption. [-]
    still_air, by_wind : float
        Heat taken from the air, 5.7 + 3.8 v: McAdams's formula for a plate in wind
        (from memory). [W/(m2 K), J/(m3 K)]
    """

    emissivity: float = 0.8
    sky_share: float = 0.4
    still_air: float = 5.7
    by_wind: float = 3.8


def sky_emissivity(temperature: ArrayLike, humidity: ArrayLike, cloud: ArrayLike) -> Floats:
    """Return the emissivity of the night sky as seen from the ground. [-].

    Parameters
    ----------
    temperature : array_like
        Air temperature near the ground. [degC]
    humidity : array_like
        Relative humidity. [-]
    cloud : array_like
        Share of the sky that is covered, 0 to 1. [-]

    Raises
    ------
    ValueError
        If the cloud is no share of 1, or temperature or humidity are impossible.

    Notes
    -----
    Clear sky 1.24 (e / T)^(1/7), e in hPa, T in K; cloud c adds (1 - 0.84 c) of the
    clear value to 0.84 c. Made for the mean of a day; at night it is a guide.

    References
    ----------
    Brutsaert, On a derivable formula for long-wave radiation from clear skies, Water
    Resources Research 11 (1975) 742-744. Cloud: Campbell and Norman, Environmental
    Biophysics, 1998.
    """
    covered = np.asarray(cloud, dtype=np.float64)
    if np.any((covered < 0.0) | (covered > 1.0)):
        raise ValueError("cloud must be a share of the sky within 0 and 1")
    kelvin = np.asarray(temperature, dtype=np.float64) + ZERO_CELSIUS
    clear = 1.24 * (vapour_pressure(temperature, humidity) / kelvin) ** (1.0 / 7.0)
    return np.minimum((1.0 - 0.84 * covered) * clear + 0.84 * covered, 1.0)


def night_rail_temperature(
    temperature: ArrayLike,
    humidity: ArrayLike,
    cloud: ArrayLike,
    wind: ArrayLike,
    surface: RailSurface | None = None,
) -> Floats:
    """Return the temperature a rail comes to late in the night; a model, no reading. [degC].

    Parameters
    ----------
    temperature : array_like
        Air temperature. [degC]
    humidity : array_like
        Relative humidity. [-]
    cloud : array_like
        Share of the sky that is covered. [-]
    wind : array_like
        Wind speed near the ground, not negative. [m/s]
    surface : RailSurface, optional

    Returns
    -------
    numpy.ndarray
        Never above the air.

    Notes
    -----
    Heat balance: share x emissivity x sigma (eps_sky T_air^4 - T_rail^4) + h (T_air -
    T_rail) = 0, solved after one straight line for T_rail^4 at T_air. Left out, each
    with its side: the heat a rail has stored (cools later than this), dew's own heat
    (stops the cooling at the dew point), bridges and cuttings (either side), sun (for
    the night only).
    """
    rail = surface or RailSurface()
    air = np.asarray(temperature, dtype=np.float64)
    blowing = np.asarray(wind, dtype=np.float64)
    if np.any(blowing < 0.0):
        raise ValueError("wind speed must not be below 0 m/s")
    kelvin = air + ZERO_CELSIUS
    given = rail.sky_share * rail.emissivity * STEFAN_BOLTZMANN
    lost = given * kelvin**4 * (1.0 - sky_emissivity(air, humidity, cloud))
    taken = rail.still_air + rail.by_wind * blowing + 4.0 * given * kelvin**3
    return np.asarray(air - lost / taken)
