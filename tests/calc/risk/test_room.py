"""Room against ordinary errors: drawn as stated, driven on the quoted train, counted."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest

from calc.risk.errors import BRAKES, Drawn, Errors, assumptions, brakes, draw
from calc.risk.room import advised, margins, shares, spent, stood, with_brakes
from calc.table import build_table
from tests.calc.otherwise import Otherwise, approaches_of, run
from tests.calc.random_lines import random_input

NO_ERRORS = Errors(one_worse=0, one_better=0, brake_spread=0, hand_spread=0, patch_share=0)
RUNS = 400


@pytest.fixture(scope="module")
def line():
    given = random_input(6)
    return given, build_table(given)


def cases_of(given, table, count: int, states: int | None = None):
    pick = np.argwhere(advised(given, table)[:, :, :states])
    return tuple(pick[np.random.default_rng(3).integers(0, len(pick), count)].T)


def test_errors_are_drawn_as_they_are_stated():
    told, many = Errors(), 40_000
    drawn = draw(told, np.random.default_rng(1), many)
    assert np.mean(drawn.worse == 1) == pytest.approx(told.one_worse, abs=0.01)
    assert np.mean(drawn.worse == -1) == pytest.approx(told.one_better, abs=0.01)
    assert drawn.late.std() == pytest.approx(told.hand_spread, rel=0.02)
    assert abs(drawn.late.mean()) < 0.03
    assert drawn.patch.mean() == pytest.approx(told.patch_share, abs=0.01)
    assert np.median(drawn.length) == pytest.approx(told.patch_length, rel=0.03)
    assert np.log(drawn.length).std() == pytest.approx(told.patch_length_spread, rel=0.02)
    assert np.log(drawn.adhesion).std() == pytest.approx(told.patch_adhesion_spread, rel=0.02)
    forces = np.array(brakes(told))[drawn.brake]
    assert forces.mean() == pytest.approx(1.0, abs=0.003)
    assert forces.std() == pytest.approx(told.brake_spread, rel=0.1), "nine of equal share"
    again = draw(told, np.random.default_rng(1), many)
    assert all(
        np.array_equal(getattr(drawn, f.name), getattr(again, f.name)) for f in fields(Drawn)
    )


@pytest.mark.parametrize(("runs", "told"), [(0, Errors()), (5, Errors(0.8, 0.3))])
def test_what_cannot_be_drawn_is_refused(runs, told):
    with pytest.raises(ValueError, match="drawn"):
        draw(told, np.random.default_rng(1), runs)


def test_every_figure_of_the_errors_is_listed():
    listed = " ".join(value for _, value, _ in assumptions(Errors(0.21, 0.11)))
    assert "21%" in listed and "11%" in listed
    assert len(assumptions()) == len(fields(Errors)) - 1, "two figures of length in one row"


def test_without_errors_every_advice_stands_at_its_mark(line):
    given, table = line
    cases = cases_of(given, table, RUNS)
    drawn = draw(NO_ERRORS, np.random.default_rng(2), RUNS)
    past = stood(given, [table], cases, drawn, replace(NO_ERRORS, notices=50.0))[0]
    found = shares(past, margins(given, cases))
    assert (found.past_mark.hits, found.past_limit.hits) == (0, 0)


@pytest.mark.parametrize(
    "error", [{"brake_spread": 0.2}, {"hand_spread": 4.0}, {"one_worse": 1.0, "one_better": 0}]
)
def test_each_error_alone_takes_more_past_the_mark(line, error):
    given, table = line
    cases = cases_of(given, table, RUNS, 4)
    told = replace(NO_ERRORS, **error)
    drawn = draw(told, np.random.default_rng(2), RUNS)
    found = shares(stood(given, [table], cases, drawn, told)[0], margins(given, cases))
    assert found.past_mark.hits > 0
    assert found.past_mark.hits >= found.past_limit.hits
    assert found.past_limit.low <= found.past_limit.share <= found.past_limit.high


def test_runs_stand_where_a_simulator_of_its_own_has_them(line):
    """Late and weak with a driver who adds the highest step, one state worse: two ways."""
    given, table = line
    cases = cases_of(given, table, 200, 4)
    late, worse = 1.5, 1
    drawn = draw(NO_ERRORS, np.random.default_rng(2), 200)
    drawn = replace(drawn, late=np.full(200, late), worse=np.full(200, worse))
    mine = stood(given, [table], cases, drawn, replace(NO_ERRORS, notices=50.0))[0]
    runs = approaches_of(given, table, cases)
    theirs = run(given, runs, Otherwise(worse=worse, late=late)).past
    # The other simulator begins where a card says, up to 5 m sooner; a slide spreads that.
    near = np.abs(mine - theirs) < 12.0
    assert near.mean() > 0.95, np.sort(np.abs(mine - theirs))[-20:]


def test_a_driver_who_falls_behind_adds_the_highest_step(line):
    given, table = line
    cases = cases_of(given, table, RUNS, 3)
    told = replace(NO_ERRORS, hand_spread=3.0)
    drawn = draw(told, np.random.default_rng(5), RUNS)
    helped = stood(given, [table], cases, drawn, told)[0]
    alone = stood(given, [table], cases, drawn, replace(told, notices=50.0))[0]
    assert np.sum(helped > 0) < np.sum(alone > 0)
    assert np.all(helped <= alone + 0.5)


def test_a_train_stands_once_for_each_brake():
    given = random_input(1)
    many = with_brakes(given, (0.8, 1.0))
    assert [train.brake_share for train in many.trains[:2]] == [0.8, 1.0]
    assert len(many.trains) == 2 * len(given.trains)
    assert many.targets[0].mark[::2] == given.targets[0].mark
    assert len(brakes(Errors())) == BRAKES


def test_an_earlier_mark_costs_what_it_is_earlier_at_the_least(line):
    given, table = line
    cases = cases_of(given, table, 50, 2)
    earlier = replace(table, brake=table.brake + 100.0)
    now, then = spent(given, [table, earlier], cases)
    more = then - now
    assert np.all(more > 0.2)
