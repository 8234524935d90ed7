"""The braking table's own advice, put into the fuller model of a slide.

Only what the two models share is carried over: marks, speeds, the plan and the rail. The
cylinders are first order here and straight lines there; the wheelsets are the train's
own number here and eight there.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from calc.forward import Runs
from calc.model import TableInput
from calc.slide import NO_STEP, Orders, Patch, Rail, SlideRuns, SlideTrain, simulate
from calc.slide.handle import NEVER

NAN = float("nan")


@dataclass(frozen=True)
class Harder:
    """What the table's cover leaves out; as it is by default, nothing."""

    slower: float = 1.0
    undershoot: float = 0.0
    second_after: float = NAN


def slide_train(given: TableInput, index: int, harder: Harder) -> SlideTrain:
    """Four wheelsets a car of 20 m, in eights so that shares come out whole.

    A first-order cylinder with time constant f / (2 J) loses as much speed in filling to
    the lightest step as the straight line of the table. Refilling from a slick begins
    part-way, where a line is soon done and an exponential is not, so the table's premise
    is kept by half of that. ``slower`` multiplies it.
    """
    base = given.trains[index]
    wheelsets = max(8, 8 * round(base.length / 40.0))
    force = max(base.steps[0].rates) * (1 + base.rotating)
    fill = harder.slower * force / (4.0 * base.ramp)
    empty = harder.slower * force / (4.0 * base.release_ramp)
    return SlideTrain(
        base, wheelsets, fill, empty, eta=given.settings.eta, undershoot=harder.undershoot
    )


def slide_rail(given: TableInput, runs: Runs, mark: np.ndarray, harder: Harder) -> Rail:
    """The planned rail, listed places and the slick, each with exact ends."""
    plan = np.array([[state.plan] for state in given.states])
    shapes = tuple((s.shape_speeds, s.shape_factors) for s in given.states)
    flat = np.full(mark.size, len(shapes))
    patches = listed_patches(given, runs, mark)
    length = runs.slick_from - runs.slick_to
    patches += [Patch(mark - runs.slick_from, mark - runs.slick_to, runs.slick, flat)]
    if not np.isnan(harder.second_after):
        begin = mark - runs.slick_to + harder.second_after
        patches += [Patch(begin, begin + length, runs.slick, flat)]
    shapes += (((0.0,), (1.0,)),)
    return Rail(0.0, 1.0, plan, runs.state, shapes, runs.state, tuple(patches))


def listed_patches(given: TableInput, runs: Runs, mark: np.ndarray) -> list[Patch]:
    """As many patches as listed places lie on the way of any one run."""
    out = []
    plan = np.array([state.plan for state in given.states])
    start = mark - np.fmax(runs.brake, 0.0) - 500.0
    used = np.zeros(mark.size, dtype=int)
    columns: list[list[np.ndarray]] = []
    for begin, end, state, seasonal in given.line.listed:
        counts = (begin < mark + 300.0) & (end > start)
        counts &= (state > runs.state) & ~(seasonal & (runs.season == 0))
        for run in np.flatnonzero(counts):
            if used[run] == len(columns):
                empty = np.full(mark.size, NAN)
                columns.append([empty, empty.copy(), empty.copy(), np.zeros(mark.size)])
            column = columns[used[run]]
            for part, value in zip(column, (begin, end, plan[state], state), strict=True):
                part[run] = value
            used[run] += 1
    for begin, end, mu, state in columns:
        out.append(Patch(begin, end, mu, state.astype(np.int64)))
    return out


def slide_runs(
    given: TableInput, runs: Runs, mark: np.ndarray, limit: np.ndarray
) -> SlideRuns:
    """The plan as orders; a slide makes the driver go to the highest service step."""
    count = mark.size
    highest = np.array([len(train.steps) - 1 for train in given.trains])[runs.train]
    last = np.where(np.isnan(runs.last), NEVER, mark - runs.last)
    orders = Orders(
        step=runs.step,
        slide_step=np.where(runs.react, highest, NO_STEP),
        slide_after=np.full(count, given.settings.reaction),
        fan_period=np.zeros(count),
        fan_share=np.zeros(count),
        then_at=np.full(count, NEVER),
        then_step=highest,
        release_speed=runs.release_speed,
        after_speed=runs.after_speed,
        ease=runs.ease,
        last=last,
        last_speed=np.asarray(runs.last_speed, dtype=float),
    )
    applied = np.zeros(count, dtype=bool)
    return SlideRuns(runs.speed, mark - runs.brake, mark, limit, applied, orders)


def drive_fully(given: TableInput, runs: Runs, harder: Harder | None = None):
    """Return where each run stood before its mark, how far past its limit, and slides."""
    harder = harder or Harder()
    marks = np.array([target.mark for target in given.targets])[runs.target, runs.train]
    limits = np.array([target.limit for target in given.targets])[runs.target, runs.train]
    before, past = np.full((2, marks.size), NAN)
    slid = np.zeros(marks.size, dtype=bool)
    for index in np.unique(runs.train):
        mine = np.flatnonzero(runs.train == index)
        part = runs.take(mine)
        own = slide_train(given, index, harder)
        rail = slide_rail(given, part, marks[mine], harder)
        driven = slide_runs(given, part, marks[mine], limits[mine])
        result = simulate(own, given.line, rail, driven)
        before[mine], slid[mine] = result.to_mark, result.slid
        past[mine] = np.where(np.isnan(result.stop), np.inf, -result.to_limit)
    return before, past, slid


def joined(parts: list[Runs]) -> Runs:
    """Return the runs of several batches, one after the other."""
    return Runs(
        **{f.name: np.concatenate([getattr(p, f.name) for p in parts]) for f in fields(Runs)}
    )
