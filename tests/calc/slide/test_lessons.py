"""The two lessons come out of the forward run; their order is held, not their metres."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from calc.slide import Handling
from calc.slide.lessons import Scene, first_rain
from tests.calc.cases import line

from .units import unit

SIXTEEN = unit(16, length=80.0)


@pytest.fixture(scope="module")
def lessons():
    usual, softer = first_rain(SIXTEEN, line(), Scene())
    for one in (usual, softer):
        print(
            f"{one.name}: begun {one.brake_before:.0f} m before the mark, "
            f"{one.past_mark:+.1f} m past it, {one.off_platform:.1f} m off the platform, "
            f"slid {one.slid_metres:.0f} m, step in hand: {one.step_in_hand}"
        )
    return usual, softer


def test_usual_approach_overruns_with_part_of_the_train_off_the_platform(lessons):
    usual, _ = lessons
    assert 0 < usual.off_platform < SIXTEEN.base.length
    assert usual.slid_metres > 100
    assert usual.result.applications[0] > 2, "it was fanned"
    steps = usual.result.trace.step[:, 0]
    assert steps.max() == SIXTEEN.emergency_step and steps[0] == -1
    assert not usual.step_in_hand


def test_sooner_and_softer_stops_at_the_mark_in_silence(lessons):
    usual, softer = lessons
    assert softer.brake_before > usual.brake_before
    assert -8.0 <= softer.past_mark <= 0.1
    assert softer.slid_metres == 0.0 and softer.off_platform == 0.0
    assert softer.step_in_hand and softer.result.applications[0] == 1


def test_on_dry_rail_the_usual_approach_was_right():
    """The driver of the first lesson did nothing wrong by yesterday's rail."""
    calm = replace(Scene(), wet=0.12, usual=Handling("usual"))
    usual, _ = first_rain(SIXTEEN, line(), calm)
    assert -8.0 <= usual.past_mark <= 0.1 and usual.slid_metres == 0.0


def test_outcome_follows_the_rail():
    worse, _ = first_rain(SIXTEEN, line(), replace(Scene(), wet=0.04))
    better, _ = first_rain(SIXTEEN, line(), replace(Scene(), wet=0.06))
    assert worse.past_mark > better.past_mark


def test_platform_that_ends_before_the_mark_is_refused():
    with pytest.raises(ValueError, match="platform"):
        first_rain(SIXTEEN, line(), replace(Scene(), platform_end=2_900.0))


def test_trace_serves_a_picture(lessons):
    trace = lessons[0].result.trace
    assert np.all(np.diff(trace.seconds) > 0) and np.all(np.diff(trace.front[:, 0]) >= 0)
    assert trace.sliding.shape == (trace.seconds.size, 1, 16)
