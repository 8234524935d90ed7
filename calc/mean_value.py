"""Stopping distance by mean values, as the trade calculates it from brake forces.

Nothing here feeds the advice: it is a second, published way to the same distance, kept
so that the curves can be held against it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


def equivalent_time_en14531(
    delay: ArrayLike, rise: ArrayLike, force: ArrayLike, external: float = 0.0
) -> float:
    """Return the time after which the full force may be thought to begin at once.

    Parameters
    ----------
    delay, rise : array_like
        Of each brake: until its force begins, and from there until it is full. [s]
    force : array_like
        Full force of each brake. [N]
    external : float
        Mean external force that slows the train; it acts from the start. [N]

    Returns
    -------
    float
        te, weighted by force. [s]

    Raises
    ------
    ValueError
        If no force slows the train.

    Notes
    -----
    te_i = ta + tab / 2 for each brake, as for a force rising along a straight line. The
    distance it leads to differs from the exact one only in the square of the rise.

    References
    ----------
    .. [1] EN 14531-1, mean-value method, in the simplified form of the teaching
       notebook BrakeCalculationAverageValues.ipynb, commit c908c8b,
       https://github.com/RailProfAC/RailwayBrakeCalculation
    """
    forces = np.asarray(force, dtype=np.float64)
    total = float(np.sum(forces)) + external
    if not total > 0:
        raise ValueError("no force slows the train: the sum of forces must be above 0 N")
    each = np.asarray(delay, dtype=np.float64) + np.asarray(rise, dtype=np.float64) / 2
    return float(np.sum(each * forces) / total)


def equivalent_deceleration_en14531(
    force: ArrayLike, dynamic_mass: float, external: float = 0.0
) -> float:
    """Return the mean deceleration under full force, rotating mass included [m/s2].

    Parameters
    ----------
    force : array_like
        Full force of each brake. [N]
    dynamic_mass : float
        Static and rotating mass. [kg]
    external : float
        Mean external force that slows the train. [N]

    Raises
    ------
    ValueError
        If the mass is not above zero.

    References
    ----------
    .. [1] As for `equivalent_time_en14531`.
    """
    if not dynamic_mass > 0:
        raise ValueError(f"the mass must be above 0 kg, got {dynamic_mass}")
    return (float(np.sum(np.asarray(force, dtype=np.float64))) + external) / dynamic_mass


def mean_resistance_en14531(a: float, b: float, c: float, speed: ArrayLike) -> Floats:
    """Return the mean over a stop of the resistance A + B v + C v2 [N].

    Parameters
    ----------
    a, b, c : float
        Coefficients. [N, N/(m/s), N/(m/s)2]
    speed : array_like
        Speed at which the stop begins. [m/s]

    Notes
    -----
    The mean over the distance of a stop at constant deceleration: v falls with the
    square root of what is left, so v counts two thirds and v2 one half.

    References
    ----------
    .. [1] As for `equivalent_time_en14531`.
    """
    v = np.asarray(speed, dtype=np.float64)
    return np.asarray(a + 2.0 / 3.0 * b * v + 0.5 * c * v**2)


def stopping_distance_en14531(
    speed: ArrayLike, time: ArrayLike, deceleration: ArrayLike, final_speed: ArrayLike = 0.0
) -> Floats:
    """Return s = v0 te + (v0 v0 - v v) / (2 ae) [m]; NaN where nothing slows the train.

    Parameters
    ----------
    speed, final_speed : array_like
        At the start and at the end. [m/s]
    time : array_like
        Equivalent time te. [s]
    deceleration : array_like
        Equivalent deceleration ae. [m/s2]

    References
    ----------
    .. [1] As for `equivalent_time_en14531`.
    """
    v0 = np.asarray(speed, dtype=np.float64)
    a = np.asarray(deceleration, dtype=np.float64)
    slowing = np.where(a > 0, a, np.nan)
    return np.asarray(
        v0 * np.asarray(time, dtype=np.float64)
        + (v0**2 - np.asarray(final_speed) ** 2) / (2.0 * slowing)
    )


def adhesion_demand_en14531(
    force: ArrayLike,
    static_mass: ArrayLike,
    rotating_mass: ArrayLike,
    deceleration: float,
    gravity: float,
) -> Floats:
    """Return the adhesion each wheelset asks of the rail at full force [-].

    Parameters
    ----------
    force : array_like
        Brake force at the rim of each wheelset. [N]
    static_mass, rotating_mass : array_like
        Carried by, and turning with, each wheelset. [kg]
    deceleration : float
        Of the train. [m/s2]
    gravity : float
        Free fall; given, as sources differ in its digits. [m/s2]

    Notes
    -----
    What slows the wheelset's own rotation never reaches the rail.

    References
    ----------
    .. [1] As for `equivalent_time_en14531`.
    """
    to_rail = np.asarray(force) - np.asarray(rotating_mass) * deceleration
    return np.asarray(to_rail / (np.asarray(static_mass) * gravity))
