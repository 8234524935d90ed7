"""How long 10,000 slides of a 12-car train take: printed, not asserted.

Run as ``python -m tests.benchmarks.slide``. Aim: under 10 s on two cores.
"""

from __future__ import annotations

from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from functools import partial
from time import perf_counter

import numpy as np

from calc.constants import MPH
from calc.slide import Rail, Sand, Sander, SlideRuns, SlideTrain, simulate
from calc.slide.handlings import Handling, orders_of
from tests.calc.cases import line, train

RUNS, WHEELSETS, CORES = 10_000, 48, 2


def twelve_cars() -> SlideTrain:
    base = train(length=240.0, mass=480e3, rotating=0.08, resistance=(9e3, 350.0, 15.0))
    return SlideTrain(base, WHEELSETS)


def slides(runs: int) -> tuple[Rail, SlideRuns]:
    """Every run on a rail of its own, in cells of 25 m, most of it slippery."""
    rng = np.random.default_rng(11)
    rows = rng.uniform(0.02, 0.09, (runs, 160))
    zero = np.zeros(runs, dtype=np.int64)
    rail = Rail(-500.0, 25.0, rows, np.arange(runs), (((0.0,), (1.0,)),), zero)
    start, mark = np.zeros(runs), np.full(runs, 800.0)
    orders = orders_of(Handling("highest", on_slide="highest"), twelve_cars(), mark)
    speed = rng.uniform(40 * MPH, 70 * MPH, runs)
    return rail, SlideRuns(speed, start, mark, mark + 40.0, zero > 0, orders)


def slid_in(unit: SlideTrain, part: np.ndarray) -> int:
    """Drive some of the runs; return how many slid."""
    rail, runs = slides(RUNS)
    return int(simulate(unit, line(), rail.take(part), runs.take(part)).slid.sum())


def timed(what: str, unit: SlideTrain, cores: int) -> None:
    parts = np.array_split(np.arange(RUNS), cores)
    begun = perf_counter()
    with ProcessPoolExecutor(cores) as pool:
        slid = sum(pool.map(partial(slid_in, unit), parts))
    print(f"  {what:16}{cores} process(es): {perf_counter() - begun:6.1f} s, {slid} slid")


def main() -> None:
    """Measure and print."""
    print(f"{RUNS} slide runs of a 12-car train of {WHEELSETS} wheelsets")
    unit = twelve_cars()
    sanded = replace(unit, sand=Sand((Sander(2, 30.0), Sander(26, 30.0))))
    for cores in (1, CORES):
        timed("without sand", unit, cores)
    timed("with sand", sanded, CORES)


if __name__ == "__main__":
    main()
