"""The feel of the brake: by hand, its limits, and the words that go with a weak test."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calc.constants import GRAVITY
from calc.feel.brake_feel import (
    BASIS,
    NO_TEST,
    QUICK,
    WEAK,
    WITHIN,
    Tolerances,
    feel_table,
    verdict,
)
from calc.feel.changeover import Handover, changeover
from calc.feel.coast import Condition, as_written, seconds_taken

from .cases import line, train

RATE = 0.03 * GRAVITY
AS_BUILT = Condition("as built")
EXACT = Tolerances(*([0.0] * 9))


def seconds(unit, gradient=0.0, first=25.0, last=20.0, condition=AS_BUILT):
    way = as_written(first, last).many(1)
    return float(seconds_taken(unit, condition, 0, line(gradient), 0.0, way)[0])


def row(unit=None, gradient=0.0, condition=AS_BUILT, tolerances=None):
    unit = unit or train()
    return feel_table([unit], [condition], line(gradient), 0.0, 25.0, 20.0, 0, tolerances)[0]


def test_on_the_level_it_is_dead_time_half_the_build_up_and_speed_over_rate():
    by_hand = 0.4 + 0.5 * RATE / 0.5 + 5.0 / RATE
    assert seconds(train()) == pytest.approx(by_hand, abs=0.005)


def test_with_resistance_a_quoted_rate_is_still_what_the_train_does_on_the_level():
    heavy = train(rotating=0.08, resistance=(3000.0, 110.0, 7.0), ramp=50.0, dead_time=0.0)
    assert seconds(heavy) == pytest.approx(5.0 / RATE, abs=0.01)


def test_a_gradient_adds_g_times_i_over_one_plus_rotating():
    unit = train(rotating=0.08, ramp=50.0, dead_time=0.0)
    falling = seconds(unit, gradient=-1 / 75)
    assert falling == pytest.approx(5.0 / (RATE - GRAVITY / 75 / 1.08), rel=0.002)


def test_a_quarter_of_the_brakes_isolated_takes_a_third_longer():
    unit = train(ramp=50.0, dead_time=0.0)
    whole, three = seconds(unit), seconds(unit, condition=Condition("3 of 4", 0.25))
    assert three / whole == pytest.approx(4 / 3, rel=0.002)


def test_load_counts_only_where_the_brake_does_not_follow_it():
    unit = train(ramp=50.0, dead_time=0.0)
    weighed = Condition("full", load=1.3)
    fixed = Condition("full", load=1.3, load_weighed=False)
    assert seconds(unit, condition=weighed) == pytest.approx(seconds(unit), rel=0.002)
    assert seconds(unit, condition=fixed) == pytest.approx(1.3 * seconds(unit), rel=0.002)


def test_the_gradient_is_averaged_over_the_train():
    step_in_line = [(-20_000.0, 0.0), (200.0, -0.02)]
    long, point = train(length=240.0), train()
    assert seconds(long, gradient=step_in_line) < seconds(point, gradient=step_in_line)


def test_without_tolerances_the_band_is_a_point():
    exact = row(tolerances=EXACT)
    assert exact.quick == exact.expected == exact.slow
    assert exact.least_loss == pytest.approx(0.02)


def test_the_band_holds_the_expected_and_every_tolerance_widens_it():
    exact = row(tolerances=EXACT)
    for name in vars(Tolerances()):
        wider = row(tolerances=replace(EXACT, **{name: getattr(Tolerances(), name)}))
        if name == "resistance":  # this train has none
            continue
        assert wider.quick < exact.expected < wider.slow, name
    assert set(BASIS) == set(vars(Tolerances()))


def test_a_train_with_half_its_brakes_gone_comes_out_weak():
    whole = row()
    half = row(condition=Condition("half", 0.5))
    assert verdict(whole, half.expected) == WEAK
    assert verdict(whole, whole.expected) == WITHIN
    assert verdict(whole, 0.3 * whole.quick) == QUICK
    assert 0.05 < whole.least_loss < 0.4


def test_the_words_of_a_weak_test_are_exact():
    assert WEAK == (
        "Weaker than it should be. Treat as a brake problem: local instructions, signaller."
    )


def test_a_loss_that_shows_is_weak_and_a_smaller_one_is_not():
    whole = row()
    shown = row(
        replace(train(), isolated_share=0.0), condition=Condition("x", whole.least_loss)
    )
    hidden = row(condition=Condition("x", whole.least_loss - 0.04))
    assert verdict(whole, shown.expected) == WEAK
    assert verdict(whole, hidden.expected) == WITHIN


def test_where_step_one_cannot_hold_the_train_there_is_no_test():
    steep = row(gradient=-1 / 30)
    assert steep.expected == np.inf and np.isnan(steep.least_loss)
    assert verdict(steep, 20.0) == NO_TEST


@settings(max_examples=12, deadline=None)
@given(st.floats(-0.015, 0.02), st.floats(0.0, 0.6), st.floats(0.0, 0.3))
def test_steeper_or_weaker_never_takes_less_time(gradient, isolated, more):
    unit = train(rotating=0.07, resistance=(3000.0, 110.0, 7.0))
    here = seconds(unit, gradient, condition=Condition("a", isolated))
    assert seconds(unit, gradient - 0.002, condition=Condition("a", isolated)) >= here
    assert seconds(unit, gradient, condition=Condition("a", isolated + more)) >= here - 1e-9


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"trains": []}, "at least one train"),
        ({"conditions": []}, "at least one"),
        ({"first": 20.0, "last": 25.0}, "speeds must fall"),
        ({"last": -1.0}, "none below 0"),
        ({"first": float("nan")}, "speeds must fall"),
        ({"start": float("nan")}, "must be known"),
        ({"step": 7}, "no step 7"),
        ({"trains": [replace(train(), mass=0.0)]}, "mass"),
        ({"trains": [replace(train(), dead_time=float("nan"))]}, "missing or below 0"),
        ({"line": line(float("nan"))}, "gradient"),
        ({"conditions": [Condition("x", 1.0)]}, "isolated share"),
        ({"conditions": [Condition("x", load=0.0)]}, "load"),
        ({"tolerances": Tolerances(gradient=float("nan"))}, "tolerance gradient"),
        ({"first": 70.0}, "top speed"),
    ],
)
def test_what_cannot_be_is_refused_in_words(change, words):
    asked = {
        "trains": [train()],
        "conditions": [AS_BUILT],
        "line": line(),
        "start": 0.0,
        "first": 25.0,
        "last": 20.0,
    }
    with pytest.raises(ValueError, match=words):
        feel_table(**(asked | change))


@pytest.mark.parametrize("taken", [0.0, -3.0, float("nan"), float("inf")])
def test_seconds_that_cannot_be_give_no_verdict(taken):
    with pytest.raises(ValueError, match="seconds"):
        verdict(row(), taken)


def test_half_the_axles_ask_twice_the_grip():
    electric = train(wheelset_share=0.5)
    felt = changeover(electric, 0, 25.0, 0.05, eta=1.0)
    assert felt.electric_demand == pytest.approx(0.06)
    assert felt.friction_demand == pytest.approx(0.03)
    assert felt.slides and felt.before == pytest.approx(0.025 * GRAVITY)


def test_friction_on_all_wheelsets_bites_harder_than_electric_slid():
    felt = changeover(train(wheelset_share=0.5, rotating=0.08), 0, 25.0, 0.05)
    assert felt.lowest < felt.before < felt.after
    assert felt.jump == pytest.approx(felt.after - felt.lowest)
    assert felt.after == pytest.approx(RATE)
    assert 0.6 < felt.seconds < 3.0 and felt.speed_kept > 0


def test_without_a_gap_there_is_no_low_point():
    felt = changeover(
        train(wheelset_share=0.5, ramp=500.0), 0, 25.0, 0.05, handover=Handover(1.0, 0.0)
    )
    assert felt.lowest >= felt.before - 1e-9


def test_on_good_rail_electric_does_not_slide():
    felt = changeover(train(wheelset_share=0.5), 0, 25.0, 0.15)
    assert not felt.slides and felt.before == pytest.approx(RATE)


@pytest.mark.parametrize(
    "asked",
    [
        {"adhesion": 0.0},
        {"adhesion": float("nan")},
        {"speed": -1.0},
        {"gradient": float("nan")},
        {"eta": 1.5},
        {"step": 9},
    ],
)
def test_an_impossible_changeover_is_refused(asked):
    with pytest.raises(ValueError, match=r"must be|no step"):
        changeover(train(), **({"step": 0, "speed": 20.0, "adhesion": 0.1} | asked))
