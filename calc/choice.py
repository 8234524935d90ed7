"""Which plan of the family a driver gets: the quickest that keeps every promise."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .batch import Batch, Flags, Floats, Ints
from .family import AIMS, Family, Scores
from .hand import in_hand
from .model import TableInput
from .order import one_state_worse, ranked_cases


@dataclass(frozen=True)
class Choice:
    """The plan of each case; all (cases,).

    Attributes
    ----------
    plan : numpy.ndarray of int
        Index into the family; -1 where no plan still slows the train.
    expect_wsp : numpy.ndarray of bool
        The lightest step asks for more than the rail gives.
    less_cover : numpy.ndarray of bool
        The plan gives less cover than asked for.
    in_hand : numpy.ndarray of bool
        The plan leaves a state in hand.
    """

    plan: Ints
    expect_wsp: Flags
    less_cover: Flags
    in_hand: Flags


def choose(
    batch: Batch,
    given: TableInput,
    family: Family,
    scores: Scores,
    most: Ints,
    usual_cost: Floats,
    nearest: Floats | None = None,
) -> Choice:
    """Choose a plan for every case, better cases before worse ones.

    ``most`` is the heaviest first step of each case, ``usual_cost`` the time of the
    usual approach on the scale of `Scores.cost`, ``nearest`` the nearest brake point a
    plan may have, if any, on the scale of `Scores.brake`: then a better case without a
    plan binds no worse one. A worse rail state, a place listed in
    season or a train with more brakes isolated never gets a heavier first step or a
    later brake point; where the better case has no plan, the worse one has none.

    Preferred are plans with a state in hand, then quiet ones, then the lightest that
    slows; a state in hand goes before the time cap, which chooses among such plans. It
    never makes a plan heavier or later than it would be without, and it gives way where
    a worse case, which may begin no later, would have no plan left or slide.
    """
    worse = one_state_worse(batch.index, given.states)
    hand = in_hand(batch, scores.quiet, scores.stops_worse, scores.possible, worse)
    asked, lost = _asked(batch, given), scores.cost - usual_cost
    groups = ranked_cases(batch.index, given.trains)
    least = np.full(batch.cases, -np.inf) if nearest is None else nearest
    alone, cap = nearest is not None, given.settings.seconds_cap
    task = _Task(family, scores, most, least, alone, lost, asked, cap, groups)
    plain = _chosen(task, np.zeros_like(hand), np.full(batch.cases, -1))
    if not hand.any():
        return plain
    wish = np.ones(batch.cases, dtype=bool)
    while True:
        found = _chosen(task, hand & wish, plain.plan)
        gone = (plain.plan >= 0) & (found.plan < 0)
        gone |= found.expect_wsp & ~plain.expect_wsp
        gone |= found.less_cover & ~found.in_hand & ~plain.less_cover
        giving = _giving_way(groups, gone, wish & found.in_hand)
        if not giving.any():
            return found
        wish &= ~giving


@dataclass(frozen=True)
class _Task:
    """What a choice is made from; see `choose`."""

    family: Family
    scores: Scores
    most: Ints
    nearest: Floats
    alone: bool
    lost: Floats
    asked: Ints
    cap: float
    groups: list[tuple[Ints, tuple[Ints, ...]]]


def _chosen(task: _Task, hand: Flags, plain: Ints) -> Choice:
    """Choose once; ``hand`` are plans to prefer, ``plain`` the choice without them.

    What is chosen is no heavier and no later than ``plain`` (-1: nothing to keep to).
    """
    family, scores, lost = task.family, task.scores, task.lost
    cases = plain.size
    plan = np.full(cases, -1)
    wsp = np.zeros(cases, dtype=bool)
    less = np.zeros(cases, dtype=bool)
    held = np.zeros(cases, dtype=bool)
    for lanes, bounds in task.groups:
        fit = scores.possible[:, lanes] & scores.slows[:, lanes]
        fit &= family.step[:, None] <= task.most[lanes]
        fit &= scores.brake[:, lanes] >= task.nearest[lanes]
        for bound in bounds:
            fit &= _bound(family, scores, plan, lanes, bound) | (
                task.alone & (plan[bound] < 0)
            )
        fit &= _bound(family, scores, plain, lanes, np.where(plain[lanes] < 0, -1, lanes))
        quiet = fit & scores.quiet[:, lanes]
        kept = quiet & hand[:, lanes]
        quiet = np.where(kept.any(axis=0), kept, quiet)
        capped = quiet & (lost[:, lanes] <= task.cap)
        level = np.minimum(scores.level[:, lanes], task.asked[lanes])
        picked, found = _best(capped, level, lost[:, lanes])
        fallback, any_quiet = _best(quiet, 0 * level, lost[:, lanes])
        picked = np.where(found, picked, fallback)
        found |= any_quiet
        soft, slides = _best(fit, -_softness(family, fit), lost[:, lanes])
        plan[lanes] = np.where(found, picked, np.where(slides, soft, -1))
        wsp[lanes] = ~found & slides
        column = np.arange(lanes.size)
        less[lanes] = level[np.maximum(plan[lanes], 0), column] < task.asked[lanes]
        held[lanes] = found & hand[np.maximum(plan[lanes], 0), lanes]
    return Choice(plan, wsp, less & (plan >= 0), held & (plan >= 0))


def _giving_way(
    groups: list[tuple[Ints, tuple[Ints, ...]]], gone: Flags, holding: Flags
) -> Flags:
    """Tell which cases give up their state in hand for a worse one that lost its plan.

    The nearest better cases that hold one; where these hold none, those before them.
    """
    out = np.zeros(gone.size, dtype=bool)
    seeking = gone.copy()
    for lanes, bounds in reversed(groups):
        for bound in bounds:
            better = bound[seeking[lanes] & (bound >= 0)]
            out[better[holding[better]]] = True
            seeking[better[~holding[better]]] = True
    return out


def _asked(batch: Batch, given: TableInput) -> Ints:
    """Return how many of the compared covers each case's plan should give."""
    aim = np.array([state.cover_aim for state in given.states])[batch.index.state]
    count = np.minimum(np.searchsorted(AIMS, aim - 1e-9, side="left") + 1, len(AIMS))
    return np.where((aim <= 0) | (batch.goal > 0), 0, count)


def _bound(family: Family, scores: Scores, plan: Ints, lanes: Ints, better: Ints) -> Flags:
    """Tell which plans are no heavier and no later than the better case's own."""
    free, known = better < 0, plan[better] >= 0
    chosen = np.maximum(plan[better], 0)
    lighter = family.step[:, None] <= family.step[chosen]
    sooner = scores.brake[:, lanes] >= scores.brake[chosen, better] - 1e-6
    return np.asarray(free | (known & lighter & sooner))


def _best(fit: Flags, level: Ints, lost: Floats) -> tuple[Ints, Flags]:
    """Return the fitting plan with most cover, then least time; and whether there is one."""
    top = np.where(fit, level, -1000).max(axis=0)
    time = np.where(fit & (level == top), lost, np.inf)
    return np.argmin(time, axis=0), np.asarray(fit.any(axis=0))


def _softness(family: Family, fit: Flags) -> Ints:
    """Rank plans for a rail that slides: the lightest step, then the lowest run-in."""
    speeds = np.unique(family.near_speed)
    rank = np.searchsorted(speeds, family.near_speed)
    rank = np.where(family.run_in, rank, speeds.size)
    rank = rank + family.step * (speeds.size + 1)
    return np.broadcast_to(rank[:, None], fit.shape)
