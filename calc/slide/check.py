"""What a slide refuses: figures that are missing or describe nothing that could run."""

from __future__ import annotations

from dataclasses import fields

import numpy as np

from ..check import check_step, check_train
from ..model import Line
from .model import Floats, Rail, Sand, SlideRuns, SlideTrain


def check_slide(train: SlideTrain, line: Line, rail: Rail, runs: SlideRuns) -> None:
    """Refuse what could not run.

    Raises
    ------
    ValueError
        With what is wrong and where.
    """
    check_slide_train(train)
    if len(line.gradient_from) == 0 or len(line.gradient_from) != len(line.gradient):
        raise ValueError("line: it has no stretch of gradient")
    _known("line: gradients", line.gradient_from, line.gradient)
    if np.any(np.diff(line.gradient_from) <= 0):
        raise ValueError("line: the starts of gradients must rise")
    check_runs(train, runs)
    check_rail(rail, runs.speed.size)


def check_slide_train(train: SlideTrain) -> None:
    """Refuse a train whose figures are missing or impossible."""
    key = train.base.key
    check_train(train.base)
    for step in train.steps:
        check_step(train.base, step)
    if train.wheelsets < 1:
        raise ValueError(f"train {key}: it needs a wheelset, got {train.wheelsets}")
    for name in ("fill_time", "empty_time", "eta", "clean_adhesion"):
        if not getattr(train, name) > 0 or not np.isfinite(getattr(train, name)):
            raise ValueError(
                f"train {key}: {name} must be above 0, got {getattr(train, name)}"
            )
    for name in ("eta", "undershoot", "cleaning"):
        if not 0 <= getattr(train, name) <= 1:
            raise ValueError(
                f"train {key}: {name} is a share of 1, got {getattr(train, name)}"
            )
    if train.sand is not None:
        _check_sand(key, train.sand, train.wheelsets)


def _check_sand(key: str, sand: Sand, wheelsets: int) -> None:
    figures = (sand.delay, sand.min_speed, *(s.rate for s in sand.sanders))
    if not sand.gain > 0 or not sand.scale > 0 or not all(f >= 0 for f in figures):
        raise ValueError(f"train {key}: sand needs gain and scale above 0, no figure below 0")
    _known(f"train {key}: sand", (sand.gain, sand.scale, *figures))
    for sander in sand.sanders:
        if not 0 <= sander.wheelset < wheelsets:
            raise ValueError(f"train {key}: no wheelset {sander.wheelset} for a sander")


def check_runs(train: SlideTrain, runs: SlideRuns) -> None:
    """Refuse runs whose arrays differ in length or hold what could not be."""
    count = runs.speed.size
    if count == 0:
        raise ValueError("runs: there is none")
    for part in (runs, runs.orders):
        for f in fields(part):
            value = getattr(part, f.name)
            if f.name != "orders" and value.shape != (count,):
                raise ValueError(f"runs: {f.name} has shape {value.shape}, not {(count,)}")
    if not np.all(np.isfinite(runs.speed) & (runs.speed > 0)):
        bad = int(np.argmax(~(np.isfinite(runs.speed) & (runs.speed > 0))))
        raise ValueError(f"runs: run {bad}: speed must be above 0, got {runs.speed[bad]}")
    _known("runs: start, mark, limit", runs.start, runs.mark, runs.limit)
    if np.any(runs.limit < runs.mark):
        bad = int(np.argmax(runs.limit < runs.mark))
        raise ValueError(f"runs: run {bad}: its limit lies before its mark")
    _check_orders(train, runs)


def _check_orders(train: SlideTrain, runs: SlideRuns) -> None:
    orders, most = runs.orders, len(train.steps)
    for name in ("step", "slide_step", "then_step"):
        value = getattr(orders, name)
        lowest = {"step": 0, "slide_step": -2, "then_step": -1}[name]
        if np.any((value < lowest) | (value >= most)):
            raise ValueError(f"runs: {name} names a step that train {train.base.key} lacks")
    if np.any(np.isnan(orders.slide_after) | (orders.slide_after < 0)):
        raise ValueError("runs: slide_after must be 0 s or more")
    _known("runs: fanning", orders.fan_period, orders.fan_share)
    if np.any((orders.fan_period < 0) | (orders.fan_share < 0) | (orders.fan_share > 1)):
        raise ValueError("runs: fanning needs a period of 0 s or more and a share of 1")
    if np.any(np.isnan(orders.then_at) | np.isnan(orders.last)):
        raise ValueError("runs: then_at and last must be places, or infinite for nowhere")


def check_rail(rail: Rail, runs: int) -> None:
    """Refuse rail without an adhesion above 0 everywhere, or of another number of runs."""
    if rail.adhesion.ndim != 2 or rail.adhesion.size == 0:
        raise ValueError("rail: adhesion needs rows and cells")
    if not np.all(np.isfinite(rail.adhesion) & (rail.adhesion > 0)):
        row, cell = np.argwhere(~(np.isfinite(rail.adhesion) & (rail.adhesion > 0)))[0]
        raise ValueError(f"rail: row {row}, cell {cell}: adhesion must be above 0")
    if not (rail.spacing > 0 and np.isfinite(rail.origin) and np.isfinite(rail.spacing)):
        raise ValueError(f"rail: cells need a length above 0 m, got {rail.spacing}")
    if rail.row.shape != (runs,) or rail.shape.shape != (runs,):
        raise ValueError(f"rail: row and shape must be given for each of {runs} runs")
    if np.any((rail.row < 0) | (rail.row >= rail.adhesion.shape[0])):
        raise ValueError("rail: a run names a row of adhesion that is not there")
    _check_shapes(rail)
    for number, part in enumerate(rail.patches):
        there = ~np.isnan(part.begin)
        if part.begin.shape != (runs,) or part.end.shape != (runs,):
            raise ValueError(f"rail: patch {number} must be given for each of {runs} runs")
        if not np.all(part.end[there] >= part.begin[there]):
            raise ValueError(f"rail: patch {number} ends before it begins")
        if not np.all(part.adhesion[there] > 0):
            raise ValueError(f"rail: patch {number}: adhesion must be above 0")


def _check_shapes(rail: Rail) -> None:
    used = [rail.shape, *(part.shape for part in rail.patches)]
    if any(np.any((row < 0) | (row >= len(rail.shapes))) for row in used):
        raise ValueError("rail: a run names a shape by speed that is not there")
    for number, (speeds, factors) in enumerate(rail.shapes):
        if len(speeds) == 0 or len(speeds) != len(factors) or np.any(np.diff(speeds) <= 0):
            raise ValueError(f"rail: shape {number}: speeds must rise, one factor each")
        if not all(np.isfinite(factors)) or not min(factors) > 0:
            raise ValueError(f"rail: shape {number}: factors must be above 0")


def _known(what: str, *values: Floats | tuple[float, ...]) -> None:
    for value in values:
        if not np.all(np.isfinite(np.asarray(value, dtype=np.float64))):
            raise ValueError(f"{what}: every figure must be known")
