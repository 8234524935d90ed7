"""Share of runs past the mark and past the limit, usual against advised approach."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.random import Generator

from ..driven import PAST_MARK, advice_runs
from ..forward import Floats, Runs
from ..model import TableInput
from ..result import Table
from .drive import Drawn, FieldRuns, drive_over_field
from .field import RailField, standard_field
from .interval import Share, wilson_interval

#: Said with every estimate.
LABEL = (
    "A model's estimate for comparing two approaches at a desk, not the chance of an overrun."
)
#: Length of a field's cells [m], and how far past the mark it is drawn [m].
CELL, BEYOND = 5.0, 2_000.0
#: What the forward model itself may be off at a stand [m].
SLACK = 0.1

Case = tuple[int, int, int, int]


@dataclass(frozen=True)
class Approach:
    """How one way of approaching fared.

    Attributes
    ----------
    past_mark, past_limit : Share
        Of all runs; a run that never stood counts in both.
    stop_median, stop_worst_tenth : float
        Where the front stood before the mark, positive before it; the second is passed
        by a tenth of the runs; -inf where those never stood. [m]
    """

    past_mark: Share
    past_limit: Share
    stop_median: float
    stop_worst_tenth: float


@dataclass(frozen=True)
class Estimate:
    """Both approaches over the same fields."""

    usual: Approach
    advised: Approach
    runs: int
    label: str = LABEL


def estimate(
    given: TableInput,
    table: Table,
    case: Case,
    states: tuple[RailField, ...],
    rng: Generator,
    runs: int = 1_000,
    react: bool = True,
    confidence: float = 0.95,
) -> Estimate:
    """Drive usual and advised approach over the same random rails and count.

    Parameters
    ----------
    given : TableInput
    table : Table
        Its finished braking table.
    case : tuple of int
        Target, season, rail state, train.
    states : tuple of RailField
        One for each rail state of the chain.
    rng : numpy.random.Generator
        The only source of chance; the same state gives the same estimate.
    runs : int
        Of each approach.
    react : bool
        Whether a driver who slides goes to the highest service step after the reaction
        time, as cover reckons; otherwise the brake controller stays.
    confidence : float
        Of the intervals. [-]

    Raises
    ------
    ValueError
        If the case has no advice, or fields or runs are missing.

    Notes
    -----
    The usual approach brakes at its dry point with the usual step, from the speed a
    train has there on a dry rail; the advised one at its own. The interval tells what
    so few runs leave open, not how wrong the fields may be. No sand, no tyre cleaning,
    no emergency.
    """
    _check(table, case, states, given)
    if runs < 1:
        raise ValueError(f"an estimate needs runs, got {runs}")
    pair = (_usual(given, table, case, react), _advised(given, table, case, react))
    both = _over_fields(pair, runs)
    drawn = _draw(given, both, states[case[2]], rng, runs)
    stop = drive_over_field(given, both, states, drawn).stop
    target, _, _, train = case
    marks = given.targets[target]
    room = float(marks.limit[train] - marks.mark[train])
    usual, advised = (_approach(half, room, confidence) for half in (stop[:runs], stop[runs:]))
    return Estimate(usual, advised, runs)


def _check(table: Table, case: Case, states: tuple[RailField, ...], given: TableInput) -> None:
    target, _, _, train = case
    if given.targets[target].to_speed > 0:
        raise ValueError("an estimate is for stops, not for lower speeds")
    advised = table.approach_speed[case], table.brake[case]
    dry = table.approach_speed[target, 0, 0, train], table.usual[target, train]
    for name, (speed, brake) in (("advised", advised), ("usual", dry)):
        if not np.isfinite(speed) or not np.isfinite(brake).any():
            raise ValueError(f"this case has no {name} approach to estimate")
    if len(states) != len(given.states):
        raise ValueError("each rail state needs a field of its own")


def _advised(given: TableInput, table: Table, case: Case, react: bool) -> Runs:
    runs = advice_runs(given, table, tuple(np.array([axis]) for axis in case))
    return _changed(runs, react=np.array([react]))


def _usual(given: TableInput, table: Table, case: Case, react: bool) -> Runs:
    """Return the run a driver makes on a dry rail: usual step, no release."""
    target, _, _, train = case
    speeds, row = np.asarray(given.speeds), table.usual[target, train]
    known = np.isfinite(row)
    speed = float(table.approach_speed[target, 0, 0, train])
    none = np.array([np.nan])
    return _changed(
        advice_runs(given, table, tuple(np.array([axis]) for axis in case)),
        speed=np.array([speed]),
        brake=np.array([float(np.interp(speed, speeds[known], row[known]))]),
        step=np.array([given.trains[train].usual_step]),
        release_speed=none,
        after_speed=none,
        ease=np.array([False]),
        last=none,
        last_speed=np.array([0.0]),
        react=np.array([react]),
    )


def _changed(runs: Runs, **changes: object) -> Runs:
    return Runs(
        **({name: getattr(runs, name) for name in Runs.__dataclass_fields__} | changes)
    )


def _over_fields(pair: tuple[Runs, Runs], runs: int) -> FieldRuns:
    """Return each of two runs ``runs`` times, the n-th of both over the n-th field."""
    repeated = {
        name: np.concatenate([np.repeat(getattr(one, name), runs) for one in pair])
        for name in Runs.__dataclass_fields__
    }
    return FieldRuns(**repeated, field=np.tile(np.arange(runs), 2))


def _draw(
    given: TableInput, runs: FieldRuns, state: RailField, rng: Generator, count: int
) -> Drawn:
    length = max(train.length for train in given.trains)
    far = float(np.ceil((runs.brake.max() + length) / CELL) + 1) * CELL
    cells = int(np.ceil((far + BEYOND) / CELL))
    values = standard_field(rng, count, cells, CELL, state.patch, state.day_share)
    return Drawn(values, CELL, far)


def _approach(stop: Floats, room: float, confidence: float) -> Approach:
    stood = np.nan_to_num(stop, nan=-np.inf)
    past_limit = int(np.sum(stood < -(room + SLACK)))
    past_mark = int(np.sum(stood < -min(PAST_MARK, room + SLACK)))
    ordered = np.sort(stood)
    return Approach(
        past_mark=wilson_interval(past_mark, stop.size, confidence),
        past_limit=wilson_interval(past_limit, stop.size, confidence),
        stop_median=float(ordered[stop.size // 2]),
        stop_worst_tenth=float(ordered[stop.size // 10]),
    )
