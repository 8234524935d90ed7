"""What a slide is told: a train with cylinders, WSP and sand; the rail; the runs.

``z`` grows along the line in the direction of travel [m], as in `calc.model`. A batch
is one train on one line; the rail, the speed and the handling may differ run by run.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from ..model import BrakeStep, Train
from .handle import Orders

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]
Shape = tuple[tuple[float, ...], tuple[float, ...]]


@dataclass(frozen=True)
class Sander:
    """One pair of sand nozzles.

    Attributes
    ----------
    wheelset : int
        Index, from the front, of the wheelset before which it lies; that one and all
        behind it run on the sand.
    rate : float
        Sand laid: by time for a fixed rate [g/s], by distance for a variable one [g/m].
    variable : bool
        Whether the rate follows the speed.
    """

    wheelset: int
    rate: float
    variable: bool = False


@dataclass(frozen=True)
class Sand:
    """How a train sands; a train whose sand is unknown has none.

    Attributes
    ----------
    sanders : tuple of Sander
    gain : float
        Adhesion gained with much sand (dm). [-]
    scale : float
        Sand at which 63 % of the gain is there (q0). [g/m]
    from_step : int
        Lightest step that sands; `len(steps)` is emergency.
    delay : float
        From the conditions met to sand on the rail. [s]
    min_speed : float
        Below it no sand is laid. [m/s]
    needs_slide : bool
        Whether a wheelset must have slid first.

    Notes
    -----
    Only the initial slope gain / scale is known: about 0.009 per g/m, fitted to the
    trials of RSSB T1107 in `tests/outside`. The rest is an assumption.
    """

    sanders: tuple[Sander, ...]
    gain: float = 0.1
    scale: float = 11.0
    from_step: int = 1
    delay: float = 1.0
    min_speed: float = 3.0
    needs_slide: bool = True


@dataclass(frozen=True)
class SlideTrain:
    """A train with what only a slide needs.

    Attributes
    ----------
    base : Train
        Its ramps are not used: the cylinders below stand in their place.
    wheelsets : int
        Number of wheelsets, spread evenly over the length.
    fill_time, empty_time : float
        First-order time constants of a cylinder, after the train's dead time. [s]
    emergency : BrakeStep or None
        The emergency brake as measured on dry level track. It may equal the highest
        step, and may brake other wheelsets (electric brake dropped). None: not known.
    sand : Sand or None
    eta : float
        Share of the rail's adhesion at which a slide begins and that WSP holds. [-]
    undershoot : float
        How far below that WSP dumps a cylinder each time it acts. [-]
    cleaning : float
        Share of the film that each wheelset takes off for the next; no published
        figure, so 0 unless a user says otherwise. [-]
    clean_adhesion : float
        Adhesion of rail without any film. [-]

    Notes
    -----
    Assumptions (no source): fill and empty 0.3 to 0.8 s, eta 0.75 to 0.95.
    """

    base: Train
    wheelsets: int
    fill_time: float = 0.5
    empty_time: float = 0.5
    emergency: BrakeStep | None = None
    sand: Sand | None = None
    eta: float = 0.85
    undershoot: float = 0.0
    cleaning: float = 0.0
    clean_adhesion: float = 0.15

    @property
    def steps(self) -> tuple[BrakeStep, ...]:
        """Service steps, then emergency if it is known."""
        last = () if self.emergency is None else (self.emergency,)
        return (*self.base.steps, *last)

    @property
    def highest(self) -> int:
        """Index of the highest service step."""
        return len(self.base.steps) - 1

    @property
    def emergency_step(self) -> int | None:
        """Index of emergency among `steps`; None where it is not known."""
        return None if self.emergency is None else len(self.base.steps)

    @property
    def offsets(self) -> Floats:
        """How far each wheelset lies behind the front. [m]."""
        return self.base.length * (np.arange(self.wheelsets) + 0.5) / self.wheelsets


@dataclass(frozen=True)
class Patch:
    """A stretch of other rail, with exact ends; where several overlap the worst counts.

    Attributes
    ----------
    begin, end : numpy.ndarray, shape (runs,)
        NaN: that run has none. [m]
    adhesion : numpy.ndarray, shape (runs,)
        At standstill. [-]
    shape : numpy.ndarray of int, shape (runs,)
        Row of the rail's shapes by speed.
    """

    begin: Floats
    end: Floats
    adhesion: Floats
    shape: Ints


@dataclass(frozen=True)
class Rail:
    """Adhesion along the line, run by run.

    Attributes
    ----------
    origin, spacing : float
        Where the first cell begins, and the length of a cell; the first and last value
        hold on beyond. [m]
    adhesion : numpy.ndarray, shape (rows, cells)
        At standstill. [-]
    row : numpy.ndarray of int, shape (runs,)
        Row of each run.
    shapes : tuple of (speeds, factors)
        Factor on adhesion by speed, straight between. [m/s, -]
    shape : numpy.ndarray of int, shape (runs,)
        Row of the shapes for the cells of each run.
    patches : tuple of Patch
    """

    origin: float
    spacing: float
    adhesion: Floats
    row: Ints
    shapes: tuple[Shape, ...]
    shape: Ints
    patches: tuple[Patch, ...] = ()

    def take(self, where: Ints) -> Rail:
        """Return the rail of some of the runs."""
        patches = tuple(
            Patch(**{f.name: getattr(p, f.name)[where] for f in fields(p)})
            for p in self.patches
        )
        return replace(self, row=self.row[where], shape=self.shape[where], patches=patches)


def even_rail(adhesion: Floats | float, runs: int, patches: tuple[Patch, ...] = ()) -> Rail:
    """Return rail of one adhesion a run, the same at every speed.

    Parameters
    ----------
    adhesion : float or numpy.ndarray, shape (runs,)
        [-]
    runs : int
    patches : tuple of Patch

    Returns
    -------
    Rail
    """
    value = np.broadcast_to(np.asarray(adhesion, dtype=np.float64), (runs,))
    zero = np.zeros(runs, dtype=np.int64)
    rows = np.arange(runs)
    return Rail(0.0, 1.0, value[:, None].copy(), rows, (((0.0,), (1.0,)),), zero, patches)


def patch(
    begin: Floats | float, end: Floats | float, adhesion: Floats | float, runs: int
) -> Patch:
    """Return a patch of the rail's first shape; single figures serve all runs.

    Parameters
    ----------
    begin, end : float or numpy.ndarray, shape (runs,)
        Along the line. [m]
    adhesion : float or numpy.ndarray, shape (runs,)
        [-]
    runs : int

    Returns
    -------
    Patch
        Arrays of shape (runs,).
    """
    wide = [
        np.broadcast_to(np.asarray(value, dtype=np.float64), (runs,)).copy()
        for value in (begin, end, adhesion)
    ]
    return Patch(wide[0], wide[1], wide[2], np.zeros(runs, dtype=np.int64))


@dataclass(frozen=True)
class SlideRuns:
    """What is driven; every array (runs,).

    Attributes
    ----------
    speed : numpy.ndarray
        When the brake controller first moves. [m/s]
    start : numpy.ndarray
        Where the front is then. [m]
    mark, limit : numpy.ndarray
        Stop mark, and what must not be passed. [m]
    applied : numpy.ndarray of bool
        Whether the first step already acts in full at the start.
    orders : Orders
    """

    speed: Floats
    start: Floats
    mark: Floats
    limit: Floats
    applied: Flags
    orders: Orders

    def take(self, where: Ints) -> SlideRuns:
        """Return some of the runs."""
        return replace(
            self,
            speed=self.speed[where],
            start=self.start[where],
            mark=self.mark[where],
            limit=self.limit[where],
            applied=self.applied[where],
            orders=self.orders.take(where),
        )


__all__ = [
    "BrakeStep",
    "Flags",
    "Floats",
    "Ints",
    "Patch",
    "Rail",
    "Sand",
    "Sander",
    "Shape",
    "SlideRuns",
    "SlideTrain",
    "even_rail",
    "patch",
]
