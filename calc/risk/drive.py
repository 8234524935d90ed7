"""Runs over a random field, sampled under each wheelset, by the forward model."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from ..constants import GRAVITY
from ..forward import Flags, Floats, Ints, Outcome, Runs, Track, drive
from ..model import TableInput
from .field import RailField


@dataclass(frozen=True)
class FieldRuns(Runs):
    """Runs, each over a field of its own.

    Attributes
    ----------
    field : numpy.ndarray of int, (runs,)
        Row of the drawn fields; two runs may share one.
    """

    field: Ints

    def take(self, where: Ints | Flags) -> FieldRuns:
        """Return some of the runs."""
        return FieldRuns(**{f.name: getattr(self, f.name)[where] for f in fields(self)})


@dataclass(frozen=True)
class Drawn:
    """Drawn fields along the line.

    Attributes
    ----------
    values : numpy.ndarray, (fields, cells)
        Of mean 0 and variance 1. [-]
    cell : float
        Length of a cell. [m]
    far : float
        Distance before the mark of the first cell's far end. [m]
    """

    values: Floats
    cell: float
    far: float


class FieldTrack(Track):
    """The line with adhesion that varies from place to place."""

    def __init__(self, given: TableInput, states: tuple[RailField, ...], drawn: Drawn) -> None:
        super().__init__(given)
        if len(states) != len(given.states):
            raise ValueError("each rail state needs a field of its own")
        self.level = np.array([state.level for state in states])
        self.spread = np.array([state.spread for state in states])
        self.plan = np.array([state.plan for state in given.states])
        self.drawn = drawn

    def rail(self, runs: Runs, front: Floats, speed: Floats, spread: Floats) -> Floats:
        """Return the rail force each wheelset can have, (runs, wheelsets). [m/s2]."""
        if not isinstance(runs, FieldRuns):
            raise TypeError("runs over a field need to know which field")
        before = front[:, None] + spread
        state = self.state_under(runs, before)
        cell = ((self.drawn.far - before) / self.drawn.cell).astype(np.int64)
        cell = np.clip(cell, 0, self.drawn.values.shape[1] - 1)
        place = self.drawn.values[runs.field[:, None], cell]
        by_speed = self.adhesion.at(state, self.adhesion.place_of(speed[:, None] ** 2))
        mu = self.level[state] * np.exp(self.spread[state] * place)
        mu = mu * by_speed / self.plan[state]
        return np.asarray(self.given.settings.eta * GRAVITY * mu)


def drive_over_field(
    given: TableInput, runs: FieldRuns, states: tuple[RailField, ...], drawn: Drawn
) -> Outcome:
    """Drive runs to a stand over drawn fields; see `calc.forward.drive`.

    A rail state's field falls with speed as its planned adhesion does. Places listed
    for a worse state keep the same draw on that state's level and spread.
    """
    return drive(given, runs, track=FieldTrack(given, states, drawn))
