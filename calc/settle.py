"""The last pass over a table: monotone along the chain, and every advice driven."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .approach import meeting, speed_envelope
from .driven import driven, hand_driven
from .gradient import held_on_gradient
from .model import TableInput
from .order import ever_since, never_less
from .result import (
    COLUMNS,
    FREE,
    NO_STOP,
    NOT_COMPUTED,
    OK,
    RISES,
    SETTLED,
    Flags,
    Floats,
    Table,
    only_advised,
)
from .run_in import none_quicker

#: A plan this near the usual brake point adds nothing to it [m].
_SAME = 5.0


def settle(given: TableInput, table: Table) -> Table:
    """Return the table with its order along the chain enforced and its advice driven.

    A worse rail state, or a place listed in season, never gets a later brake point, a
    heavier step or a higher speed; no advice is later than the usual approach. An
    advice whose forward run does not reach the mark is withdrawn: not computed.

    Raises
    ------
    ValueError
        If a column that is made here was left as it came.
    """
    before = table
    table = driven(given, in_order_of_chain(given, table))
    table = none_quicker(given, table)
    table = held_on_gradient(given, table)
    table = hand_driven(given, table)
    for column in COLUMNS:
        if column.made == SETTLED and getattr(table, column.name) is getattr(
            before, column.name
        ):
            raise ValueError(f"table column {column.name!r} has no formula in calc.settle")
    return table


def in_order_of_chain(given: TableInput, table: Table, *, alone: bool = False) -> Table:
    """Return the table in its order along the chain, with the speeds trains come at.

    With ``alone`` a case without advice takes none from worse ones: plans of another
    table stand in for it.
    """
    status = table.status if alone else _ordered_status(given, table)
    table = replace(table, status=status, **ordered(given, table))
    table = only_advised(table, table.status)
    table = replace(table, approach_speed=approach_speeds(given, table))
    return replace(table, nothing_added=_nothing_added(given, table))


def ordered(given: TableInput, table: Table) -> dict[str, NDArray[Any]]:
    """Return every column that has an order along the chain, in that order."""
    out = {}
    for column in COLUMNS:
        if column.along == FREE:
            continue
        values = getattr(table, column.name)
        own = values.astype(np.float64)
        bound = getattr(table, column.bound)[:, None, None] if column.bound else np.nan
        if column.along == RISES:
            own = np.fmax(never_less(np.fmax(own, bound), given.trains), column.least)
        else:
            own = -never_less(-np.fmin(own, bound), given.trains)
        out[column.name] = own.astype(values.dtype)
    return out


def _ordered_status(given: TableInput, table: Table) -> NDArray[np.uint8]:
    """Once a case has no advice at a speed, no worse case has one."""
    lost = (table.status == OK) & ~np.isfinite(table.brake)
    status = np.where(lost, NOT_COMPUTED, table.status)
    gone = ever_since(status == NO_STOP, given.trains)
    unknown = ever_since(status == NOT_COMPUTED, given.trains) & ~gone
    out = np.where(gone, NO_STOP, np.where(unknown, NOT_COMPUTED, status))
    return np.asarray(out, dtype=np.uint8)


def approach_speeds(given: TableInput, table: Table) -> Floats:
    """Return the speed at which a train meets its brake point, for every case."""
    speeds = np.asarray(given.speeds)
    distance = table.nodes[::-1]
    out = np.full(table.step.shape, np.nan)
    for t, target in enumerate(given.targets):
        for v, train in enumerate(given.trains):
            if not np.isfinite(target.mark[v]):
                continue
            at = target.mark[v] - distance
            envelope = speed_envelope(given.line, target, train, at)
            bounds = _board_bounds(given, table, t, v, at)
            for case in np.ndindex(2, len(given.states)):
                slowed = np.minimum(envelope, bounds[case])
                brake = table.brake[(t, *case, v)]
                out[(t, *case, v)] = meeting(slowed, distance, speeds, brake)
    return out


def unmet(given: TableInput, table: Table) -> frozenset[tuple[int, int]]:
    """Return targets and trains met faster than their plans were worked out for."""
    missing = ~np.isfinite(approach_speeds(given, table)) & (table.status == OK).any(axis=-1)
    target, _, _, train = np.nonzero(missing)
    return frozenset(zip(target.tolist(), train.tolist(), strict=True))


def _board_bounds(
    given: TableInput, table: Table, target: int, train: int, at: Floats
) -> Floats:
    """Return how fast a train can be that slows as advised for the boards ahead.

    The lower speed is a target of its own, in the same rail state: a train on its
    advised curve comes to the stop behind it no faster. Shape (2, states, places).
    """
    bounds = np.full((2, len(given.states), at.size), np.inf)
    mark = given.targets[target].mark[train]
    for other, board in enumerate(given.targets):
        if board.to_speed <= 0 or other == target or not board.mark[train] < mark:
            continue
        ahead = board.mark[train] - at
        known = (ahead >= 0) & (ahead <= table.nodes[-1])
        curve = table.advised[other, :, :, train]
        place = np.clip(ahead / given.settings.cell, 0, table.nodes.size - 1)
        speed = curve[:, :, np.ceil(place).astype(np.int64)]
        bounds = np.fmin(bounds, np.where(known, speed, np.inf))
    return bounds


def _nothing_added(given: TableInput, table: Table) -> Flags:
    """Tell where the advice is the usual approach itself."""
    speeds = np.asarray(given.speeds)
    usual_step = np.array([train.usual_step for train in given.trains])
    more = np.where(
        speeds <= table.approach_speed[..., None],
        table.brake - table.usual[:, None, None],
        0.0,
    )
    same = np.nan_to_num(np.nanmax(more, axis=-1), nan=np.inf) <= _SAME
    plain = (table.step == usual_step) & (table.run_in == 0) & (table.ease_at == 0)
    return np.asarray(same & plain & np.isfinite(table.approach_speed))
