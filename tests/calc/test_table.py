"""The braking table: ordered along the chain, unknown where something is missing."""

from __future__ import annotations

from dataclasses import fields, replace
from functools import cache

import numpy as np
import pytest

from calc.chunk import work_chunk
from calc.model import Settings
from calc.result import CHUNK, COLUMNS, NO_STOP, NOT_COMPUTED, OK
from calc.settle import settle
from calc.table import build_table, check_input, empty_table, laid

from .random_lines import CHAIN, random_input

SEEDS = (2, 9)
NUMBERS = ("brake", "seconds", "cover")


@cache
def table_of(seed: int):
    given = random_input(seed)
    return given, build_table(given)


def falls(values, axis):
    """Tell whether any number is lower than the one before it; unknown ones are passed."""
    filled = np.where(np.isnan(values), -np.inf, values)
    best = np.maximum.accumulate(filled, axis=axis)
    return bool((filled < best - 1e-9)[np.isfinite(values)].any())


@pytest.mark.parametrize("seed", SEEDS)
def test_worse_state_never_brakes_later_heavier_or_faster(seed):
    table = table_of(seed)[1]
    assert (table.status == OK).sum() > 1_000
    assert not falls(table.brake, 2)
    assert not falls(table.seconds, 2)
    assert (np.diff(table.step, axis=2) <= 0).all()
    assert not falls(-table.advised, 2)


@pytest.mark.parametrize("seed", SEEDS)
def test_place_listed_in_season_never_makes_it_later(seed):
    table = table_of(seed)[1]
    assert not falls(table.brake, 1)
    assert (np.diff(table.step, axis=1) <= 0).all()


def test_place_listed_in_season_does_make_it_earlier_somewhere():
    table = table_of(SEEDS[0])[1]
    assert (table.brake[:, 1] > table.brake[:, 0] + 1).any()


@pytest.mark.parametrize("seed", SEEDS)
def test_faster_train_never_brakes_later(seed):
    assert not falls(table_of(seed)[1].brake, 4)


@pytest.mark.parametrize("seed", SEEDS)
def test_no_advice_is_later_than_the_usual_approach(seed):
    table = table_of(seed)[1]
    later = table.brake < table.usual[:, None, None] - 1e-9
    assert not later.any()


@pytest.mark.parametrize("seed", SEEDS)
def test_only_an_ok_cell_holds_numbers(seed):
    table = table_of(seed)[1]
    ok = table.status == OK
    assert np.isfinite(table.brake[ok]).all()
    assert not np.isnan(table.cover[ok]).any()
    for name in NUMBERS:
        assert np.isnan(getattr(table, name)[~ok]).all()


@pytest.mark.parametrize("seed", SEEDS)
def test_no_stop_stays_no_stop_in_every_worse_state(seed):
    gone = table_of(seed)[1].status == NO_STOP
    assert gone.any()
    assert (gone == np.logical_or.accumulate(gone, axis=2)).all()


def small(**changes):
    """One stop and one train of random_input, which is quick to build."""
    given = random_input(5)
    given = replace(
        given, targets=given.targets[:1], trains=given.trains[1:2], speeds=given.speeds[::5]
    )
    target = given.targets[0]
    target = replace(target, mark=target.mark[:1], limit=(target.mark[0] + 40.0,))
    return replace(given, **{"targets": (target,), **changes})


def test_train_without_a_mark_is_not_computed():
    given = small()
    target = replace(given.targets[0], mark=(float("nan"),))
    table = build_table(replace(given, targets=(target,)))
    assert (table.status == NOT_COMPUTED).all()
    assert all(np.isnan(getattr(table, name)).all() for name in NUMBERS)


NAN = float("nan")


def with_train(**fields):
    given = small()
    return replace(given, trains=(replace(given.trains[0], **fields),))


def with_step(**fields):
    given = small()
    steps = given.trains[0].steps
    return replace(
        given,
        trains=(replace(given.trains[0], steps=(replace(steps[0], **fields), *steps[1:])),),
    )


def with_state(**fields):
    return small(states=(replace(CHAIN[0], **fields), *CHAIN[1:]))


def with_line(**fields):
    given = small()
    return replace(given, line=replace(given.line, **fields))


MISSING = {
    "mass": lambda: with_train(mass=NAN),
    "length": lambda: with_train(length=NAN),
    "rotating": lambda: with_train(rotating=NAN),
    "resistance": lambda: with_train(resistance=(NAN, 0.0, 0.0)),
    "dead time": lambda: with_train(dead_time=NAN),
    "ramp": lambda: with_train(ramp=NAN),
    "top speed": lambda: with_train(max_speed=NAN),
    "acceleration": lambda: with_train(acceleration=NAN),
    "isolated share": lambda: with_train(isolated_share=NAN),
    "brake rate": lambda: with_step(rates=(NAN, NAN)),
    "wheelset share": lambda: with_step(wheelset_share=NAN),
    "plan adhesion": lambda: with_state(plan=NAN),
    "slick adhesion": lambda: with_state(slick=NAN),
    "limit": lambda: small(targets=(replace(small().targets[0], limit=(NAN,)),)),
    "gradient": lambda: with_line(gradient=(NAN,) * len(small().line.gradient)),
    "line speed": lambda: with_line(limit_speed=(NAN,)),
    "settings": lambda: small(settings=Settings(eta=NAN)),
}


@pytest.mark.filterwarnings("default")
@pytest.mark.parametrize("what", MISSING)
def test_missing_input_is_refused_or_unknown_but_never_a_number(what):
    given = MISSING[what]()
    try:
        table = build_table(given)
    except ValueError as refused:
        assert str(refused)
        return
    assert (table.status != OK).all(), f"{what} missing, yet numbers"
    assert all(np.isnan(getattr(table, name)).all() for name in NUMBERS)


@pytest.mark.parametrize(
    ("given", "words"),
    [
        (lambda: with_train(mass=-1.0), "mass"),
        (lambda: with_train(ramp=0.0), "ramps"),
        (lambda: with_train(isolated_share=1.0), "isolated"),
        (lambda: small(states=CHAIN[::-1]), "fall along the chain"),
        (lambda: small(speeds=(10.0, 5.0)), "rise"),
        (lambda: with_state(plan=-0.1), "above 0"),
        (lambda: with_state(slick=0.0), "above 0"),
        (lambda: with_step(rates=(0.3,)), "one rate"),
        (lambda: with_step(wheelset_share=1.5), "wheelset share"),
        (lambda: with_line(listed=((100.0, 50.0, 1, False),)), "farther on"),
        (lambda: with_line(listed=((100.0, 150.0, 9, False),)), "state of the chain"),
        (lambda: small(settings=Settings(eta=1.2)), "share of 1"),
        (lambda: with_train(usual_step=3), "usual step"),
    ],
)
def test_impossible_input_is_refused_in_words(given, words):
    with pytest.raises(ValueError, match=words):
        check_input(given())


def test_targets_do_not_change_each_other():
    """A table of one target equals the same target's part of a larger table."""
    given = random_input(5)
    whole = laid(empty_table(given), work_chunk(given, [0, 1]))
    alone = laid(empty_table(given), work_chunk(given, [1]))
    np.testing.assert_allclose(whole.brake[1], alone.brake[1], atol=1e-6)


@pytest.mark.parametrize("seed", SEEDS)
def test_every_column_is_worked_out_somewhere(seed):
    """A column nobody fills would stay as the empty table has it."""
    given, table = table_of(seed)
    empty = empty_table(given)
    untouched = [
        one.name
        for one in COLUMNS
        if np.array_equal(getattr(table, one.name), getattr(empty, one.name), equal_nan=True)
    ]
    assert set(untouched) <= {"no_state_in_hand", "no_room"}, (
        untouched
    )  # asked for by no route here


@pytest.mark.parametrize("name", [one.name for one in COLUMNS if one.made == CHUNK])
def test_a_column_without_a_formula_stops_the_computation_with_its_name(name):
    given = random_input(5)
    (part,) = work_chunk(given, [1])
    few = {key: values for key, values in part.figures.items() if key != name}
    with pytest.raises(ValueError, match=f"'{name}' has no formula"):
        laid(empty_table(given), [replace(part, figures=few)])


def test_a_figure_that_is_no_column_is_refused():
    given = random_input(5)
    (part,) = work_chunk(given, [1])
    more = {**part.figures, "slope": part.figures["step"]}
    with pytest.raises(ValueError, match="'slope' isn't a column"):
        laid(empty_table(given), [replace(part, figures=more)])


def test_a_column_that_the_last_pass_forgets_is_named(monkeypatch):
    from calc import driven as last_pass

    given = random_input(5)
    table = laid(empty_table(given), work_chunk(given, [0, 1]))
    monkeypatch.setattr(last_pass, "_withdraw_undriven", lambda given, table, *_, **__: table)
    with pytest.raises(ValueError, match=r"'forward_stop' has no formula in calc\.settle"):
        settle(given, table)


def test_no_array_of_a_table_can_be_written_into():
    table = table_of(SEEDS[0])[1]
    for one in fields(table):
        with pytest.raises(ValueError, match="read-only"):
            getattr(table, one.name)[...] = 0
