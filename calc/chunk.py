"""A few targets of a table worked out together; the chunk bounds memory, nothing else."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .advised import Advised, work_out
from .approach import meeting, slowed_for_boards, speed_envelope
from .batch import Batch, CaseIndex, Floats, Ints, make_batch
from .choice import Choice, choose
from .cover import ceilings, recovery_curve
from .family import (
    Family,
    allowed_steps,
    family_starts,
    last_joins,
    make_family,
    score_family,
)
from .hand import worse_ceilings
from .joins import Joins, joins, value_at
from .model import TableInput
from .order import one_state_worse
from .result import NO_STOP, NOT_COMPUTED, OK, Table

#: Targets worked out in one batch.
TARGETS_AT_ONCE = 2
#: Time added to the softest approach when bounding the speed it can begin at [s]:
#: more than dead time and build-up of any train. Assumption; plans are checked again
#: at the speed they are really met at.
_DELAY = 4.0


@dataclass(frozen=True)
class Usual:
    """The usual approach on dry rail: its curve, brake points and seconds by speed."""

    curve: Joins
    brake: Floats
    seconds: Floats


@dataclass(frozen=True)
class Kept:
    """What plans with room for a weak brake and a late hand keep to: those without.

    Attributes
    ----------
    given : TableInput
        What was quoted.
    table : Table
        The plans without room: no plan with room is heavier or begins later.
    """

    given: TableInput
    table: Table


@dataclass(frozen=True)
class Part:
    """The figures of some cases of a table.

    Attributes
    ----------
    case : dict of numpy.ndarray of int, shape (n,)
        Target, season, state and train of each row of the figures.
    figures : dict of numpy.ndarray, shape (n, ...)
        By the name of their column; the rest of the axes as the column has them.
    """

    case: dict[str, Ints]
    figures: dict[str, NDArray[Any]]


def work_chunk(
    given: TableInput,
    targets: Iterable[int],
    faster: frozenset[tuple[int, int]] = frozenset(),
    kept: Kept | None = None,
) -> tuple[Part, ...]:
    """Work out some targets of a table; nothing where no train has a mark at them.

    Parameters
    ----------
    given : TableInput
    targets : iterable of int
        Worked out in one batch; which ones go together changes no figure but where the
        shared horizon ends.
    faster : frozenset of (int, int)
        Pairs of target and train that meet their brake point faster than a train does
        that slows softly for the boards before it.
    kept : Kept, optional
        Plans that these keep to, where they are worked out with room.
    """
    speeds = np.asarray(given.speeds)
    given = _shortened(given, list(targets))
    index = _cases(given, list(targets))
    if index.target.size == 0:
        return ()
    batch = make_batch(given, index, 1.3 * float(speeds[-1]))
    usual = _usual(given, index, speeds)
    family = make_family(given)
    steps = np.unique(family.step).tolist()
    recovery = recovery_curve(batch, given)
    ceiling = {k: ceilings(batch, given, recovery, k) for k in steps}
    last = last_joins(batch)
    mark = np.full(batch.cases, batch.before)
    plain = {k: last if k == 0 else joins(batch, k, mark, batch.goal) for k in steps}
    starts = family_starts(batch, family, last, plain)
    top = _met_speeds(given, index, last, faster)
    worse = one_state_worse(index, given.states)
    sliding = worse_ceilings(batch, recovery, steps, worse)
    scores = score_family(batch, given, family, starts, ceiling, sliding, last, top)
    cost = value_at(usual.curve.handle_speed, usual.curve.handle_seconds, top[None, :])
    cost = cost - value_at(usual.curve.handle_speed, usual.curve.handle, top[None, :]) / top
    most = allowed_steps(batch, given)
    nearest = None
    if kept is not None:
        most, nearest = _bounds(kept.table, index, most, speeds, top)
        near = _no_later_near(kept.table, index, family)
        scores = replace(scores, possible=scores.possible & near)
    choice = choose(batch, given, family, scores, most, cost[0], nearest)
    advised = work_out(batch, family, choice, starts, ceiling, last, speeds)
    rows, case = _with_season(index)
    against = usual if kept is None else _usual(kept.given, index, speeds)
    worked = figures(given, batch, family, choice, advised, usual, against)
    return (Part(case, {name: values[rows] for name, values in worked.items()}),)


def _bounds(
    table: Table, index: CaseIndex, most: Ints, speeds: Floats, top: Floats
) -> tuple[Ints, Floats]:
    """Return the heaviest step and nearest brake point that a table leaves each case.

    A case without advice in the table gets none here: its heaviest step is none.
    """
    at = index.target, index.season, index.state, index.train
    advised = (table.status[at] == OK).any(axis=-1)
    nearest = np.full(top.size, -np.inf)
    for lane in np.flatnonzero(advised):
        row = table.brake[tuple(axis[lane] for axis in at)]
        known = np.isfinite(row)
        nearest[lane] = np.interp(top[lane], speeds[known], row[known])
    return np.where(advised, np.minimum(most, table.step[at]), -1), nearest


def _no_later_near(table: Table, index: CaseIndex, family: Family) -> NDArray[np.bool_]:
    """Tell which plans are those of a table, or begin sooner near the mark, (plans, cases).

    The first step is the same: a lighter one begins so much farther out that it would be
    another plan. What is eased there is eased as soon; what is run in is released as far
    out and as slow.
    """
    at = index.target, index.season, index.state, index.train
    near, step = family.near_speed[:, None], family.step[:, None]
    eased, run_in = family.eased[:, None], family.run_in[:, None]
    lightest = ~eased & (step == 0)
    as_eased = lightest | (eased & (near >= table.ease_at[at]))
    as_run_in = run_in & (family.aim[:, None] >= table.aim_short[at])
    as_run_in &= near <= table.run_in[at]
    out = np.where(table.ease_at[at] > 0, as_eased, (table.run_in[at] == 0) | as_run_in)
    return np.asarray(out & (step == table.step[at]))


def soft_distance(given: TableInput, target: int) -> float:
    """Return how far before a mark the softest approach of any train can begin. [m]."""
    every = range(len(given.trains))
    lanes = [v for v in every if np.isfinite(given.targets[target].mark[v])]
    if not lanes:
        return 0.0
    where = np.full(len(lanes), target)
    index = CaseIndex(where, 0 * where, 0 * where, np.array(lanes))
    return float(_softest(given, _top_speeds(given, index)).max())


def _softest(given: TableInput, speed: Floats) -> Floats:
    """Return how far before its mark the softest plan of the family begins. [m]."""
    slowing = speed**2 / (2 * given.settings.least_deceleration)
    delay = (_DELAY + given.settings.late) * speed
    return np.asarray(slowing + delay + max(given.settings.aim_short, default=0.0))


def _shortened(given: TableInput, targets: list[int]) -> TableInput:
    """Leave out what lies farther back than any approach to these targets can begin."""
    cell, whole = given.settings.cell, given.settings.horizon
    need = max(soft_distance(given, target) for target in targets) + max(
        given.settings.aim_short
    )
    horizon = min(whole, float(np.ceil(need / cell) * cell))
    return replace(given, settings=replace(given.settings, horizon=max(horizon, 10 * cell)))


def _cases(given: TableInput, targets: list[int]) -> CaseIndex:
    """List every case of some targets; a season without its own listed places is left."""
    rows = [
        (target, season, state, train)
        for target in targets
        for season in ((0, 1) if any(place[3] for place in given.line.listed) else (0,))
        for state in range(len(given.states))
        for train in range(len(given.trains))
        if np.isfinite(given.targets[target].mark[train])
        and (season == 0 or _has_season(given, target, train))
    ]
    columns = np.array(rows, dtype=np.int64).reshape(-1, 4).T
    return CaseIndex(*columns)


def _has_season(given: TableInput, target: int, train: int) -> bool:
    """Tell whether a place listed for a season only lies on the way to a target."""
    mark = given.targets[target].mark[train]
    far = mark - given.settings.horizon - given.trains[train].length
    limit = given.targets[target].limit[train]
    return any(s and stop > far and start < limit for start, stop, _, s in given.line.listed)


def _usual(given: TableInput, index: CaseIndex, speeds: Floats) -> Usual:
    """Work out the usual approach of each case: usual step all the way on dry rail."""
    dry = replace(given, line=replace(given.line, listed=()))
    batch = make_batch(dry, replace(index, state=0 * index.state), 1.3 * float(speeds[-1]))
    step = np.array([train.usual_step for train in given.trains])[index.train]
    curve = joins(batch, step, np.full(batch.cases, batch.before), batch.goal)
    wanted = np.broadcast_to(speeds[:, None], (speeds.size, batch.cases))
    late = given.settings.late
    return Usual(
        curve,
        value_at(curve.handle_speed, curve.handle, wanted) + late * wanted,
        value_at(curve.handle_speed, curve.handle_seconds, wanted) + late,
    )


def _top_speeds(given: TableInput, index: CaseIndex) -> Floats:
    """Return the highest speed each case's approach can begin at. [m/s]."""
    speeds = np.asarray(given.speeds)
    softest = _softest(given, speeds)
    met = np.array(
        [
            meeting(envelope, distance, speeds, softest)
            for envelope, distance in _envelopes(given, index, boards=False)
        ]
    )
    return np.asarray(np.fmax(np.where(np.isfinite(met), met, speeds[-1]), speeds[0]))


def _met_speeds(
    given: TableInput,
    index: CaseIndex,
    last: Joins,
    faster: frozenset[tuple[int, int]],
) -> Floats:
    """Return the speed at which each case meets its lightest step's curve. [m/s].

    Plans are compared at this speed; what they come to is worked out for every speed.
    """
    speeds = np.asarray(given.speeds)
    wanted = np.broadcast_to(speeds[:, None], (speeds.size, index.target.size))
    brake = value_at(last.handle_speed, last.handle, wanted)
    soft = _softest(given, speeds)
    out = np.empty(index.target.size)
    slowed = _envelopes(given, index, boards=True)
    unslowed = _envelopes(given, index, boards=False)
    for lane in range(index.target.size):
        pair = int(index.target[lane]), int(index.train[lane])
        envelope, distance = (unslowed if pair in faster else slowed)[lane]
        own = meeting(envelope, distance, speeds, brake[:, lane])
        bound = meeting(envelope, distance, speeds, soft)
        out[lane] = own if np.isfinite(own) else bound
    return np.asarray(np.fmax(np.where(np.isfinite(out), out, speeds[-1]), speeds[0]))


def _envelopes(
    given: TableInput, index: CaseIndex, boards: bool
) -> list[tuple[Floats, Floats]]:
    """Return each case's speed envelope and its distances before the mark.

    With ``boards`` the train slows for lower speeds ahead as softly as a plan may.
    """
    distance = np.arange(given.settings.horizon, -1e-9, -given.settings.cell)
    known: dict[tuple[int, int], Floats] = {}
    pairs = list(zip(index.target.tolist(), index.train.tolist(), strict=True))
    for target, train in set(pairs):
        where = given.targets[target]
        at = where.mark[train] - distance
        envelope = speed_envelope(given.line, where, given.trains[train], at)
        if boards:
            least = given.settings.least_deceleration
            envelope = slowed_for_boards(given.line, at, envelope, least, where.mark[train])
        known[target, train] = envelope
    return [(known[pair], distance) for pair in pairs]


def figures(
    given: TableInput,
    batch: Batch,
    family: Family,
    choice: Choice,
    advised: Advised,
    usual: Usual,
    against: Usual,
) -> dict[str, NDArray[Any]]:
    """Return each column of a batch that is made with its cases, (cases, ...).

    This is where a new column gets its formula. ``usual`` is the usual approach with the
    trains of ``given``, ``against`` that which the time lost is counted against. Curves
    stand at the batch's nodes from the mark outward. What needs a stand is not known at a
    lower speed to run through.
    """
    plan = np.maximum(choice.plan, 0)
    speeds, late = np.asarray(given.speeds)[:, None], given.settings.late
    brake = advised.brake + late * speeds
    lost = advised.seconds + late - against.seconds - (brake - against.brake) / speeds
    single = family.near_speed[plan] == 0
    stops = batch.goal == 0
    nodes = slice(batch.before, None)
    status = np.where(np.isfinite(advised.brake), OK, NOT_COMPUTED)

    def at_a_stand(values: Floats) -> Floats:
        return np.where(stops, values, np.nan)

    def released(values: Floats) -> Floats:
        return np.where(single, np.nan, values)

    return {
        "status": np.where(choice.plan < 0, NO_STOP, status).T,
        "brake": brake.T,
        "seconds": lost.T,
        "cover": at_a_stand(advised.cover).T,
        "usual": usual.brake.T,
        "step": family.step[plan],
        "last_step": np.where(single, family.step[plan], 0),
        "run_in": np.where(family.run_in, family.near_speed, 0.0)[plan],
        "ease_at": np.where(family.eased, family.near_speed, 0.0)[plan],
        "aim_short": family.aim[plan],
        "expect_wsp": choice.expect_wsp,
        "less_cover": choice.less_cover,
        "no_state_in_hand": ~choice.in_hand & stops & (given.settings.quiet_from >= 0),
        "no_room": np.zeros(plan.shape, dtype=bool),
        "advised": advised.curve[nodes].T,
        "ceiling": at_a_stand(advised.ceiling)[nodes].T,
        "cover_by_onset": at_a_stand(advised.onset)[nodes].T,
        "usual_curve": usual.curve.speed[nodes].T,
        "handle_distance": released(advised.handle.distance),
        "handle_speed": released(advised.handle.speed),
        "after_speed": released(advised.after_speed),
        "last_distance": advised.last.distance,
    }


def _with_season(index: CaseIndex) -> tuple[Ints, dict[str, Ints]]:
    """Return rows of a batch and the case each is for.

    Where no place is listed for the season alone, the figures out of season are those of
    the season too: their rows come twice.
    """
    pairs = list(zip(index.target.tolist(), index.train.tolist(), strict=True))
    seasonal = {pair for pair, season in zip(pairs, index.season, strict=True) if season}
    both = np.flatnonzero([pair not in seasonal for pair in pairs])
    rows = np.concatenate([np.arange(index.target.size), both])
    season = np.concatenate([index.season, np.ones(both.size, dtype=np.int64)])
    case = {
        "target": index.target[rows],
        "season": season,
        "state": index.state[rows],
        "train": index.train[rows],
    }
    return rows, case
