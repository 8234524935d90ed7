"""A batch of cases: every target x season x rail state x train at once, on one grid.

The line before one stop, laid on the grid; the train comes from the right::

      limit      mark                                             <- the train
        |         |                                                      |
    ----+----+----+----+----+----+----+----+----+--  ...  --+----+----+--
    node 0    1    2    3    4    5    6    7    8
    cell    0    1    2    3    4    5    6    7
        <- before ->

**Nodes** are points, **cells** the stretches between them: cell n lies between node n
(nearer) and node n + 1 (farther out). ``before`` cells lie past the mark, as far as the
farthest limit of the batch, so node n is (n - before) cells before the mark; places are
counted that way, as distances before the mark, because a brake is begun before
something. **u** is the square of speed [m2/s2]: a constant deceleration a changes it by
2 a for each metre, so a curve swept outward from the mark is a running sum over cells,
with no square root and no time, and one sweep serves every approach speed. **phi** is
the share of the weight that stands on wheelsets which brake in the step (1 where all
do): only those can slide, and only their rotating mass stops with them. **Rows** are
lines of a table over u (`calc.speed_tables`): what differs between cases without
depending on the place, such as the force of one step of one train.

Arrays are (cells, cases) or (nodes, cases); the axis of the plans that are compared goes
in front where there is one. A case's column is its **lane**. Nothing is looped per case.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from .constants import GRAVITY
from .model import Settings, TableInput
from .rail import deceleration
from .speed_tables import (
    SpeedTable,
    adhesion_table,
    asked_table,
    force_table,
    most_steps,
    resistance_table,
    sliding_table,
    step_shares,
)
from .track import cell_means, listed_cells

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class CaseIndex:
    """Which target, season, state and train each case of a batch is; (cases,) of int.

    Each is the place in the list that the calculation was given; season 1 is in season.
    """

    target: Ints
    season: Ints
    state: Ints
    train: Ints


@dataclass(frozen=True)
class Batch:
    """Cases with everything the sweeps need, (cells, cases) or (cases,).

    Attributes
    ----------
    index : CaseIndex
    cell, before : float, int
        Cell length [m] and number of cells past the mark; node n lies
        (n - before) cells before the mark.
    grade : numpy.ndarray
        g times the mean gradient under the train. [m/s2]
    share, listed_row : numpy.ndarray
        Share of the train on listed places and the row of their adhesion.
    any_listed : numpy.ndarray of bool, shape (cells,)
    margin : numpy.ndarray
        From mark to limit. [m]
    goal : numpy.ndarray
        Square of the speed to have at the mark, u there. [m2/s2]
    rotating, length : numpy.ndarray
        Rotating mass as a share of static mass; of the train. [-, m]
    ramp, release_ramp, dead_time : numpy.ndarray
        Rates at which brake force builds up and falls, and the wait before. [m/s3, s]
    step_share : numpy.ndarray, shape (cases, steps)
        phi of each step. [-]
    force, resistance, adhesion, asked, sliding : SpeedTable
        Over u: brake force, resistance and adhesion, and the deceleration on the level
        when nothing or everything slides. A row a train and step (force, asked), a
        train, a state, and a state, train and step (sliding).
    state_rows : numpy.ndarray of int, shape (cases,)
        Where each case's state begins among the rows of ``sliding``.
    steps : int
        Steps of the train that has most: rows of force a train.
    settings : Settings
    """

    index: CaseIndex
    cell: float
    before: int
    grade: Floats
    share: Floats
    listed_row: Ints
    any_listed: Flags
    margin: Floats
    goal: Floats
    rotating: Floats
    ramp: Floats
    release_ramp: Floats
    dead_time: Floats
    length: Floats
    step_share: Floats
    force: SpeedTable
    resistance: SpeedTable
    adhesion: SpeedTable
    asked: SpeedTable
    sliding: SpeedTable
    state_rows: Ints
    steps: int
    settings: Settings

    @property
    def cells(self) -> int:
        """Number of cells."""
        return int(self.grade.shape[0])

    @property
    def cases(self) -> int:
        """Number of cases."""
        return int(self.grade.shape[1])

    def distance(self, node: Ints | int) -> Floats:
        """Return the distance of a node before the mark. [m].

        Parameters
        ----------
        node : int or numpy.ndarray of int

        Returns
        -------
        numpy.ndarray, shape of ``node``
            Below 0 past the mark. [m]
        """
        return np.asarray((np.asarray(node) - self.before) * self.cell, dtype=np.float64)

    def force_row(self, step: Ints | int) -> Ints:
        """Return the row of ``force`` of a step for each case; shape of ``step``, cases.

        Parameters
        ----------
        step : int or numpy.ndarray of int, shape (..., cases)
            Index of a service step; 0 is the lightest.

        Returns
        -------
        numpy.ndarray of int, shape (..., cases)
        """
        return np.asarray(self.index.train * self.steps + step, dtype=np.int64)

    def held(self, row: Ints, place: tuple[Ints, Floats]) -> Floats:
        """Return the rail force per unit weight a wheelset can have. [m/s2].

        ``row`` is one of ``adhesion``, ``place`` found there; shapes as `SpeedTable.at`.

        Parameters
        ----------
        row : numpy.ndarray of int
            Row of ``adhesion``: a rail state.
        place : tuple of numpy.ndarray
            Where u lies, from `SpeedTable.place_of`.

        Returns
        -------
        numpy.ndarray
            eta mu g; shape as `SpeedTable.at` has it. [m/s2]
        """
        return np.asarray(self.settings.eta * GRAVITY * self.adhesion.at(row, place))

    def decelerate(
        self, node: int, u: Floats, force_row: Ints, phi: Floats
    ) -> tuple[Floats, Floats]:
        """Return actual and asked deceleration in one cell at full step force. [m/s2].

        All in the one cell ``node``; ``u``, ``force_row`` and ``phi`` (..., cases). Off
        listed places both are read from tables in which force, resistance and rail are
        already put together; only the gradient is the cell's own.

        Parameters
        ----------
        node : int
            The cell, by its nearer node.
        u, phi : numpy.ndarray, shape (..., cases)
            Square of the speed [m2/s2] and share of the weight that brakes [-].
        force_row : numpy.ndarray of int, shape (..., cases)

        Returns
        -------
        actual, asked : numpy.ndarray, shape (..., cases)
            What the rail gives, and what it would be if nothing slid. [m/s2]
        """
        place = self.force.place_of(u)
        grade = self.grade[node]
        if not self.any_listed[node]:
            asked = self.asked.at(force_row, place)
            asked += grade / (1.0 + self.rotating)
            actual = self.sliding.at(force_row + self.state_rows, place)
            actual += grade / (1.0 + (1.0 - phi) * self.rotating)
            return np.minimum(asked, actual, out=actual), asked
        brake = self.force.at(force_row, place)
        rest = self.resistance.at(self.index.train, place) + grade
        held = self.held(self.index.state, place)
        low = self.held(self.listed_row[node], place)
        return deceleration(brake, rest, self.rotating, phi, held, self.share[node], low)

    def decelerate_at(
        self, node: Ints, u: Floats, force_row: Ints, phi: Floats, level: Floats
    ) -> tuple[Floats, Floats]:
        """As `decelerate`, each lane in a cell of its own and its force capped.

        ``node`` and the rest have shape (..., cases); ``level`` caps the brake force
        while it builds up or falls. [m/s2]

        Parameters
        ----------
        node : numpy.ndarray of int, shape (..., cases)
            Cells; one off the grid counts as the nearest on it.
        u, force_row, phi
            As in `decelerate`.
        level : numpy.ndarray, shape (..., cases)
            Most brake force per unit mass; inf: all of it. [m/s2]

        Returns
        -------
        actual, asked : numpy.ndarray, shape (..., cases)
            [m/s2]
        """
        lane = np.arange(self.cases)
        cell = np.minimum(np.maximum(node, 0), self.cells - 1)
        place = self.force.place_of(u)
        brake = np.minimum(self.force.at(force_row, place), level)
        rest = self.resistance.at(self.index.train, place) + self.grade[cell, lane]
        held = self.held(self.index.state, place)
        if not self.any_listed.any():
            return deceleration(brake, rest, self.rotating, phi, held)
        low = self.held(self.listed_row[cell, lane], place)
        share = self.share[cell, lane]
        return deceleration(brake, rest, self.rotating, phi, held, share, low)

    def coasting(self, node: Ints, u: Floats) -> Floats:
        """Return the deceleration with power and brake off, each lane in its cell. [m/s2].

        ``node`` and ``u`` (..., cases); below 0 where the line falls steeply enough.

        Parameters
        ----------
        node : numpy.ndarray of int, shape (..., cases)
        u : numpy.ndarray, shape (..., cases)
            [m2/s2]

        Returns
        -------
        numpy.ndarray, shape (..., cases)
            [m/s2]
        """
        lane = np.arange(self.cases)
        place = self.force.place_of(u)
        rest = self.resistance.at(self.index.train, place)
        cell = np.minimum(np.maximum(node, 0), self.cells - 1)
        return np.asarray((rest + self.grade[cell, lane]) / (1.0 + self.rotating))


def make_batch(given: TableInput, index: CaseIndex, top_speed: float) -> Batch:
    """Lay the cases of one direction on a grid.

    Parameters
    ----------
    given : TableInput
    index : CaseIndex
    top_speed : float
        Fastest that any table over u is read at. [m/s]

    Returns
    -------
    Batch
        As many cells past the mark as the farthest limit needs, and ``horizon`` before it.

    Raises
    ------
    ValueError
        If a case has no mark, a limit before it, a train no mass or a profile no stretch.
    """
    cell = given.settings.cell
    margin = np.array(
        [
            given.targets[t].limit[v] - given.targets[t].mark[v]
            for t, v in zip(index.target, index.train, strict=True)
        ]
    )
    if np.any(~np.isfinite(margin)) or np.any(margin < 0):
        raise ValueError("each case needs a mark, and a limit at or past the mark")
    before = int(np.floor(np.max(margin, initial=0.0) / cell))
    cells = before + int(np.ceil(given.settings.horizon / cell))
    grade, share, row = _lay_cells(given, index, before, cells)
    trains = given.trains
    column = index.train
    return Batch(
        index=index,
        cell=cell,
        before=before,
        grade=grade,
        share=share,
        listed_row=row,
        any_listed=np.any(share > 0, axis=1),
        margin=margin,
        goal=np.array([given.targets[t].to_speed ** 2 for t in index.target]),
        rotating=np.array([train.rotating for train in trains])[column],
        ramp=np.array([train.ramp for train in trains])[column],
        release_ramp=np.array([train.release_ramp for train in trains])[column],
        dead_time=np.array([train.dead_time for train in trains])[column],
        length=np.array([train.length for train in trains])[column],
        step_share=step_shares(trains)[column],
        force=force_table(trains, top_speed),
        resistance=resistance_table(trains, top_speed),
        adhesion=adhesion_table(given.states, top_speed),
        asked=asked_table(trains, top_speed),
        sliding=sliding_table(trains, given.states, given.settings.eta, top_speed),
        state_rows=index.state * len(trains) * most_steps(trains),
        steps=most_steps(trains),
        settings=given.settings,
    )


def _lay_cells(
    given: TableInput,
    index: CaseIndex,
    before: int,
    cells: int,
    extend: Floats | None = None,
    point: bool = False,
) -> tuple[Floats, Floats, Ints]:
    """Compute cell data once for each target, train and season, then spread them.

    ``extend`` lengthens listed places downstream, a value for each train [m];
    ``point`` lays the line under the front alone.
    """
    line, cell = given.line, given.settings.cell
    grade = np.empty((cells, index.target.size))
    share = np.zeros((cells, index.target.size))
    row = np.zeros((cells, index.target.size), dtype=np.int64)
    offsets = (np.arange(cells + 1) - before) * cell
    for target, train in {*zip(index.target.tolist(), index.train.tolist(), strict=True)}:
        fronts = given.targets[target].mark[train] - offsets
        length = 0.0 if point else given.trains[train].length
        longer = 0.0 if extend is None else float(extend[train])
        mine = (index.target == target) & (index.train == train)
        mean = cell_means(line.gradient_from, line.gradient, fronts, length)
        grade[:, mine] = (GRAVITY * mean)[:, None]
        for season in (0, 1):
            part, state = listed_cells(line, fronts, length, bool(season), longer)
            these = mine & (index.season == season)
            share[:, these] = part[:, None]
            row[:, these] = np.maximum(state[:, None], index.state[these])
    return grade, np.where(row > index.state, share, 0.0), row


def with_listed(
    batch: Batch, given: TableInput, extend: Floats | None = None, point: bool = False
) -> Batch:
    """Return the batch with listed places lengthened, or laid under the front alone.

    Parameters
    ----------
    batch : Batch
    given : TableInput
    extend : numpy.ndarray, shape (trains,), optional
        How far each train's places go on past their end. [m]
    point : bool
        Whether a place acts on the whole train as soon as the front is on it.

    Returns
    -------
    Batch
        A copy with other cells; the given one is unchanged.
    """
    grade, share, row = _lay_cells(
        given, batch.index, batch.before, batch.cells, extend=extend, point=point
    )
    return replace(
        batch,
        grade=grade,
        share=share,
        listed_row=row,
        any_listed=np.any(share > 0, axis=1),
    )
