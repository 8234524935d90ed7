"""The measured wheel: it rolls with some noise, or it slides and lags behind the train.

While it slides it records d = v - recorded = lag + noise, the lag exponential with a mean
that grows with speed: mostly little, sometimes much, never ahead. The density of d is
log-concave, so the best speeds are found by Newton's method without false summits, and a
locked wheel pulls no harder than any other that lags.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

#: Where the logarithm of the normal share is tabulated; below, its asymptote is as good.
_FAR, _TOP, _STEP = -25.0, 9.0, 0.004
_AT = np.arange(_FAR, _TOP, _STEP)
_LOG_SHARE = np.array([math.log(0.5 * math.erfc(-z / math.sqrt(2.0))) for z in _AT])
_RATIO = np.exp(-0.5 * _AT**2 - 0.5 * math.log(2 * math.pi) - _LOG_SHARE)


def log_density(
    ahead: Floats, noise: float, lag: Floats, count: Floats
) -> tuple[Floats, Floats, Floats]:
    """Return the log density of how far a row lags, its slope and its curvature.

    Parameters
    ----------
    ahead : numpy.ndarray
        True less recorded speed. [m/s]
    noise : float
        Standard deviation of the record. [m/s]
    lag : numpy.ndarray
        Mean lag of a sliding wheel; 0 where it rolls. [m/s]
    count : numpy.ndarray
        As how much of an independent row each row counts. [-]

    Returns
    -------
    log_density, slope, curvature : numpy.ndarray
        Slope by the true speed; curvature with its sign turned, never below 0.
    """
    slides = lag > 0
    rate = 1.0 / np.where(slides, lag, 1.0)
    z = ahead / noise - noise * rate
    log_share, ratio = _log_normal(z)
    sliding = np.log(rate) + 0.5 * (noise * rate) ** 2 - ahead * rate + log_share
    rolling = -0.5 * (ahead / noise) ** 2 - math.log(noise * math.sqrt(2 * math.pi))
    slope = np.where(slides, ratio / noise - rate, -ahead / noise**2)
    bend = np.where(slides, np.clip(ratio * (z + ratio), 0.0, 1.0), 1.0) / noise**2
    return count * np.where(slides, sliding, rolling), count * slope, count * bend


def _log_normal(z: Floats) -> tuple[Floats, Floats]:
    """Return log Phi(z) and phi(z) / Phi(z) for the standard normal."""
    far = z < _FAR
    log_share = np.interp(z, _AT, _LOG_SHARE) - np.where(far, 0.5 * (z**2 - _FAR**2), 0.0)
    return log_share, np.where(far, -z - 1.0 / np.minimum(z, -1.0), np.interp(z, _AT, _RATIO))
