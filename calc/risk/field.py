"""Adhesion along an approach as a random field: level, spread and length of patches.

A rail is not one figure: it varies from place to place and from day to day. Its
logarithm is taken as normal, so adhesion is never negative and halving is as likely as
doubling; neighbouring places are alike over the length of a patch.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

Floats = NDArray[np.float64]

#: Half the width of a band that holds 90 % of a normal distribution. [-]
_NINETY = 1.6448536269514722


@dataclass(frozen=True)
class RailField:
    """How adhesion varies in one rail state.

    Attributes
    ----------
    level : float
        Median adhesion at standstill; half of all places have less. [-]
    spread : float
        Standard deviation of the logarithm of adhesion. [-]
    patch : float
        Distance over which two places are alike to 1/e. [m]
    day_share : float
        Share of the variance that is common to a whole approach: how the day is, not
        the place. [-]

    Raises
    ------
    ValueError
        If a figure is missing or impossible.
    """

    level: float
    spread: float
    patch: float
    day_share: float = 0.5

    def __post_init__(self) -> None:
        """Refuse what is no field."""
        if not 0.0 < self.level <= 1.0:
            raise ValueError(f"a field's level must be within 0 and 1, got {self.level}")
        if not 0.0 <= self.spread <= 2.0:
            raise ValueError(f"a field's spread must be within 0 and 2, got {self.spread}")
        if not 0.0 < self.patch < np.inf:
            raise ValueError(f"a field's patches must be longer than 0 m, got {self.patch}")
        if not 0.0 <= self.day_share <= 1.0:
            raise ValueError(f"a day's share must be within 0 and 1, got {self.day_share}")


def field_from_band(
    low: float, high: float, patch: float, day_share: float = 0.5
) -> RailField:
    """Return the field in which 90 % of all places lie between two figures.

    Parameters
    ----------
    low, high : float
        Adhesion of the band's ends. [-]
    patch : float
        [m]
    day_share : float
        [-]

    Raises
    ------
    ValueError
        If the band is empty or touches 0.

    Notes
    -----
    level = sqrt(low high), spread = ln(high / low) / (2 x 1.645). That a published band
    means 90 % of places is an assumption: no source says what share it holds.
    """
    if not 0.0 < low <= high <= 1.0:
        raise ValueError(f"a band of adhesion must rise within 0 and 1, got {low} to {high}")
    spread = float(np.log(high / low)) / (2.0 * _NINETY)
    return RailField(float(np.sqrt(low * high)), spread, patch, day_share)


def standard_field(
    rng: Generator, runs: int, cells: int, cell: float, patch: float, day_share: float
) -> Floats:
    """Draw fields of mean 0 and variance 1 along the line, (runs, cells). [-].

    Parameters
    ----------
    rng : numpy.random.Generator
        The only source of chance; the same state gives the same fields.
    runs, cells : int
    cell : float
        Length of a cell. [m]
    patch : float
        [m]
    day_share : float
        [-]

    Raises
    ------
    ValueError
        If runs, cells or cell are not above 0.

    Notes
    -----
    Within a run an Ornstein-Uhlenbeck process sampled exactly at the cells: z' = q z +
    sqrt(1 - q2) e with q = exp(-cell / patch), so correlation exp(-distance / patch).
    Level and spread are applied afterwards: two states or two spreads drawn from the
    same seed differ in nothing else.
    """
    if runs < 1 or cells < 1 or not cell > 0:
        raise ValueError(f"a field needs runs and cells, got {runs}, {cells} of {cell} m")
    alike = float(np.exp(-cell / patch))
    day = rng.standard_normal((runs, 1))
    steps = rng.standard_normal((runs, cells))
    local = np.empty((runs, cells))
    local[:, 0] = steps[:, 0]
    fresh = float(np.sqrt(1.0 - alike**2))
    for at in range(1, cells):
        local[:, at] = alike * local[:, at - 1] + fresh * steps[:, at]
    return np.asarray(np.sqrt(day_share) * day + np.sqrt(1.0 - day_share) * local)
