"""Cover is a promise: slicks laid anywhere, trains driven forward, the limit not passed.

The forward runs are those of `calc.forward`, which share neither grid nor cell means
with the ceilings; some are driven again in plain Python (`road`).
"""

from __future__ import annotations

from dataclasses import fields, replace
from functools import cache

import numpy as np
import pytest

from calc.driven import advice_runs
from calc.forward import Runs, drive
from calc.margins import brake_distance_out, cover_down
from calc.table import build_table

from .otherwise import Otherwise, approaches_of, run, usable
from .random_lines import random_input
from .road import Drive, stop_of

SEEDS = (1, 6, 12, 24)
RUNS = 600


@cache
def table_of(seed: int):
    given = random_input(seed)
    return given, build_table(given)


def slippery(given, runs: Runs, onset, length) -> Runs:
    """The same runs with a slick that begins ``onset`` before the mark."""
    slick = np.array([state.slick for state in given.states])[runs.state]
    react = np.ones(slick.shape, dtype=bool)
    return replace(runs, slick_from=onset, slick_to=onset - length, slick=slick, react=react)


def lengths_to_try(rng, cover, onset):
    """Cover itself and shorter, at times much shorter; where it has no end, past the limit."""
    endless = np.isinf(cover)
    most = np.where(endless, onset + 100.0, cover_down(np.where(endless, 0.0, cover)))
    return most * rng.choice([1.0, 1.0, 0.8, 0.5, 0.2], most.size)


def runs_at_any_speed(given, table, rng) -> Runs:
    """Advices as shown, at any speed up to the approach speed, slicks from anywhere."""
    speeds = np.asarray(given.speeds)
    usable = (table.status == 0) & (np.nan_to_num(table.cover, posinf=1e9) >= 10)
    usable &= speeds <= table.approach_speed[..., None]
    pick = rng.permutation(np.argwhere(usable))[:RUNS]
    at, knot = tuple(pick[:, :4].T), pick[:, 4]
    speed = np.full(table.approach_speed.shape, np.nan)
    runs = []
    for k in np.unique(knot):
        mine = tuple(axis[knot == k] for axis in at)
        speed[mine] = speeds[k]
        runs.append(advice_runs(given, replace(table, approach_speed=speed.copy()), mine))
    runs = Runs(
        **{f.name: np.concatenate([getattr(r, f.name) for r in runs]) for f in fields(Runs)}
    )
    runs = replace(runs, brake=brake_distance_out(runs.brake))
    knot = np.searchsorted(speeds, runs.speed - 1e-9)
    cover = table.cover[runs.target, runs.season, runs.state, runs.train, knot]
    onset = rng.uniform(-30.0, runs.brake + 400.0)
    near = rng.uniform(-30.0, 250.0, onset.size)
    onset = np.where(rng.random(onset.size) < 0.3, near, onset)
    return slippery(given, runs, onset, lengths_to_try(rng, cover, onset))


def runs_by_onset(given, table, rng) -> Runs:
    """Advices from the approach speed, each slick as long as covered where it begins."""
    usable = np.isfinite(table.approach_speed) & (table.status == 0).any(axis=-1)
    usable &= ~np.isnan(table.cover_by_onset[..., 0])
    pick = np.argwhere(usable)
    at = tuple(pick[rng.integers(0, len(pick), RUNS)].T)
    runs = advice_runs(given, table, at)
    curve = table.advised[at]
    on_curve = np.isfinite(curve) & (curve < runs.speed[:, None] - 0.05)
    last = on_curve.sum(axis=1) - 1
    node = rng.integers(0, np.maximum(last, 0) + 1)
    cover, onset = table.cover_by_onset[(*at, node)], table.nodes[node]
    runs = replace(runs, brake=brake_distance_out(runs.brake))
    return slippery(given, runs, onset, lengths_to_try(rng, cover, onset))


def past_limit(given, runs: Runs, stood):
    mark = np.array([target.mark for target in given.targets])[runs.target, runs.train]
    limit = np.array([target.limit for target in given.targets])[runs.target, runs.train]
    return np.where(np.isfinite(stood), -(limit - mark) - stood, np.inf)


@pytest.mark.parametrize("make", [runs_at_any_speed, runs_by_onset])
@pytest.mark.parametrize("seed", SEEDS)
def test_no_covered_slick_carries_a_train_past_the_limit(seed, make):
    given, table = table_of(seed)
    runs = make(given, table, np.random.default_rng(100 + seed))
    assert runs.speed.size >= 500
    outcome = drive(given, runs)
    past = past_limit(given, runs, outcome.stop)
    worst = int(np.argmax(past))
    slid = int(outcome.slid.sum())
    print(f"{past.size} runs, {slid} slid, worst {past[worst]:+.2f} m past the limit")
    assert slid > 100, "the slicks hardly matter: this proves nothing"
    assert past[worst] <= 0.1, {f.name: getattr(runs, f.name)[worst] for f in fields(runs)}


def test_a_longer_slick_than_covered_can_carry_a_train_past_the_limit():
    """The proof can fail: three times the cover does pass the limit, at least once."""
    given, table = table_of(SEEDS[0])
    runs = runs_by_onset(given, table, np.random.default_rng(7))
    longer = replace(runs, slick_to=runs.slick_from - 3 * (runs.slick_from - runs.slick_to))
    assert (past_limit(given, longer, drive(given, longer).stop) > 0.1).any()


@pytest.mark.parametrize("seed", SEEDS[:2])
def test_forward_runs_agree_with_a_plain_python_drive(seed):
    """Within 1.5 m of where the train stood: ticks of 0.1 s against 0.04 s."""
    given, table = table_of(seed)
    runs = runs_at_any_speed(given, table, np.random.default_rng(seed)).take(
        np.arange(0, 600, 60)
    )
    theirs = drive(given, runs)
    for i in range(runs.speed.size):
        mine = {f.name: getattr(runs, f.name)[i].item() for f in fields(runs)}
        stood, slid = stop_of(Drive(given, **mine))
        assert stood == pytest.approx(theirs.stop[i], abs=1.5), mine
        assert slid == theirs.slid[i], mine


@pytest.mark.parametrize("seed", SEEDS)
def test_each_advice_stops_at_its_mark_with_two_applications_at_most(seed):
    given, table = table_of(seed)
    usable = np.isfinite(table.approach_speed) & (table.status == 0).any(axis=-1)
    runs = advice_runs(given, table, tuple(np.argwhere(usable).T))
    outcome = drive(given, runs)
    assert runs.speed.size > 30
    assert outcome.applications.max() <= 2
    assert -2.0 <= outcome.stop.min()
    assert past_limit(given, runs, outcome.stop).max() <= 0.1
    # What begins sooner for a fall 0.1 % steeper stands short on the line as it is, if the
    # driver never lets go: a step that slows by 0.15 m/s2 by 7 % of its way, a run-in by more.
    assert ((outcome.stop - 8.0) / runs.brake).max() <= 0.2


@pytest.mark.parametrize("seed", SEEDS[1:3])
def test_a_limit_at_the_mark_itself_is_held_in_another_simulator(seed):
    given = random_input(seed)
    at_mark = tuple(replace(target, limit=target.mark) for target in given.targets)
    given = replace(given, targets=at_mark)
    table = build_table(given)
    runs = approaches_of(given, table, tuple(np.argwhere(usable(given, table)).T))
    past = run(given, runs, Otherwise()).past
    print(f"{past.size} runs, worst {past.max():+.2f} m past the limit")
    assert past.size > 30
    assert past.max() <= 0.2
    later = replace(runs, brake=runs.brake - 10.0)
    assert run(given, later, Otherwise()).past.max() > 0.2, "the control: 10 m later is seen"
