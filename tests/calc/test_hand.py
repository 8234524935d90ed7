"""A state in hand: advice driven on a rail one state worse than it was made for.

The runs are those of `otherwise`, which shares neither code nor tables with the program.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from calc.order import next_pickable
from calc.table import build_table

from .otherwise import Otherwise, approaches_of, run, usable
from .random_lines import CHAIN, random_input

SEEDS = (1, 6, 24)
WORSE = Otherwise(worse=1)


@cache
def table_of(seed: int):
    given = random_input(seed)
    given = replace(given, settings=replace(given.settings, quiet_from=2))
    return given, build_table(given)


def one_worse(seed: int, *, in_hand: bool):
    """Return the past and the state of each advice driven one state worse."""
    given, table = table_of(seed)
    pick = np.argwhere(usable(given, table) & (table.no_state_in_hand ^ in_hand))
    pick = pick[pick[:, 2] < len(given.states) - 1]
    runs = approaches_of(given, table, tuple(pick.T))
    return run(given, runs, WORSE).past, runs.state


@pytest.mark.parametrize("seed", SEEDS)
def test_a_state_in_hand_stops_before_the_limit_one_state_worse(seed):
    past, state = one_worse(seed, in_hand=True)
    print(f"{past.size} advices, worst {past.max():+.2f} m past the limit")
    assert past.size > 30
    assert past.max() <= 0.5
    assert set(state.tolist()) >= {0, 1}


def test_without_a_state_in_hand_the_limit_is_passed():
    """The proof can fail: what says that it has none does pass the limit."""
    past, _ = one_worse(SEEDS[0], in_hand=False)
    assert (past > 0.5).mean() > 0.1


@pytest.mark.parametrize("seed", SEEDS)
def test_nobody_loses_advice_for_lack_of_a_state_in_hand(seed):
    """With nothing worse to pick no plan can have one; advice is there all the same."""
    given, table = table_of(seed)
    alone = replace(given, states=tuple(replace(s, pickable=False) for s in given.states))
    plain = build_table(alone)
    assert plain.no_state_in_hand.all()
    lost = (plain.status == 0) & (table.status != 0)
    assert lost.mean() < 0.01


@pytest.mark.parametrize("seed", SEEDS)
def test_a_worse_rail_is_never_begun_later_or_heavier(seed):
    _, table = table_of(seed)
    both = (table.status[:, :, 1:] == 0) & (table.status[:, :, :-1] == 0)
    later = table.brake[:, :, 1:] < table.brake[:, :, :-1] - 1e-6
    assert not (later & both).any()
    heavier = table.step[:, :, 1:] > table.step[:, :, :-1]
    assert not (heavier & both.any(axis=-1)).any()


def test_the_last_state_to_pick_has_nothing_in_hand():
    given, table = table_of(SEEDS[0])
    assert next_pickable(given.states).tolist() == [1, 2, 3, -1, -1]
    assert table.no_state_in_hand[:, :, -2:].all()
    first_not = replace(CHAIN[1], pickable=False)
    assert next_pickable((CHAIN[0], first_not, CHAIN[2])).tolist() == [2, 2, -1]


def test_where_none_is_asked_for_nothing_changes_and_nothing_is_said():
    given = random_input(SEEDS[0])
    assert given.settings.quiet_from == -1
    table = build_table(given)
    assert not table.no_state_in_hand.any()
    _, asked = table_of(SEEDS[0])
    assert (table.step != asked.step).any(), "the control: asking does change plans here"


@cache
def plain_of(seed: int):
    given = random_input(seed)
    return build_table(given)


def marks_of(given, table):
    """Return each case's brake mark at the speed a train comes with; NaN without advice."""
    out = np.full(table.step.shape, np.nan)
    pick = tuple(np.argwhere(usable(given, table)).T)
    out[pick] = approaches_of(given, table, pick).brake
    return out


@pytest.mark.parametrize("seed", SEEDS)
def test_asking_for_one_makes_no_mark_later_no_step_heavier_and_loses_nobody(seed):
    given, asked = table_of(seed)
    plain = plain_of(seed)
    before, after = marks_of(given, plain), marks_of(given, asked)
    assert not (np.isfinite(before) & np.isnan(after)).any()
    # A card's marks are told in steps of 5 m.
    later = after < before - 5.0
    print(f"{np.isfinite(before).sum()} marks, {(after > before + 5).sum()} earlier")
    assert not later.any(), (before[later], after[later])
    both = np.isfinite(before)
    assert (asked.step[both] <= plain.step[both]).all()
    assert (after > before + 5.0).any(), "the control: it does change marks"
    assert not (asked.expect_wsp & ~plain.expect_wsp & both).any()
