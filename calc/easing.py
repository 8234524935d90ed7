"""What a driver with the quoted brake makes of a mark with room: he lets go and runs in.

A mark made for a weak brake and a late hand is too early for the quoted brake and a hand
on time. Nobody stops a hundred metres short for that: as the train slows more than it
need, the driver lets go once, runs in, and brakes again in the lightest step where his
own brake asks for it. Two applications, one full release. No mark, cover or limit counts
on it; it shows that the advice can be driven to its mark.
"""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np

from .batch import Batch, CaseIndex, Flags, Floats, make_batch
from .family import last_joins
from .forward import Runs, drive
from .joins import Joins, value_at
from .model import TableInput
from .ramps import full_force

#: Share of its approach speed at which a train is let run in that came too slowly for any
#: run-in speed of the line. Assumption.
_SLOWEST = 0.5
#: How far short of the mark a driver means to stop, and how often he is let judge it anew.
_MEANT, _JUDGED = 2.0, 4


def eased(given: TableInput, runs: Runs) -> Runs:
    """Return runs in which the driver lets go once and runs in.

    Parameters
    ----------
    given : TableInput
        With the brake as it is in the run.
    runs : Runs
        Advice, as `calc.driven.advice_runs` gives it: where the handle moves first, the
        step, and the run-in speed where the plan has one.

    Notes
    -----
    A plan that runs in keeps its speed. Any other is let go at the highest run-in speed
    of the line from which the lightest step, begun at once, would still stop the train
    short of its mark. Where the last application begins he judges by eye: it is moved
    until the train stands a little short.
    """
    index = CaseIndex(runs.target, runs.season, runs.state, runs.train)
    batch = make_batch(given, index, 1.3 * float(given.speeds[-1]))
    last = last_joins(batch)
    choices = np.unique(np.array(given.settings.run_in_speeds))
    wanted = np.broadcast_to(choices[:, None], (choices.size, runs.speed.size))
    needs = value_at(last.handle_speed, last.handle, wanted)
    left, leave = let_go(batch, runs, wanted)
    fits = (left >= needs) & (leave < runs.speed)
    best = np.where(fits, wanted, 0.0).max(axis=0)
    best = np.where(best > 0, best, _SLOWEST * runs.speed)
    speed = np.where(runs.last_speed > 0, runs.last_speed, best)
    out, stop = _judged(given, _run_in(batch, last, runs, speed))
    for _ in choices:
        missed = (stop < 0) & (runs.last_speed == 0)
        if not missed.any():
            break
        # Where the line falls the train gathers speed: he lets go slower.
        lower = choices[np.maximum(np.searchsorted(choices, speed - 1e-6) - 1, 0)]
        slower = np.where(speed <= choices[0] + 1e-6, _SLOWEST * speed, lower)
        speed = np.where(missed, slower, speed)
        again, there = _judged(given, _run_in(batch, last, runs, speed))
        out, stop = _either(missed, again, out), np.where(missed, there, stop)
    return out


def _either(where: Flags, these: Runs, those: Runs) -> Runs:
    """Take each run from one of two."""
    pairs = {f.name: (getattr(these, f.name), getattr(those, f.name)) for f in fields(Runs)}
    return Runs(**{name: np.where(where, *both) for name, both in pairs.items()})


def _run_in(batch: Batch, last: Joins, runs: Runs, speed: Floats) -> Runs:
    """Return the runs let go so that a speed is left, and braked again from it."""
    _, leave = let_go(batch, runs, speed[None])
    return replace(
        runs,
        release_speed=np.minimum(leave[0], runs.speed),
        after_speed=speed,
        ease=np.zeros(runs.ease.shape, dtype=bool),
        last=value_at(last.handle_speed, last.handle, speed[None])[0],
        last_speed=speed,
    )


def _judged(given: TableInput, runs: Runs) -> tuple[Runs, Floats]:
    """Move where the last application begins until the train stands a little short."""
    for _ in range(_JUDGED):
        stop = drive(given, runs).stop
        runs = replace(runs, last=runs.last - np.nan_to_num(stop - _MEANT))
    return runs, drive(given, runs).stop


def let_go(batch: Batch, runs: Runs, speed: Floats) -> tuple[Floats, Floats]:
    """Return where a speed is left when the first step is let go, and the handle's speed.

    Mean values: the step's force at its brake point and at the end, the gradient at the
    mark; the run itself is driven step by step.
    """
    lane = np.arange(runs.speed.size)
    row, phi = batch.force_row(runs.step), batch.step_share[lane, runs.step]
    top = full_force(batch, row, speed)
    share = 1.0 / (1.0 + batch.rotating)
    lost = share * (top * batch.dead_time + top**2 / (2.0 * batch.release_ramp))
    leave = speed + lost
    place = np.broadcast_to(batch.before + 1, speed.shape)
    cap = np.full(speed.shape, np.inf)
    slow, _ = batch.decelerate_at(place, speed**2, row, phi, cap)
    rate = np.maximum(slow, 0.05)
    wait = batch.dead_time + 0.5 * top / batch.ramp
    gone = wait * runs.speed + (runs.speed**2 - leave**2) / (2.0 * rate)
    fall = 0.5 * (speed + leave) * (batch.dead_time + top / batch.release_ramp)
    return runs.brake - gone - fall, leave
