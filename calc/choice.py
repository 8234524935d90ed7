"""Which plan of the family a driver gets: the quickest that keeps every promise."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .batch import Batch, Flags, Floats, Ints
from .family import AIMS, Family, Scores
from .model import TableInput


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
        No plan within the time cap gives the cover asked for.
    """

    plan: Ints
    expect_wsp: Flags
    less_cover: Flags


def choose(
    batch: Batch,
    given: TableInput,
    family: Family,
    scores: Scores,
    most: Ints,
    usual_cost: Floats,
) -> Choice:
    """Choose a plan for every case, the chain of rail states from best to worst.

    ``most`` is the heaviest first step of each case, ``usual_cost`` the time of the
    usual approach on the scale of `Scores.cost`. A worse state never gets a heavier
    first step or a later brake point than the state before it.
    """
    aim = np.array([state.cover_aim for state in given.states])[batch.index.state]
    asked = np.where(batch.goal > 0, 0, np.searchsorted(AIMS, aim - 1e-9, side="left") + 1)
    asked = np.where((aim <= 0) | (batch.goal > 0), 0, np.minimum(asked, len(AIMS)))
    lost = scores.cost - usual_cost
    plan = np.full(batch.cases, -1)
    wsp = np.zeros(batch.cases, dtype=bool)
    less = np.zeros(batch.cases, dtype=bool)
    order = _chains(batch)
    heaviest, latest = most.copy(), np.full(batch.cases, -np.inf)
    for place, lanes in enumerate(order):
        fit = scores.possible[:, lanes] & scores.slows[:, lanes]
        fit &= family.step[:, None] <= heaviest[lanes]
        fit &= scores.brake[:, lanes] >= latest[lanes] - 1e-6
        quiet = fit & scores.quiet[:, lanes]
        capped = quiet & (lost[:, lanes] <= given.settings.seconds_cap)
        level = np.minimum(scores.level[:, lanes], asked[lanes])
        picked, found = _best(capped, level, lost[:, lanes])
        fallback, any_quiet = _best(quiet, 0 * level, lost[:, lanes])
        picked = np.where(found, picked, fallback)
        found |= any_quiet
        soft, slides = _best(fit, -_softness(family, fit), lost[:, lanes])
        plan[lanes] = np.where(found, picked, np.where(slides, soft, -1))
        wsp[lanes] = ~found & slides
        column = np.arange(lanes.size)
        less[lanes] = level[np.maximum(plan[lanes], 0), column] < asked[lanes]
        if place + 1 == len(order):
            break
        after, known = order[place + 1], plan[lanes] >= 0
        chosen = np.maximum(plan[lanes], 0)
        bound = np.where(known, family.step[chosen], 0)
        heaviest[after] = np.minimum(heaviest[after], np.minimum(bound, heaviest[lanes]))
        latest[after] = np.where(known, scores.brake[chosen, lanes], latest[lanes])
    return Choice(plan, wsp, less & (plan >= 0))


def _chains(batch: Batch) -> list[Ints]:
    """Return the lanes of each state, the same target, season and train in each place."""
    keys = np.lexsort((batch.index.train, batch.index.season, batch.index.target))
    states = batch.index.state[keys]
    return [keys[states == state] for state in np.unique(states)]


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
