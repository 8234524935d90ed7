"""The cover promise in the fuller model: advice of the table, driven wheelset by wheelset.

Cover is worked out for straight build-up and one slick, with service braking. Here the
cylinders are first order, each wheelset has its own WSP and its own rail. How many runs:
``--cover-runs`` (for each of two ways to lay slicks and each random line).

Measured with ``--cover-runs 1300``: of 5,200 runs 3,540 slid and none passed its limit,
the nearest stood 0.64 m short. With cylinders that lose in filling the lightest step
just what the table's line loses, one of 5,200 stood 0.17 m past (at 6 m/s, 20 m of
slick): an exponential takes longer over the small gap that a slick leaves. Left out of
the promise, with slicks at the very edge of what is covered: a second slick of the same
length 50 m on carries 17 % past the limit (worst 220 to 230 m), 200 m on 6 to 7 % (117 to
134 m); WSP undershoot of 20 % carries 0.3 to 6 % past (3 to 84 m, the slower the
cylinders the more), of 50 % 18 to 28 % (330 to 350 m).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.calc.test_cover import SEEDS, runs_at_any_speed, runs_by_onset, table_of

from .advice import Harder, drive_fully, joined

WAYS = (runs_at_any_speed, runs_by_onset)


def some_runs(seed: int, make, count: int):
    given, table = table_of(seed)
    parts, made, again = [], 0, 0
    while made < count:
        parts.append(
            make(given, table, np.random.default_rng([seed, again, len(make.__name__)]))
        )
        made, again = made + parts[-1].speed.size, again + 1
    return given, joined(parts).take(np.arange(count))


@pytest.fixture
def cover_runs(request) -> int:
    return request.config.getoption("--cover-runs")


@pytest.mark.parametrize("make", WAYS)
@pytest.mark.parametrize("seed", SEEDS[:2])
def test_no_covered_slick_carries_a_train_past_the_limit(seed, make, cover_runs):
    given, runs = some_runs(seed, make, cover_runs)
    before, past, slid = drive_fully(given, runs)
    worst = int(np.argmax(past))
    kinds = {given.trains[t].length for t in np.unique(runs.train)}
    print(
        f"{past.size} runs, {int(slid.sum())} slid, worst {past[worst]:+.2f} m past the limit"
    )
    assert slid.sum() > cover_runs / 20, "the slicks hardly matter: this proves nothing"
    assert kinds == {0.0, 100.0, 240.0}
    assert np.all(np.isfinite(before))
    assert past[worst] <= 0.1, runs.take(np.array([worst]))


def test_the_proof_can_fail():
    """Slicks four times as long as covered do carry a train past its limit."""
    given, runs = some_runs(SEEDS[0], runs_by_onset, 200)
    longer = replace(runs, slick_to=runs.slick_from - 4 * (runs.slick_from - runs.slick_to))
    assert (drive_fully(given, longer)[1] > 0.1).any()


#: What the promise leaves out, as it was measured; the share that may go past its limit
#: is a bound that a worse model would break.
LEFT_OUT = {
    "a second slick of the same length, 50 m on": Harder(second_after=50.0),
    "a second slick of the same length, 200 m on": Harder(second_after=200.0),
    "WSP undershoot of 20 %": Harder(undershoot=0.2),
    "WSP undershoot of 50 %": Harder(undershoot=0.5),
    "cylinders that lose in filling what the table's line loses": Harder(slower=2.0),
    "cylinders that lose twice that": Harder(slower=4.0),
}


@pytest.mark.parametrize("what", LEFT_OUT)
def test_what_the_promise_leaves_out_is_measured(what, cover_runs):
    given, runs = some_runs(SEEDS[0], runs_by_onset, cover_runs)
    past = drive_fully(given, runs, LEFT_OUT[what])[1]
    over = past > 0.1
    far = past[over & np.isfinite(past)]
    print(
        f"{what}: {100 * over.mean():.1f} % past the limit, "
        f"worst {far.max(initial=0.0):.0f} m, never standing {int(np.isinf(past).sum())}"
    )
    assert over.mean() < 0.5
