"""The braking table: all targets x rail states x trains x speeds in one batch."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .check import check_input
from .chunk import TARGETS_AT_ONCE, Kept, Part, soft_distance, work_chunk
from .model import TableInput
from .result import (
    CHUNK,
    COLUMNS,
    NO_STOP,
    NODE,
    NOT_COMPUTED,
    OK,
    SPEED,
    Column,
    Table,
)
from .room import joined
from .settle import in_order_of_chain, settle, unmet
from .worked import as_worked, leaves_room, without_room

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

    Returns
    -------
    Table
        Axes and units stand with the columns in `calc.result`.

    Raises
    ------
    ValueError
        If the input describes nothing that could run: no mass, no stretch, a limit
        before its mark, states whose adhesion does not fall along the chain; or if a
        column of the table was worked out by nobody.
    """
    check_input(given)
    if not given.targets:  # a direction in which no train stops
        return empty_table(as_worked(given))
    if not leaves_room(given.settings):
        return settle(given, _worked_out(given, progress))
    quoted = replace(given, settings=without_room(given.settings))
    tired = as_worked(given)
    half = progress and (lambda done, count: progress(done // 2, count))
    plain = in_order_of_chain(quoted, _worked_out(quoted, half))
    later = progress and (lambda done, count: progress((count + done) // 2, count))
    roomy = _worked_out(tired, later, Kept(quoted, plain))
    return joined(quoted, plain, tired, roomy)


def _worked_out(
    given: TableInput,
    progress: Callable[[int, int], None] | None,
    kept: Kept | None = None,
) -> Table:
    """Work out every target, a few at a time."""
    table = empty_table(given)
    count = len(given.targets)
    order = sorted(range(count), key=lambda target: soft_distance(given, target))

    def parts() -> Iterator[Part]:
        for begin in range(0, count, TARGETS_AT_ONCE):
            end = min(begin + TARGETS_AT_ONCE, count)
            yield from work_chunk(given, order[begin:end], kept=kept)
            if progress is not None:
                progress(end, count)

    table = laid(table, parts())
    faster = unmet(given, table)
    again = [target for target in order if any(target == pair[0] for pair in faster)]
    few = range(0, len(again), TARGETS_AT_ONCE)
    return laid(
        table,
        (
            part
            for at in few
            for part in work_chunk(given, again[at : at + TARGETS_AT_ONCE], faster, kept)
        ),
    )


def empty_table(given: TableInput) -> Table:
    """Return a table in which nothing is computed yet: each cell holds its column's empty.

    Parameters
    ----------
    given : TableInput

    Returns
    -------
    Table
    """
    nodes = np.arange(0.0, given.settings.horizon + 1e-9, given.settings.cell)
    size = {
        "target": len(given.targets),
        "season": 2,
        "state": len(given.states),
        "train": len(given.trains),
        SPEED: len(given.speeds),
        NODE: nodes.size,
    }
    cells = {
        one.name: np.full(
            tuple(size[axis] for axis in one.axes), one.untouched(given.settings)
        )
        for one in COLUMNS
    }
    return Table(nodes=nodes, **cells)


def laid(table: Table, parts: Iterable[Part]) -> Table:
    """Return the table with the figures of some cases put in their places.

    A curve of a part may be shorter than the table's nodes: the rest stays as it was.

    Parameters
    ----------
    table : Table
    parts : iterable of Part

    Returns
    -------
    Table
        A copy; the given one is unchanged.

    Raises
    ------
    ValueError
        If a part lacks a column that is made with the cases, or has one that isn't.
    """
    cells = {one.name: getattr(table, one.name).copy() for one in COLUMNS}
    for part in parts:
        _check_names(part)
        for one in COLUMNS:
            if one.made == CHUNK:
                _put(cells[one.name], one, part)
    return replace(table, **cells)


def _put(cells: NDArray[Any], column: Column, part: Part) -> None:
    values = part.figures[column.name]
    at: tuple[Any, ...] = tuple(
        part.case[axis] for axis in column.axes if axis not in (SPEED, NODE)
    )
    shown = slice(0, values.shape[-1])
    cells[(*at, shown) if column.axes[-1] == NODE else at] = values


def _check_names(part: Part) -> None:
    wanted = {one.name for one in COLUMNS if one.made == CHUNK}
    for name in sorted(wanted ^ part.figures.keys()):
        told = "has no formula in" if name in wanted else "isn't a column of Table, but in"
        raise ValueError(f"table column {name!r} {told} calc.chunk.figures")
