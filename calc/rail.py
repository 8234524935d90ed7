"""Deceleration: the smaller of what the brake asks and what the rail gives.

One formula, used backward by the sweeps, in time by the ramps and by whoever wants to
know what a step asks of each wheelset.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def deceleration(
    brake: Floats,
    rest: Floats,
    rotating: Floats,
    braking_share: Floats,
    held: Floats,
    listed_share: Floats | None = None,
    listed_held: Floats | None = None,
) -> tuple[Floats, Floats]:
    """Return the deceleration of a train, and what it would be if nothing slid.

    Parameters
    ----------
    brake : numpy.ndarray
        Mean brake force per unit mass. [m/s2]
    rest : numpy.ndarray
        Resistance and gradient, r + g i. [m/s2]
    rotating : numpy.ndarray
        Rotating mass as a share of static mass. [-]
    braking_share : numpy.ndarray
        Share of the weight on wheelsets that brake. [-]
    held : numpy.ndarray
        Rail force per unit weight a wheelset can have, eta mu g. [m/s2]
    listed_share, listed_held : numpy.ndarray, optional
        Share of the train on listed places and the rail force there; a listed place
        never gives more than the rail around it. [-, m/s2]

    Returns
    -------
    actual, asked : numpy.ndarray
        [m/s2]

    Notes
    -----
    a = mean over wheelsets of min(f - rho a, held) + r + g i. The right side falls with
    a and is the least of one straight line for each set of sliding wheelsets, so a is
    the least of the solutions for each set; as held falls from the open rail to the
    listed place only three sets can matter: none, the listed ones, all.
    """
    asked = (brake + rest) / (1.0 + rotating)
    unbraked = (1.0 - braking_share) * rotating
    if listed_share is None or listed_held is None:
        all_slide = (braking_share * held + rest) / (1.0 + unbraked)
        return np.minimum(asked, all_slide), asked
    low = np.minimum(held, listed_held)
    open_share = 1.0 - listed_share
    all_slide = (braking_share * (open_share * held + listed_share * low) + rest) / (
        1.0 + unbraked
    )
    some_slide = (open_share * brake + braking_share * listed_share * low + rest) / (
        1.0 + unbraked + braking_share * open_share * rotating
    )
    return np.minimum(np.minimum(asked, all_slide), some_slide), asked


def wheelset_demand(
    brake: Floats, asked: Floats, rotating: Floats, braking_share: Floats
) -> Floats:
    """Return the rail force per unit weight asked of each braking wheelset. [m/s2].

    Divided by g it is the adhesion demanded: an electric brake on half the wheelsets
    demands twice what the same rate demands of all.

    Parameters
    ----------
    brake, asked : numpy.ndarray
        Mean brake force per unit mass, and the deceleration where nothing slides. [m/s2]
    rotating, braking_share : numpy.ndarray
        Rotating mass by static mass; share of the weight on wheelsets that brake. [-]

    Returns
    -------
    numpy.ndarray
        [m/s2]
    """
    return np.asarray(brake / braking_share - rotating * asked)
