"""What one ordinary error does to the advice: shares of approaches past the limit.

Run as ``python -m tests.benchmarks.forgiving [--approaches N] [--tired]``. Plans are made
for the figures in the pack, with ``--tired`` for a weak brake and a late hand; then each run
has one thing otherwise, in a simulator of its own
(`tests.calc.otherwise`). Nothing here is a test: it prints what the advice forgives.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from calc.model import TableInput
from calc.result import Table
from calc.table import build_table
from tests.calc.otherwise import (
    NEVER,
    Approaches,
    Otherwise,
    approaches_of,
    everywhere,
    promised,
    run,
    slicks_of,
    usable,
)
from tests.calc.random_lines import random_input
from webapp.packs.build import compute_route
from webapp.packs.read import read_route
from webapp.packs.service import demo_routes

#: A run this little past its limit is within what two integrators differ by [m].
SLACK = 0.5
#: Places along each approach at which a slick begins.
PLACES = 12
RANDOM_LINES = range(1, 11)
#: What a route may set to plan for the ordinary errors. Assumptions; the share of the brake
#: after the published scatter of friction (sd 10 % of the mean).
TIRED = {
    "brake_share": 0.9,
    "strongest_share": 1.1,
    "late_s": 2.0,
    "slow_s": 0.8,
    "slide_eta": 0.75,
}


@dataclass(frozen=True)
class Row:
    """One line of the table: what is otherwise, and which slick is met, if any."""

    words: str
    other: Otherwise
    slick: dict[str, float] | None = None


ONE_WORSE = Row("rail one state worse", Otherwise(worse=1))


def rows() -> list[Row]:
    """Return what is tried; slicks are as promised unless a row says otherwise."""
    weak, late = Otherwise(force=0.9, helps=True), Otherwise(late=2.0, helps=True)
    poor, slow = Otherwise(efficiency=0.75), Otherwise(slow=0.8)
    return [
        Row("as planned", Otherwise()),
        Row("as planned, slick", Otherwise(), {}),
        ONE_WORSE,
        Row("brake 0.9", weak),
        Row("brake 0.9, slick", weak, {}),
        Row("2 s late", late),
        Row("2 s late, slick", late, {}),
        Row("efficiency 0.75", poor),
        Row("efficiency 0.75, slick", poor, {}),
        Row("undershoot 30 %, slick", Otherwise(undershoot=0.3), {}),
        Row("undershoot 60 %, slick", Otherwise(undershoot=0.6), {}),
        Row("dead time + 0.8 s", slow),
        Row("dead time + 0.8 s, slick", slow, {}),
        Row("slick of 0.01", Otherwise(), {"adhesion": 0.01}),
        Row("slick of 500 m", Otherwise(), {"length": 500.0}),
        Row("a second slick 250 m on", Otherwise(), {"gap": 250.0}),
    ]


Parts = Sequence[tuple[TableInput, Table, Approaches]]


def worst_of(given: TableInput, runs: Approaches, row: Row) -> tuple[np.ndarray, np.ndarray]:
    """Return how far past the limit each approach stood at worst, and its speed there."""
    if row.slick is None:
        ends = run(given, runs, row.other)
        return ends.past, ends.speed
    many, whose, onset = everywhere(runs, PLACES)
    able = promised(many)
    past, speed = np.full(runs.speed.size, -np.inf), np.zeros(runs.speed.size)
    if not able.any():
        return past, speed
    many, whose, onset = many.take(able), whose[able], onset[able]
    ends = run(given, many, row.other, slicks_of(given, many, onset, **row.slick))
    np.maximum.at(past, whose, ends.past)
    np.maximum.at(speed, whose, ends.speed)
    return past, speed


def sampled(
    given: TableInput, table: Table, rng: np.random.Generator, count: int, states: int
):
    """Return some advised approaches of one direction, in states a driver may pick."""
    pick = np.argwhere(usable(given, table)[:, :, :states])
    pick = pick[rng.permutation(len(pick))[:count]]
    return approaches_of(given, table, tuple(pick.T))


def every_whole_train(given: TableInput, table: Table, state: int) -> Approaches:
    """Return all advised approaches of one rail state with no brake isolated."""
    good = usable(given, table)
    good &= np.array([train.isolated_share == 0 for train in given.trains])
    pick = np.argwhere(good)
    return approaches_of(given, table, tuple(pick[pick[:, 2] == state].T))


def with_hand(parts: Parts) -> Parts:
    """Keep the approaches that claim a state in hand."""
    return [(given, table, runs.take(~bare(table, runs))) for given, table, runs in parts]


def bare(table: Table, runs: Approaches) -> np.ndarray:
    """Tell which advices say that they have no state in hand."""
    none = getattr(table, "no_state_in_hand", np.ones(table.step.shape, dtype=bool))
    return none[runs.target, runs.season, runs.state, runs.train]


def line_of(words: str, parts: Parts, row: Row) -> str:
    found = [worst_of(given, runs, row) for given, _, runs in parts if runs.speed.size]
    if not found:
        return f"  {words:28}      none"
    past = np.concatenate([one for one, _ in found])
    speed = np.concatenate([one for _, one in found])
    over = past > SLACK
    worst = float(past.max())
    far = "never stops" if worst >= NEVER else f"{max(worst, 0.0):6.0f} m"
    return (
        f"  {words:28}{over.mean():7.1%} of {over.size:<4}{far:>12}"
        f"{speed[over].max(initial=0.0) * 3.6:6.0f} km/h"
    )


def print_table(name: str, tables: Sequence[tuple[TableInput, Table]], count: int) -> None:
    """Print the shares past the limit for sampled approaches, then one state worse."""
    rng = np.random.default_rng(14)
    each = [count // len(tables) + (i < count % len(tables)) for i in range(len(tables))]
    parts = [
        (given, table, sampled(given, table, rng, some, pickable(given)))
        for (given, table), some in zip(tables, each, strict=True)
    ]
    print(f"{name}: {count} approaches; past the limit, worst, speed at the limit")
    for row in rows():
        print(line_of(row.words, parts, row), flush=True)
        if row == ONE_WORSE:
            print(line_of("  with a state in hand", with_hand(parts), row), flush=True)
    print(f"{name}: every whole train, rail one state worse, no slick")
    for state, rail in enumerate(tables[0][0].states[: pickable(tables[0][0])]):
        every = [(g, t, every_whole_train(g, t, state)) for g, t in tables]
        print(line_of(rail.key, every, ONE_WORSE), flush=True)
        print(line_of(f"{rail.key}, a state in hand", with_hand(every), ONE_WORSE), flush=True)
    print_cost(name, tables)


def pickable(given: TableInput) -> int:
    """Return how many states a driver may pick: all but the last of the chain."""
    return len(given.states) - 1


def print_cost(name: str, tables: Sequence[tuple[TableInput, Table]]) -> None:
    """Print seconds a stop, and what the plans are, by rail state."""
    print(f"{name}: seconds a stop at the speed a train comes with, whole trains")
    given = tables[0][0]
    whole = np.array([train.isolated_share == 0 for train in given.trains])
    for state, each in enumerate(given.states):
        lost, none, asked, wsp, bare = [], 0, 0, 0, 0
        for one, table in tables:
            stops = np.array([target.to_speed == 0 for target in one.targets])
            marks = np.isfinite([target.mark for target in one.targets])
            wanted = (stops[:, None] & marks & whole)[:, None] & np.ones((1, 2, 1), dtype=bool)
            good = usable(one, table)[:, :, state] & wanted
            asked, none = asked + int(wanted.sum()), none + int((wanted & ~good).sum())
            wsp += int((table.expect_wsp[:, :, state] & good).sum())
            flag = getattr(table, "no_state_in_hand", np.zeros(table.step.shape, dtype=bool))
            bare += int((flag[:, :, state] & good).sum())
            for cell in np.argwhere(good):
                at = (cell[0], cell[1], state, cell[2])
                pace = np.searchsorted(one.speeds, table.approach_speed[at] - 1e-9)
                lost.append(table.seconds[(*at, min(pace, len(one.speeds) - 1))])
        mean = float(np.nanmean(lost)) if lost else float("nan")
        print(
            f"  {each.key:12}{mean:7.1f} s   of {asked}: no advice {none}, "
            f"expect WSP {wsp}, no state in hand {bare}"
        )


def with_room(given: TableInput, *, tired: bool) -> TableInput:
    """Ask for a state in hand from damp on, and for a tired brake if told."""
    names = {"late_s": "late", "slow_s": "slow"}
    room = {names.get(name, name): value for name, value in TIRED.items()} if tired else {}
    return replace(given, settings=replace(given.settings, quiet_from=2, **room))


def main() -> None:
    """Print the tables of both demo packs and of random lines."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--approaches", type=int, default=30, help="sampled from each pack")
    ask.add_argument("--random", type=int, default=300, help="sampled from random lines")
    ask.add_argument("--tired", action="store_true", help="plan for a weak brake, late hand")
    told = ask.parse_args()
    room = TIRED if told.tired else {}
    for key, folder in demo_routes().items():
        route = read_route(folder)
        computed = compute_route(replace(route, physics=replace(route.physics, **room)))
        halves = [(half.given, half.table) for half in computed.halves]
        print_table(key, halves, told.approaches)
    inputs = [with_room(random_input(seed), tired=told.tired) for seed in RANDOM_LINES]
    print_table("random", [(given, build_table(given)) for given in inputs], told.random)


if __name__ == "__main__":
    main()
