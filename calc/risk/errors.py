"""Ordinary errors of an approach, drawn: the rail guessed, the brake, the hand, a patch.

Each is a distribution of its own, drawn without regard to the others. What has no source
says so in `assumptions`; a company puts its own figures in their place.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from .interval import normal_quantile

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

#: Brakes are drawn from this many shares that are equally likely.
BRAKES = 9


@dataclass(frozen=True)
class Errors:
    """How much goes otherwise than planned.

    Attributes
    ----------
    one_worse, one_better : float
        Share of approaches on a rail one state worse, and better, than picked. [-]
    brake_spread : float
        Standard deviation of a train's brake force, as a share of the quoted. [-]
    hand_spread : float
        Standard deviation of when the handle moves at the mark; as often early as
        late. [s]
    patch_share : float
        Share of approaches that meet one slippery patch. [-]
    patch_length, patch_length_spread : float
        Median length of a patch, and standard deviation of its logarithm. [m, -]
    patch_adhesion_spread : float
        Standard deviation of the logarithm of a patch's adhesion, about what the rail
        state takes a patch to have. [-]
    patch_before : float
        How far before the brake mark a patch may begin; else anywhere up to the mark. [m]
    notices : float
        A driver adds the highest service step, a reaction later, once the mark asks for
        so much more than his built-up brake gives. [-]
    """

    one_worse: float = 0.2
    one_better: float = 0.1
    brake_spread: float = 0.1
    hand_spread: float = 1.5
    patch_share: float = 0.2
    patch_length: float = 100.0
    patch_length_spread: float = 0.8
    patch_adhesion_spread: float = 0.3
    patch_before: float = 200.0
    notices: float = 1.2


@dataclass(frozen=True)
class Drawn:
    """Drawn errors; every array (runs,).

    Attributes
    ----------
    worse : numpy.ndarray of int
        By how many states the rail is worse than picked: -1, 0 or 1.
    brake : numpy.ndarray of int
        Which of `brakes` the train has.
    late : numpy.ndarray
        How late the handle moves; early below 0. [s]
    patch : numpy.ndarray of bool
        Whether a patch is met.
    begins : numpy.ndarray
        Where it begins, as a share of the way it may begin on. [-]
    length : numpy.ndarray
        [m]
    adhesion : numpy.ndarray
        As a multiple of what the rail state takes a patch to have. [-]
    """

    worse: Ints
    brake: Ints
    late: Floats
    patch: NDArray[np.bool_]
    begins: Floats
    length: Floats
    adhesion: Floats


def brakes(errors: Errors) -> tuple[float, ...]:
    """Return brake forces as shares of the quoted, each as likely as the others. [-]."""
    places = ((one + 0.5) / BRAKES for one in range(BRAKES))
    return tuple(1.0 + errors.brake_spread * normal_quantile(place) for place in places)


def draw(errors: Errors, rng: Generator, runs: int) -> Drawn:
    """Draw the errors of some runs; the same state of ``rng`` draws the same.

    Raises
    ------
    ValueError
        If there are no runs, or shares do not fit.
    """
    if runs < 1 or not 0.0 <= errors.one_worse + errors.one_better <= 1.0:
        raise ValueError(f"no errors can be drawn for {runs} runs with {errors}")
    guess = rng.uniform(size=runs)
    worse = np.where(guess < errors.one_worse, 1, 0)
    worse = np.where(guess > 1.0 - errors.one_better, -1, worse)
    return Drawn(
        worse=worse,
        brake=rng.integers(0, BRAKES, runs),
        late=errors.hand_spread * rng.standard_normal(runs),
        patch=rng.uniform(size=runs) < errors.patch_share,
        begins=rng.uniform(size=runs),
        length=errors.patch_length
        * np.exp(errors.patch_length_spread * rng.standard_normal(runs)),
        adhesion=np.exp(errors.patch_adhesion_spread * rng.standard_normal(runs)),
    )


def assumptions(errors: Errors | None = None) -> tuple[tuple[str, str, str], ...]:
    """Return (what, value, basis) of every figure, for the app's list."""
    told = errors or Errors()
    own = "assumption: own number, nobody has counted it"
    return (
        ("rail one state worse than picked", f"{told.one_worse:.0%} of approaches", own),
        ("rail one state better than picked", f"{told.one_better:.0%} of approaches", own),
        (
            "brake force of a train: standard deviation",
            f"{told.brake_spread:.0%} of the quoted",
            "assumption: a whole train scatters as friction does in the Monte Carlo published "
            "with the worked train after EN 14531-1 (github.com/RailProfAC/"
            "RailwayBrakeCalculation, MC-Simulation.ipynb)",
        ),
        (
            "hand at the mark: standard deviation, early as often as late",
            f"{told.hand_spread:g} s",
            own,
        ),
        ("a slippery patch is met", f"at {told.patch_share:.0%} of approaches", own),
        (
            "patch: median length, and standard deviation of its logarithm",
            f"{told.patch_length:g} m, {told.patch_length_spread:g}",
            "assumption: no figure is published",
        ),
        (
            "patch: adhesion about the rail state's, standard deviation of its logarithm",
            f"{told.patch_adhesion_spread:g}",
            own,
        ),
        (
            "patch: begins anywhere from before the brake mark to the stop, before it by",
            f"{told.patch_before:g} m",
            own,
        ),
        (
            "a driver adds the highest service step once the mark asks for so much more "
            "than his brake gives",
            f"{told.notices:g} times",
            "assumption: common practice, no source",
        ),
    )
