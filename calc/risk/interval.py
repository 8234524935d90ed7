"""Confidence interval of a share that was counted."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True)
class Share:
    """A counted share and its interval; all but the counts within 0 and 1."""

    hits: int
    runs: int
    share: float
    low: float
    high: float


def normal_quantile(probability: float) -> float:
    """Return where the standard normal distribution has a probability below it. [-].

    Raises
    ------
    ValueError
        If the probability is not inside 0 and 1.

    Notes
    -----
    By halving between -10 and 10 on erf, to the last digit that counts.
    """
    if not 0.0 < probability < 1.0:
        raise ValueError(f"a probability must be inside 0 and 1, got {probability}")
    low, high = -10.0, 10.0
    for _ in range(80):
        middle = 0.5 * (low + high)
        below = 0.5 * math.erfc(-middle / math.sqrt(2.0))
        low, high = (middle, high) if below < probability else (low, middle)
    return 0.5 * (low + high)


def wilson_interval(hits: int, runs: int, confidence: float = 0.95) -> Share:
    """Return the share of ``hits`` among ``runs`` with Wilson's score interval.

    Parameters
    ----------
    hits, runs : int
        Counts.
    confidence : float
        Two-sided, inside 0 and 1. [-]

    Raises
    ------
    ValueError
        If there are no runs, or more hits than runs.

    Notes
    -----
    (p + z2/2n +- z sqrt(p (1 - p)/n + z2/4n2)) / (1 + z2/n), without correction for
    continuity: near its nominal confidence on average, and never empty at 0 hits.

    References
    ----------
    E. B. Wilson, Probable inference, the law of succession, and statistical inference,
    Journal of the American Statistical Association 22 (1927) 209-212.
    """
    if runs < 1 or not 0 <= hits <= runs:
        raise ValueError(f"hits must lie within 0 and the runs, got {hits} of {runs}")
    z = normal_quantile(0.5 + 0.5 * confidence)
    share, extra = hits / runs, z * z / runs
    middle = (share + 0.5 * extra) / (1.0 + extra)
    half = z * math.sqrt(share * (1.0 - share) / runs + extra / (4.0 * runs)) / (1.0 + extra)
    low = 0.0 if hits == 0 else max(middle - half, 0.0)
    high = 1.0 if hits == runs else min(middle + half, 1.0)
    return Share(hits, runs, share, low, high)
