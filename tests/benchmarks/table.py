"""How fast the batched computation is: ratios of times taken in one run.

Run as ``python -m tests.benchmarks``. Nothing here is a test: a figure in seconds says
something about a machine, a ratio of two figures of one run says it about the program.
"""

from __future__ import annotations

from collections.abc import Callable
from time import perf_counter

import numpy as np
from scipy.integrate import solve_ivp

from calc.batch import Batch, CaseIndex, make_batch
from calc.constants import GRAVITY
from calc.model import Settings, TableInput, Target
from calc.sweep import curve
from calc.table import build_table
from tests.calc.random_lines import CHAIN, random_input, random_line, random_train

STEP = 1
CURVES, REACH, CELL = 2_880, 6_000.0, 10.0


def best_of(what: Callable[[], object], times: int = 3) -> float:
    """Return the shortest time of some runs, which other work disturbs least. [s]"""
    taken = []
    for _ in range(times):
        start = perf_counter()
        what()
        taken.append(perf_counter() - start)
    return min(taken)


def many_cases(listed: bool) -> tuple[TableInput, Batch]:
    """2,880 curves of 6 km: 48 marks, 4 rail states, 3 trains, 5 times over."""
    rng = np.random.default_rng(3)
    marks = np.linspace(8_000.0, 40_000.0, 48).tolist()
    track = random_line(rng, 45_000.0)
    if not listed:
        track = type(track)(**{**vars(track), "listed": ()})
    trains = tuple(random_train(rng, length) for length in (0.0, 100.0, 240.0))
    given = TableInput(
        line=track,
        targets=tuple(Target(f"{m:.0f}", (m,) * 3, (m + 20.0,) * 3) for m in marks),
        trains=trains,
        states=CHAIN[:4],
        speeds=(20.0, 21.0),
        settings=Settings(horizon=REACH, cell=CELL),
    )
    number = np.arange(CURVES)
    index = CaseIndex(number % 48, 0 * number, number // 48 % 4, number // 192 % 3)
    return given, make_batch(given, index, 90.0)


def sweep(batch: Batch) -> None:
    start = np.full(batch.cases, batch.before, dtype=np.int64)
    curve(batch, STEP, start, batch.goal)


def bare_operations(batch: Batch) -> None:
    """The same arithmetic on the same arrays, written out, and nothing around it."""
    force, own, adhesion = batch.force, batch.resistance, batch.adhesion
    rows = (
        batch.force_row(STEP) * force.bins,
        batch.index.train * own.bins,
        batch.index.state * adhesion.bins,
    )
    phi = batch.step_share[:, STEP]
    scale, top = 0.5, force.bins - 1.0
    held_by = batch.settings.eta * GRAVITY * phi
    turning, sliding = 1.0 / (1.0 + batch.rotating), 1.0 / (1.0 + (1.0 - phi) * batch.rotating)
    u, slow = batch.goal.copy(), np.zeros(batch.cases)
    kept = np.empty((batch.cells + 1, batch.cases))
    for node in range(batch.before, batch.cells):
        scaled = np.clip((u + slow * batch.cell) * scale, 0.0, top)
        whole = scaled.astype(np.int64)
        part = scaled - whole
        at = whole + rows[0]
        brake = force._value.take(at) + part * force._slope.take(at)
        at = whole + rows[1]
        rest = own._value.take(at) + part * own._slope.take(at) + batch.grade[node]
        at = whole + rows[2]
        held = held_by * (adhesion._value.take(at) + part * adhesion._slope.take(at))
        slow = np.minimum((brake + rest) * turning, (held + rest) * sliding)
        np.maximum(slow, 0.0, out=slow)
        u = u + 2.0 * batch.cell * slow
        kept[node + 1] = u


def slope_of(given: TableInput, batch: Batch, lane: int):
    """Return du/dx of one curve in plain floats, as fast as one call can be."""
    train = given.trains[batch.index.train[lane]]
    state = given.states[batch.index.state[lane]]
    step, rho = train.steps[STEP], train.rotating
    a, b, c = (term / train.mass for term in train.resistance)
    grade = batch.grade[batch.before :, lane].tolist()
    phi = float(batch.step_share[lane, STEP])
    (_, fast), (r0, r1) = step.speeds, step.rates
    tilt, intact = (r1 - r0) / fast, 1.0 - train.isolated_share
    knots, factors = np.array(state.shape_speeds), np.array(state.shape_factors)
    hold = given.settings.eta * GRAVITY * state.plan * phi
    falls, last = knots.size > 1, len(grade) - 1

    def slope(x: float, y: np.ndarray) -> float:
        v = max(float(y[0]), 0.0) ** 0.5
        own = a + b * v + c * v * v
        brake = max((r0 + tilt * min(v, fast)) * (1.0 + rho) - own, 0.0) * intact
        rest = own + grade[min(int(x / CELL), last)]
        held = hold * (float(np.interp(v, knots, factors)) if falls else 1.0)
        slide = (held + rest) / (1.0 + (1.0 - phi) * rho)
        return 2.0 * max(min((brake + rest) / (1.0 + rho), slide), 0.0)

    return slope


def solved_one_by_one(given: TableInput, batch: Batch, lanes: range) -> None:
    """One solve_ivp call a curve."""
    for lane in lanes:
        slope, first = slope_of(given, batch, lane), [batch.goal[lane]]
        solve_ivp(slope, (0.0, REACH), first, rtol=1e-6, atol=1e-6)


def row(what: str, seconds: float, ratio: float | None = None) -> None:
    times = "" if ratio is None else f"   ratio {ratio:8.2f}"
    print(f"  {what:22}{seconds * 1e6:12.1f} us{times}")


def main() -> None:
    """Measure and print the ratios."""
    given, batch = many_cases(listed=False)
    lanes = range(0, CURVES, CURVES // 24)
    each = best_of(lambda: sweep(batch)) / CURVES
    bare = best_of(lambda: bare_operations(batch)) / CURVES
    solved = best_of(lambda: solved_one_by_one(given, batch, lanes), 2) / len(lanes)
    print(f"{CURVES} curves of {REACH / 1000:.0f} km in cells of {CELL:.0f} m")
    row("a curve, batched", each)
    row("its array operations", bare, each / bare)
    row("one solve_ivp call", solved, solved / each)
    table_input = random_input(5)
    cells = int(np.prod(build_table(table_input).status.shape))
    cell = best_of(lambda: build_table(table_input), 1) / cells
    print(f"a whole table of {cells} cells: choice of plan, cover, forward runs, all speeds")
    row("a cell", cell)
    row("one solve_ivp call", solved, solved / cell)
