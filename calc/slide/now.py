"""Where driven runs are, between two time steps."""

from __future__ import annotations

from dataclasses import dataclass, fields

from .model import Flags, Floats, Ints


@dataclass
class Now:
    """Where every run of a batch is; arrays (runs,).

    Attributes
    ----------
    live : numpy.ndarray of int
        Which of all runs each is.
    front, speed, slowing : numpy.ndarray
        [m, m/s, m/s2]
    step : numpy.ndarray of int
        Step that acts after the dead time; -1 is off.
    force_speed : numpy.ndarray
        Speed that the brake force was last worked out at. [m/s]
    """

    live: Ints
    front: Floats
    speed: Floats
    slowing: Floats
    step: Ints
    force_speed: Floats

    def take(self, where: Flags) -> Now:
        """Return some of the runs."""
        return Now(**{f.name: getattr(self, f.name)[where] for f in fields(self)})
