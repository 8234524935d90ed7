"""Disc against tread brake: friction of the blocks, and the film on tyre and rail."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..constants import KMH

Floats = NDArray[np.float64]

#: Speed at which cast-iron and disc rates are set equal [m/s].
REFERENCE_SPEED = 36.0 * KMH
#: Temperature above which cast iron fades [degC]; and loss a degree [1/K]. Assumptions.
FADE_FROM, FADE = 100.0, 0.0006


def cast_iron_friction(speed: Floats) -> Floats:
    """Return friction of cast-iron blocks, relative to that at 36 km/h. [-].

    Parameters
    ----------
    speed : numpy.ndarray
        [m/s]

    Returns
    -------
    numpy.ndarray
        Shape of ``speed``; 1 at 36 km/h.

    Notes
    -----
    (V + 100) / (5 V + 100), V in km/h: shape by speed of the traction rules for cast
    iron blocks (from memory, no text seen). Valid up to about 150 km/h.
    """
    kmh, at = speed / KMH, REFERENCE_SPEED / KMH
    reference = (at + 100.0) / (5.0 * at + 100.0)
    return np.asarray((kmh + 100.0) / (5.0 * kmh + 100.0) / reference)


def cast_iron_fade(temperature: Floats) -> Floats:
    """Return what is left of cast iron's friction at a temperature [degC]. [-].

    1 - 0.0006 (T - 100) above 100 degC, never below 0.3 (assumption).

    Parameters
    ----------
    temperature : numpy.ndarray
        Of the tread. [degC]

    Returns
    -------
    numpy.ndarray
        Shape of ``temperature``; from 0.3 to 1.
    """
    return np.maximum(1.0 - FADE * np.maximum(temperature - FADE_FROM, 0.0), 0.3)


def film_on_rail(dry: float, disc_adhesion: Floats) -> Floats:
    """Return the resistance of the rail's film from what a disc-braked wheel gets. [-].

    Parameters
    ----------
    dry : float
        Adhesion of clean dry rail. [-]
    disc_adhesion : numpy.ndarray
        What a disc-braked wheel gets there; above 0. [-]

    Returns
    -------
    numpy.ndarray
        Shape of ``disc_adhesion``; 0 or above.

    Notes
    -----
    Films in series: mu = mu_dry / (1 + R + theta); a tyre no block rubs has theta = 1.
    Where a disc-braked wheel gets more than half of mu_dry the rail has no film, and
    its tyre less than a whole one (`film_on_tyre`).
    """
    return np.asarray(np.maximum(dry / disc_adhesion - 2.0, 0.0))


def film_on_tyre(dry: float, disc_adhesion: Floats) -> Floats:
    """Return the film on a tyre that no block has rubbed, at most 1. [-].

    Parameters
    ----------
    dry : float
        Adhesion of clean dry rail. [-]
    disc_adhesion : numpy.ndarray
        What a disc-braked wheel gets there; above 0. [-]

    Returns
    -------
    numpy.ndarray
        Shape of ``disc_adhesion``.
    """
    return np.asarray(np.minimum(dry / disc_adhesion - 1.0, 1.0))


def adhesion_through_films(dry: float, rail_film: Floats, tyre_film: Floats) -> Floats:
    """Return the adhesion left by the films of rail and tyre in series. [-].

    The block takes the tyre's film off, never the rail's: on a thick rail film a clean
    tyre gains little.

    Parameters
    ----------
    dry : float
        Adhesion of clean dry rail. [-]
    rail_film, tyre_film : numpy.ndarray
        Resistances, 0 where clean. [-]

    Returns
    -------
    numpy.ndarray
        Shape of the films together.
    """
    return np.asarray(dry / (1.0 + rail_film + tyre_film))
