"""The advice driven again on a line a little steeper than its file says.

A gradient is known to a tenth of a per cent at best. With the quoted brake, and nobody
correcting anything, advice still holds its mark and its limit there. What doesn't is begun
sooner by what it lacked; a driver whose line is as told then lets go once and runs in
(`calc.easing`). Where a plan of one step is worked with room for a weak brake, and is
quiet, nothing has to be driven: that room slows the train by more than the gradient takes.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from .constants import GRAVITY
from .driven import advice_runs, moved_out, past_allowed
from .forward import drive
from .model import TableInput
from .order import ever_since, never_less
from .result import NOT_COMPUTED, OK, Flags, Floats, Table, only_advised
from .worked import without_room

#: How much steeper or flatter the line may be than its file says: 0.1 %. Assumption.
OFF = 0.001
#: How often a plan is moved out and driven again before it is withdrawn.
_ROUNDS = 6
#: How much more than it lacked a plan is moved out at first [-].
_FIRST = 1.2
#: Farther out than this no plan is moved: it would be another one [m].
MOST = 200.0


def steeper(given: TableInput, by: float = OFF) -> TableInput:
    """Return the input with its line falling more, or less below 0. [-]."""
    line = given.line
    return replace(given, line=replace(line, gradient=tuple(g - by for g in line.gradient)))


def held_on_gradient(
    given: TableInput,
    table: Table,
    tired: TableInput | None = None,
    room: Flags | None = None,
) -> Table:
    """Move out, or withdraw, advice that a slightly steeper line takes past its mark.

    Parameters
    ----------
    given : TableInput
    table : Table
        Ordered and driven. The usual approach is left alone: a driver brakes there as
        the line is, not as its file says.
    tired : TableInput, optional
        What plans with room for a weak brake are worked with.
    room : numpy.ndarray of bool, shape (target, season, state, train), optional
        Which cases those are.

    Returns
    -------
    Table
        No plan nearer than before; ``seconds`` with what the longer run-in costs.
    """
    quoted = replace(given, settings=without_room(given.settings))
    stops = np.array([target.to_speed == 0 for target in given.targets])
    doubt = (table.status == OK).any(axis=-1) & np.isfinite(table.approach_speed)
    doubt &= stops[:, None, None, None] & ~table.nothing_added
    if tired is not None and room is not None:
        single = (table.run_in == 0) & (table.ease_at == 0)
        doubt &= ~(room & single & ~table.expect_wsp & _slows_by_more(given, tired))
    before, allowed = table, past_allowed(given)[:, None, None, :]
    line, step = steeper(quoted), np.zeros(doubt.shape)
    lacks, gain = _past(line, table, doubt), np.full(doubt.shape, _FIRST)
    for _ in range(_ROUNDS):
        over = (lacks > allowed) & (lacks < MOST)
        if not over.any():
            break
        step = np.where(over, lacks * gain, 0.0)
        table, had = moved_out(given, table, step), np.where(over, lacks, 0.0)
        lacks = np.where(over, _past(line, table, over), lacks)
        # Where the line falls farther out, a metre sooner takes less than a metre off.
        won = np.maximum(had - np.where(over, lacks, 0.0), 1.0)
        gain = np.clip(step / won, _FIRST, 5.0)
    table = _dearer(quoted, before, table)
    gone = ever_since(lacks > allowed, given.trains)[..., None] & (table.status == OK)
    status = np.where(gone, NOT_COMPUTED, table.status).astype(np.uint8)
    return only_advised(table, status)


def _slows_by_more(given: TableInput, tired: TableInput) -> Flags:
    """Tell with which trains room for a weak brake is worth more than the gradient."""
    return np.array(
        [
            (whole.brake_share - weak.brake_share)
            * min(min(step.rates) for step in whole.steps)
            > OFF * GRAVITY
            for whole, weak in zip(given.trains, tired.trains, strict=True)
        ]
    )


def _past(given: TableInput, table: Table, only: Flags) -> Floats:
    """Return how far past its mark each advice stood, its step held; -inf: not driven. [m]."""
    past = np.full(table.step.shape, -np.inf)
    at = np.nonzero(only)
    if at[0].size:
        stop = drive(given, advice_runs(given, table, at)).stop
        past[at] = np.nan_to_num(-stop, nan=np.inf)
    return past


def _dearer(given: TableInput, before: Table, table: Table) -> Table:
    """Add what it costs that a driver whose line is as told lets go and runs in. [s].

    He runs those metres at the plan's run-in speed, or a middling one of the line's.
    """
    more = np.nan_to_num(table.brake - before.brake)
    middling = float(np.median(given.settings.run_in_speeds))
    speeds = np.asarray(given.speeds)
    slow = np.where(table.run_in > 0, table.run_in, middling)[..., None]
    lost = more * np.maximum(1.0 / slow - 1.0 / speeds, 0.0)
    return replace(table, seconds=never_less(table.seconds + lost, given.trains))
