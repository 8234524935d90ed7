"""Usual against advised over the same rails: limits, order, and a seed that repeats."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from calc.constants import GRAVITY, MPH
from calc.driven import advice_runs
from calc.forward import drive
from calc.model import RailState, Settings, TableInput, Target
from calc.risk.bands import BANDS
from calc.risk.drive import Drawn, FieldRuns, FieldTrack, drive_over_field
from calc.risk.estimate import LABEL, estimate
from calc.risk.field import RailField
from calc.table import build_table

from ..cases import line, train

STATES = (
    RailState("dry", 0.15, 0.05),
    RailState("wet", 0.10, 0.03, cover_aim=200.0),
    RailState("damp", 0.07, 0.03, cover_aim=200.0),
    RailState("leaf", 0.04, 0.02, cover_aim=400.0),
    RailState("very low", 0.02, 0.01, cover_aim=400.0),
)
FIELDS = tuple(b.field() for b in BANDS if b.condition != "frost")
DAMP, LEAF, VERY_LOW = 2, 3, 4


@cache
def world():
    unit = train(length=80.0, rotating=0.08, resistance=(3200.0, 120.0, 6.5), mass=160_000.0)
    given = TableInput(
        line=line(-0.004),
        targets=(Target("stop", (10_000.0,), (10_040.0,)),),
        trains=(replace(unit, max_speed=60 * MPH),),
        states=STATES,
        speeds=tuple(MPH * mph for mph in range(1, 61)),
        settings=Settings(horizon=4_000.0),
    )
    given = replace(given, line=replace(given.line, limit_speed=(60 * MPH,)))
    return given, build_table(given)


@cache
def figures(state, fields=FIELDS, seed=7, runs=80, **more):
    given, table = world()
    rng = np.random.default_rng(seed)
    return estimate(given, table, (0, 0, state, 0), fields, rng, runs, **more)


def even(level):
    return tuple(RailField(level, 0.0, 100.0) for _ in STATES)


def test_the_same_seed_gives_the_same_estimate_and_it_is_labelled():
    assert figures(LEAF) == figures.__wrapped__(LEAF)
    assert figures(LEAF).label == LABEL and "not the chance" in LABEL


def test_on_an_even_good_rail_nobody_passes():
    found = figures(DAMP, even(0.3), runs=3)
    assert found.usual.past_mark.hits == found.advised.past_limit.hits == 0
    assert found.usual.past_limit.high > 0


def test_on_an_even_hopeless_rail_everybody_passes():
    found = figures(DAMP, even(0.004), runs=3)
    assert found.usual.past_limit.hits == found.advised.past_limit.hits == 3
    assert found.usual.stop_median == -np.inf


def test_sooner_and_softer_passes_less_often_on_leaf_film():
    found = figures(LEAF)
    assert found.advised.past_limit.high < found.usual.past_limit.low
    assert found.advised.past_mark.hits <= found.usual.past_mark.hits
    assert found.usual.past_limit.hits <= found.usual.past_mark.hits


def test_a_worse_level_never_shows_less_risk_over_the_same_draws():
    better = figures(LEAF, tuple(RailField(0.05, 0.4, 150.0) for _ in STATES))
    worse = figures(LEAF, tuple(RailField(0.035, 0.4, 150.0) for _ in STATES))
    assert worse.usual.past_limit.hits >= better.usual.past_limit.hits
    assert worse.advised.past_limit.hits >= better.advised.past_limit.hits


@pytest.mark.parametrize("seed", [1, 2])
def test_more_spread_about_a_level_that_holds_never_less_beyond_the_interval(seed):
    narrow = figures(DAMP, tuple(RailField(0.08, 0.2, 150.0) for _ in STATES), seed)
    wide = figures(DAMP, tuple(RailField(0.08, 0.8, 150.0) for _ in STATES), seed)
    assert wide.usual.past_limit.high >= narrow.usual.past_limit.low
    assert wide.usual.past_limit.hits > 0


def test_a_driver_who_holds_the_step_passes_no_less_often_than_one_who_reacts():
    held, reacts = figures(LEAF, react=False), figures(LEAF)
    assert held.usual.past_limit.high >= reacts.usual.past_limit.low


def test_a_field_without_spread_at_the_planned_adhesion_is_the_planned_rail():
    given, table = world()
    at = tuple(np.array([axis]) for axis in (0, 0, DAMP, 0))
    runs = advice_runs(given, table, at)
    over = FieldRuns(**vars(runs), field=np.array([0]))
    drawn = Drawn(np.zeros((1, 1000)), 5.0, 3_000.0)
    planned = tuple(RailField(state.plan, 0.0, 100.0) for state in STATES)
    ours = drive_over_field(given, over, planned, drawn)
    assert ours.stop == drive(given, runs).stop


def test_each_wheelset_stands_on_its_own_place():
    given, table = world()
    at = tuple(np.array([axis]) for axis in (0, 0, DAMP, 0))
    over = FieldRuns(**vars(advice_runs(given, table, at)), field=np.array([0]))
    values = np.where(np.arange(1000) % 2 == 0, 0.0, np.log(2.0))[None, :]
    track = FieldTrack(
        given, tuple(RailField(0.05, 1.0, 9.0) for _ in STATES), Drawn(values, 10.0, 3_000.0)
    )
    spread = np.array([[5.0, 15.0, 25.0]])
    held = track.rail(over, np.array([500.0]), np.array([0.0]), spread)
    assert held[0, 1] == pytest.approx(2 * held[0, 0]) or held[0, 0] == pytest.approx(
        2 * held[0, 1]
    )
    assert held[0, 2] == held[0, 0]
    assert held.min() == pytest.approx(given.settings.eta * GRAVITY * 0.05)


def test_a_listed_place_takes_the_worse_states_level():
    given, table = world()
    listed = replace(
        given, line=replace(given.line, listed=((9_000.0, 9_500.0, LEAF, False),))
    )
    runs = advice_runs(given, table, tuple(np.array([axis]) for axis in (0, 0, DAMP, 0)))
    over = FieldRuns(**vars(runs), field=np.array([0]))
    track = FieldTrack(listed, FIELDS, Drawn(np.zeros((1, 1000)), 5.0, 3_000.0))
    front = np.array([700.0])
    inside = track.rail(over, front, np.array([0.0]), np.array([[0.0, 500.0]]))
    assert inside[0, 0] / inside[0, 1] == pytest.approx(
        FIELDS[LEAF].level / FIELDS[DAMP].level
    )


def test_what_has_no_advice_or_no_runs_is_refused():
    given, table = world()
    rng = np.random.default_rng(1)
    with pytest.raises(ValueError, match="needs runs"):
        estimate(given, table, (0, 0, DAMP, 0), FIELDS, rng, 0)
    with pytest.raises(ValueError, match="field of its own"):
        estimate(given, table, (0, 0, DAMP, 0), FIELDS[:2], rng, 5)
    with pytest.raises(ValueError, match="no advised approach"):
        estimate(given, table_without(table), (0, 0, DAMP, 0), FIELDS, rng, 5)
    board = replace(given, targets=(replace(given.targets[0], to_speed=5.0),))
    with pytest.raises(ValueError, match="stops"):
        estimate(board, table, (0, 0, DAMP, 0), FIELDS, rng, 5)


def table_without(table):
    return replace(table, approach_speed=np.full_like(table.approach_speed, np.nan))
