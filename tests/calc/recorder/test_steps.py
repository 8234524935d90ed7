"""Dry brake tests read back: what is achieved, by closed forms, and what is no test."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from calc.constants import GRAVITY, KMH
from calc.recorder import Trace
from calc.recorder.steps import Pressure, brake_tests, step_figures
from tests.calc import cases

RATES = (0.3, 0.6, 0.9)


def dry_test(
    share=1.0, dead=0.4, ramp=0.5, speed=25.0, step=2, interval=1.0, grade=0.0, begin=10.3
) -> Trace:
    """Speeds by the textbook: dead time, a straight build-up, a steady rate to the stand."""
    rate = share * RATES[step - 1]
    rise = RATES[step - 1] / ramp
    fall = rate + GRAVITY * grade
    time = np.arange(0.0, begin + dead + rise + speed / fall + 4.0, interval)
    since = time - begin - dead
    part = np.clip(since, 0.0, rise)
    lost = rate * part**2 / (2 * rise) + rate * np.maximum(since - rise, 0.0)
    lost = lost + GRAVITY * grade * np.maximum(time - begin, 0.0)
    return Trace(
        time=time,
        speed=np.maximum(speed - lost, 0.0),
        step=np.where(time >= begin, step, 0),
        wsp=np.zeros(time.size, dtype=bool),
        place=np.full(time.size, np.nan),
    )


def shown(trace: Trace) -> Trace:
    """As a display shows it, in whole 0.1 km/h."""
    return replace(trace, speed=np.round(trace.speed / (0.1 * KMH)) * 0.1 * KMH)


def the_test(trace, gradient=0.0, **options):
    tests, left = brake_tests(trace, cases.train(RATES), cases.line(gradient), **options)
    assert left == []
    (test,) = tests
    return test


@pytest.mark.parametrize("share", [0.8, 0.93, 1.0, 1.1])
@pytest.mark.parametrize("step", [1, 2, 3])
def test_share_of_the_quoted_rate_is_read_back(share, step):
    test = the_test(shown(dry_test(share, step=step)))
    assert test.step == step - 1
    assert test.share == pytest.approx(share, abs=0.006)
    assert abs(test.share - share) < 2 * test.share_spread


@pytest.mark.parametrize(("dead", "ramp"), [(0.2, 0.8), (0.4, 0.5), (0.6, 0.35), (1.2, 0.3)])
def test_build_up_is_read_back_to_a_part_of_a_second(dead, ramp):
    """1 Hz: where between two rows the handle moved is not known."""
    exact = dead + 0.6 / ramp / 2
    slow = the_test(dry_test(dead=dead, ramp=ramp))
    quick = the_test(dry_test(dead=dead, ramp=ramp, interval=0.1, begin=10.0))
    assert slow.wait == pytest.approx(exact, abs=0.55)
    assert abs(slow.wait - exact) < 2 * slow.wait_spread
    assert quick.wait == pytest.approx(exact, abs=0.08)


@pytest.mark.parametrize("grade", [-1 / 75, 1 / 100])
def test_gradient_is_taken_out(grade):
    assert the_test(dry_test(0.9, grade=grade), grade).share == pytest.approx(0.9, abs=0.01)


def test_a_gradient_that_is_not_known_is_read_as_brake():
    """The test above can fail: without the line's fall the brake looks weaker."""
    assert the_test(dry_test(0.9, grade=-1 / 75)).share < 0.72


def test_pressure_tells_dead_time_from_rise():
    trace = dry_test(interval=0.1, begin=10.0, dead=0.7, ramp=0.4)
    bar = 3.6 * np.clip((trace.time - 10.7) / 1.5, 0.0, 1.0) + 0.1
    test = the_test(trace, pressure=Pressure(bar))
    assert test.dead == pytest.approx(0.7, abs=0.1)
    assert test.rise == pytest.approx(1.5, abs=0.1)
    assert np.isnan(the_test(trace).dead)


def no_test(**columns) -> str:
    trace = dry_test()
    train = cases.train(RATES)
    tests, left = brake_tests(replace(trace, **columns), train, cases.line())
    assert tests == []
    return left[0].why


def test_what_is_no_dry_test_is_left_out_with_its_reason():
    trace = dry_test()
    on = trace.step > 0
    assert "not dry" in no_test(wsp=on & (trace.time < 20.0))
    assert "emergency" in no_test(step=np.where(on, 99, 0))
    assert "below 5 m/s" in no_test(speed=np.minimum(trace.speed, 4.0))
    assert "less than 6 s" in no_test(step=np.where(on & (trace.time < 14.0), 2, 0))
    eased = np.where(trace.time < 16.0, trace.step, np.where(on, 1, 0))
    tests, left = brake_tests(replace(trace, step=eased), cases.train(RATES), cases.line())
    assert "not taken from brake off" in left[-1].why
    assert len(tests) + len(left) == 2


def test_tests_of_a_step_stand_together_with_an_interval():
    shares = (0.90, 0.95, 0.93, 0.94)
    tests = [the_test(shown(dry_test(share))) for share in shares]
    tests.append(the_test(dry_test(1.0, step=1)))
    light, heavy = step_figures(tests, cases.train(RATES))
    assert (light.step, light.tests, heavy.step, heavy.tests) == (0, 1, 1, 4)
    assert heavy.share.mean == pytest.approx(0.93, abs=0.006)
    assert heavy.share.low < 0.91 and heavy.share.high > 0.95
    assert heavy.assumed_wait == pytest.approx(0.4 + 0.6 / 0.5 / 2)
    assert light.share.low < 1.0 < light.share.high
