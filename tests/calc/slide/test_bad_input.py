"""Input that is missing or could not be: a ValueError that says what and where."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from calc.constants import MPH
from calc.model import RailState
from calc.slide import Handling, Rail, Sand, Sander, even_rail, hold_or_go, orders_of, simulate
from calc.slide.compare import compare_brakes
from calc.slide.handlings import usual_handlings
from calc.slide.model import patch
from tests.calc.cases import line

from .units import HOLD, runs_of, unit

NAN = float("nan")
ZERO = np.zeros(1, dtype=np.int64)
FLAT = (((0.0,), (1.0,)),)


def go(train=None, road=None, rail=None, **changes):
    train = train or unit()
    runs = replace(runs_of(train, [HOLD["usual"]], [20.0]), **changes)
    return simulate(train, road or line(), rail or even_rail(0.1, 1), runs)


def base(**changes):
    own = unit()
    return replace(own, base=replace(own.base, **changes))


@pytest.mark.parametrize("speed", [NAN, -5.0, 0.0, np.inf])
def test_speed_is_refused(speed):
    with pytest.raises(ValueError, match="run 0: speed"):
        go(speed=np.array([speed]))


@pytest.mark.parametrize(
    ("train", "words"),
    [
        (base(mass=0.0), "mass"),
        (base(mass=NAN), "mass"),
        (base(length=-1.0), "below 0"),
        (base(rotating=NAN), "below 0"),
        (unit(fill_time=0.0), "fill_time"),
        (unit(empty_time=NAN), "empty_time"),
        (unit(eta=1.2), "eta"),
        (unit(undershoot=-0.1), "undershoot"),
        (unit(cleaning=2.0), "cleaning"),
        (unit(emergency=NAN), "emergency"),
        (unit(0), "wheelset"),
        (unit(sand=Sand((Sander(9, 30.0),))), "sander"),
        (unit(sand=Sand((Sander(0, NAN),))), "sand"),
        (unit(sand=Sand((Sander(0, 30.0),), gain=0.0)), "gain"),
    ],
)
def test_train_is_refused(train, words):
    with pytest.raises(ValueError, match=words):
        go(train)


@pytest.mark.parametrize(
    ("rail", "words"),
    [
        (even_rail(NAN, 1), "row 0, cell 0"),
        (even_rail(0.0, 1), "above 0"),
        (even_rail(0.1, 2), "each of 1 runs"),
        (even_rail(0.1, 1, (patch(50.0, 20.0, 0.03, 1),)), "ends before"),
        (even_rail(0.1, 1, (patch(20.0, 50.0, -0.03, 1),)), "patch 0"),
        (Rail(0.0, 10.0, np.empty((1, 0)), ZERO, FLAT, ZERO), "cells"),
        (Rail(0.0, 0.0, np.full((1, 2), 0.1), ZERO, FLAT, ZERO), "length"),
        (Rail(0.0, 10.0, np.full((1, 2), 0.1), ZERO + 3, FLAT, ZERO), "row"),
        (
            Rail(0.0, 10.0, np.full((1, 2), 0.1), ZERO, (((1.0, 0.0), (1.0, 1.0)),), ZERO),
            "rise",
        ),
        (Rail(0.0, 10.0, np.full((1, 2), 0.1), ZERO, (((), ()),), ZERO), "rise"),
    ],
)
def test_rail_is_refused(rail, words):
    with pytest.raises(ValueError, match=words):
        go(rail=rail)


def test_line_without_stretches_is_refused():
    with pytest.raises(ValueError, match="no stretch"):
        go(road=replace(line(), gradient_from=(), gradient=()))


def test_line_whose_stretches_do_not_rise_is_refused():
    with pytest.raises(ValueError, match="rise"):
        go(road=line([(0.0, 0.0), (-5.0, 0.01)]))


def test_gradient_that_is_not_known_is_refused():
    with pytest.raises(ValueError, match="known"):
        go(road=line([(0.0, NAN)]))


def test_limit_before_the_mark_and_unknown_places_are_refused():
    with pytest.raises(ValueError, match="limit lies before"):
        go(limit=np.array([10.0]))
    with pytest.raises(ValueError, match="known"):
        go(start=np.array([NAN]))
    with pytest.raises(ValueError, match="shape"):
        go(start=np.zeros(3))


def test_no_runs_at_all_are_refused():
    none = np.empty(0)
    runs = runs_of(unit(), [HOLD["usual"]], [20.0]).take(none.astype(int))
    with pytest.raises(ValueError, match="none"):
        simulate(unit(), line(), even_rail(0.1, 0), runs)


def test_steps_that_are_not_there_are_refused():
    runs = runs_of(unit(), [HOLD["usual"]], [20.0])
    for name in ("step", "slide_step", "then_step"):
        with pytest.raises(ValueError, match=name):
            go(orders=replace(runs.orders, **{name: np.array([7])}))
    with pytest.raises(ValueError, match="no step is called"):
        orders_of(Handling("odd", step="notch"), unit(), np.zeros(1))


def test_emergency_that_is_not_known_is_refused_not_guessed():
    with pytest.raises(ValueError, match="emergency brake is not known"):
        runs_of(unit(emergency=None), usual_handlings(), [20.0])


def test_hold_or_go_past_the_limit_is_refused():
    one = np.ones(1)
    with pytest.raises(ValueError, match="ahead"):
        hold_or_go(unit(), line(), even_rail(0.03, 1), 20 * one, 100 * one, 90 * one)


@pytest.mark.parametrize("speeds", [[], [NAN], [-3.0]])
def test_comparison_without_speeds_is_refused(speeds):
    with pytest.raises(ValueError, match="speeds"):
        compare_brakes(unit(), 1, [RailState("dry", 0.15, 0.05)], np.array(speeds))


def test_comparison_without_step_or_state_is_refused():
    fast = np.array([60 * MPH])
    with pytest.raises(ValueError, match="step"):
        compare_brakes(unit(), 9, [RailState("dry", 0.15, 0.05)], fast)
    with pytest.raises(ValueError, match="state"):
        compare_brakes(unit(), 1, [], fast)
