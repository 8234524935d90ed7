"""No cliffs in the packs of both demo lines: every pair of cases, and every look-up below.

Alike but for one thing, a worse case is never begun later, in a heavier step or run in
quicker, as the pack keeps it; and no speed at which a train may come below the one that
was driven takes it past its mark.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from calc.driven import advice_runs, late, past_allowed
from calc.easing import eased
from calc.forward import drive
from calc.gradient import OFF, steeper
from calc.order import in_order
from calc.result import OK
from calc.worked import as_worked, without_room

#: Look-ups that are driven for each direction.
DRIVEN = 250


def sides(values, trains, train_axis=3):
    """Yield better and worse cases of a kept column, a pair for each thing that differs."""
    yield "season", values[0], values[1]
    for worse in range(values.shape[2]):
        for better in range(worse):
            yield "rail", values[:, :, better], values[:, :, worse]
    for fewer, more in in_order(trains):
        yield "brakes", np.take(values, fewer, train_axis), np.take(values, more, train_axis)


def test_no_pair_of_a_pack_stands_the_wrong_way_about(demo):
    trains = demo.computed.halves[0].given.trains
    status = np.array(demo.table["columns"]["status"])
    brake = np.array(demo.table["columns"]["brake"], dtype=float)
    brake = np.where(status == OK, brake, np.nan)
    advised = (status == OK).any(axis=-1)
    step = np.where(advised, np.array(demo.table["columns"]["step"], dtype=float), np.nan)
    run_in = np.array(demo.table["columns"]["run_in"], dtype=float)
    run_in = np.where(advised & (run_in > 0), run_in, np.nan)
    pairs = 0
    for what, better, worse in sides(brake, trains):
        pairs += int((np.isfinite(better) & np.isfinite(worse)).any(axis=-1).sum())
        assert not (worse < better).any(), f"{what}: later"
    for what, better, worse in sides(step, trains):
        assert not (worse > better).any(), f"{what}: heavier"
    for what, better, worse in sides(run_in, trains):
        assert not (worse > better).any(), f"{what}: quicker"
    assert not (np.diff(brake, axis=-1) < 0).any(), "a higher speed is begun later"
    print(f"{pairs} pairs")
    assert pairs > 5_000


def picked(given, table, rng, *, below):
    """Draw advised approaches of stops: at the speed trains come with, or at one below."""
    stops = np.array([target.to_speed == 0 for target in given.targets])
    ready = (table.status == OK).any(axis=-1) & np.isfinite(table.approach_speed)
    ready &= stops[:, None, None, None] & ~table.nothing_added
    at = np.argwhere(ready)
    at = tuple(at[rng.permutation(len(at))[:DRIVEN]].T)
    if below:
        speed = np.array(table.approach_speed)
        speed[at] *= rng.uniform(0.3, 1.0, at[0].size)
        table = replace(table, approach_speed=speed)
    return table, at


def test_the_advice_holds_its_mark_on_a_slightly_steeper_line(demo):
    rng = np.random.default_rng(5)
    for half in demo.computed.halves:
        given = replace(half.given, settings=without_room(half.given.settings))
        table, at = picked(given, half.table, rng, below=False)
        line = steeper(given)
        past = -drive(line, advice_runs(line, table, at)).stop
        over = past - past_allowed(given)[at[0], at[3]]
        print(f"{OFF:.1%} steeper: {over.size} runs, worst {over.max():+.2f} m")
        assert over.size > 100
        assert over.max() <= 0.1


def test_below_the_speed_that_was_driven_nobody_passes_his_mark(demo):
    """Between knots too: worst brake and hand with room, as quoted without."""
    rng = np.random.default_rng(6)
    for half in demo.computed.halves:
        quoted = replace(half.given, settings=without_room(half.given.settings))
        table, at = picked(quoted, half.table, rng, below=True)
        allowed = past_allowed(quoted)[at[0], at[3]]
        room = ~table.no_room[at]
        runs = advice_runs(quoted, table, at)
        tired = as_worked(half.given)
        for given, these in ((tired, room), (quoted, ~room)):
            if these.any():
                some = runs.take(these)
                over = -drive(given, late(given, some)).stop - allowed[these]
                print(f"{over.size} runs, worst {over.max():+.2f} m")
                assert over.max() <= 0.1
        ends = drive(quoted, eased(quoted, runs))
        print(f"let go once: {ends.stop.min():+.1f} to {ends.stop.max():+.1f} m short")
        assert ends.stop.min() > -0.5
        # At walking pace above a run-in a driver judges by eye; few stand that far short: of
        # 1,000 driven one stood 37 m short, where the advice below its speed is not eased.
        assert (ends.stop > 10).mean() <= 0.02
        assert ends.stop.max() <= 50
        assert ends.applications.max() <= 2
