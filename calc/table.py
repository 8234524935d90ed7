"""The braking table: all targets x rail states x trains x speeds in one batch."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from .check import check_input
from .chunk import TARGETS_AT_ONCE, soft_distance, work_chunk
from .model import TableInput
from .result import NO_STOP, NOT_COMPUTED, OK, Floats, Table
from .settle import settle, unmet
from .worked import as_worked

__all__ = ["NOT_COMPUTED", "NO_STOP", "OK", "Table", "build_table", "check_input"]


def build_table(
    given: TableInput, progress: Callable[[int, int], None] | None = None
) -> Table:
    """Compute the braking table of one direction.

    Parameters
    ----------
    given : TableInput
        ``speeds`` are every whole posted unit, rising. [m/s]
    progress : callable, optional
        Told how many targets are done, and of how many.

    Raises
    ------
    ValueError
        If the input describes nothing that could run: no mass, no stretch, a limit
        before its mark, states whose adhesion does not fall along the chain.
    """
    check_input(given)
    given = as_worked(given)
    table = empty_table(given)
    count = len(given.targets)
    if count == 0:  # a direction in which no train stops
        return table
    order = sorted(range(count), key=lambda target: soft_distance(given, target))
    for begin in range(0, count, TARGETS_AT_ONCE):
        end = min(begin + TARGETS_AT_ONCE, count)
        work_chunk(given, order[begin:end], table)
        if progress is not None:
            progress(end, count)
    faster = unmet(given, table)
    again = [target for target in order if any(target == pair[0] for pair in faster)]
    for begin in range(0, len(again), TARGETS_AT_ONCE):
        work_chunk(given, again[begin : begin + TARGETS_AT_ONCE], table, faster)
    return settle(given, table)


def empty_table(given: TableInput) -> Table:
    """Return a table in which nothing is computed yet."""
    shape = (len(given.targets), 2, len(given.states), len(given.trains))
    short = (shape[0], shape[3])
    nodes = np.arange(0.0, given.settings.horizon + 1e-9, given.settings.cell)
    speeds = len(given.speeds)

    def nan(*axes: int) -> Floats:
        return np.full(axes, np.nan)

    return Table(
        status=np.full((*shape, speeds), NOT_COMPUTED, dtype=np.uint8),
        brake=nan(*shape, speeds),
        seconds=nan(*shape, speeds),
        cover=nan(*shape, speeds),
        usual=nan(*short, speeds),
        step=np.zeros(shape, dtype=np.int64),
        last_step=np.zeros(shape, dtype=np.int64),
        run_in=np.zeros(shape),
        ease_at=np.zeros(shape),
        aim_short=np.zeros(shape),
        expect_wsp=np.zeros(shape, dtype=bool),
        nothing_added=np.zeros(shape, dtype=bool),
        less_cover=np.zeros(shape, dtype=bool),
        no_state_in_hand=np.full(shape, given.settings.quiet_from >= 0),
        approach_speed=nan(*shape),
        nodes=nodes,
        advised=nan(*shape, nodes.size),
        ceiling=nan(*shape, nodes.size),
        cover_by_onset=nan(*shape, nodes.size),
        usual_curve=nan(*short, nodes.size),
        handle_distance=nan(*shape),
        handle_speed=nan(*shape),
        after_speed=nan(*shape),
        last_distance=nan(*shape),
        forward_stop=nan(*shape),
    )
