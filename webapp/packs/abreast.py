"""Both directions of a route computed abreast, where the machine has a second core."""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from functools import partial
from multiprocessing import get_context

from calc.model import TableInput
from calc.table import Table, build_table

#: Told what is being worked on, how much is done, and of how much.
Progress = Callable[[str, int, int], None]
Compute = Callable[[TableInput, Callable[[int, int], None] | None], Table]


def compute_tables(
    names: list[str], inputs: list[TableInput], progress: Progress | None, compute: Compute
) -> list[Table]:
    """Return the table of each input, in order.

    The last is computed here, the others in a process of their own; where no second
    process can be had, all are computed here one after the other.
    """
    tell = progress or (lambda *_: None)
    if compute is not build_table or len(inputs) < 2 or (os.cpu_count() or 1) < 2:
        return [
            compute(given, partial(tell, name))
            for name, given in zip(names, inputs, strict=True)
        ]
    with ProcessPoolExecutor(len(inputs) - 1, mp_context=get_context("spawn")) as pool:
        waiting = [pool.submit(build_table, given) for given in inputs[:-1]]
        own = build_table(inputs[-1], partial(tell, names[-1]))
        pairs = zip(names, inputs, waiting, strict=False)
        return [*(_received(tell, *pair) for pair in pairs), own]


def _received(tell: Progress, name: str, given: TableInput, waiting: Future[Table]) -> Table:
    """Return another process's table; compute it here if that process was lost."""
    count = len(given.targets)
    try:
        table = waiting.result()
    except BrokenProcessPool:
        return build_table(given, partial(tell, name))
    tell(name, count, count)
    return table
