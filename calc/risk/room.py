"""What room buys: shares of advised approaches past mark and limit with ordinary errors.

The plans may have been worked with any room; what is driven is the quoted train with the
errors drawn for it, so tables for different rooms meet the very same errors.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np

from ..driven import PAST_MARK, SHORT_OF_MARK, advice_runs
from ..easing import eased
from ..forward import Flags, Floats, Ints, Runs, Track, drive
from ..model import TableInput, Target
from ..result import OK, Table
from .errors import BRAKES, Drawn, Errors, brakes
from .estimate import SLACK
from .interval import Share, wilson_interval

#: Target, season, rail state and train of each run, every array (runs,).
Cases = tuple[Ints, Ints, Ints, Ints]


@dataclass(frozen=True)
class Shares:
    """Of all runs; one that never stood counts in both."""

    past_mark: Share
    past_limit: Share


def advised(given: TableInput, table: Table) -> Flags:
    """Tell which stops have advice at the speed a train comes with, by case."""
    stops = np.array([target.to_speed == 0 for target in given.targets])
    ready = (table.status == OK).any(axis=-1) & np.isfinite(table.approach_speed)
    return np.asarray(ready & stops[:, None, None, None])


def stood(
    given: TableInput, tables: Sequence[Table], cases: Cases, drawn: Drawn, errors: Errors
) -> list[Floats]:
    """Drive each table's advices with errors; return how far past its limit each stood. [m].

    ``given`` holds the quoted figures, whatever the tables' plans were worked with. What
    never stood is infinitely far past. A driver does what is advised, late or early at the
    mark; in a slide, or once he falls behind, the highest service step after the reaction
    time. What he lets go of a mark that is too early for his brake is not driven.
    """
    runs = _joined(
        [_with_errors(given, advice_runs(given, one, cases), drawn, errors) for one in tables]
    )
    many = with_brakes(given, brakes(errors))
    track = Track(many)
    track.notices = errors.notices
    stop = np.nan_to_num(drive(many, runs, track=track).stop, nan=-np.inf)
    return [-one - margins(given, cases) for one in np.split(stop, len(tables))]


def _joined(parts: Sequence[Runs]) -> Runs:
    """Put the runs of several tables behind each other: one drive costs little more."""
    return Runs(
        **{
            f.name: np.concatenate([getattr(one, f.name) for one in parts])
            for f in fields(Runs)
        }
    )


def spent(given: TableInput, tables: Sequence[Table], cases: Cases) -> list[Floats]:
    """Return what each table's advices cost a driver with the quoted brake. [s].

    Nothing goes wrong. Against passing at the speed he came with: two tables are compared by
    the difference, which leaves out that trains may come to an earlier mark a little slower.
    Where the mark is too early for his brake he lets go once and runs in (`calc.easing`).
    """
    runs = _joined([advice_runs(given, one, cases) for one in tables])
    first = drive(given, runs)
    short = ~(first.stop <= SHORT_OF_MARK)
    seconds = first.seconds.copy()
    if short.any():
        seconds[short] = drive(given, eased(given, runs.take(short))).seconds
    return np.split(seconds - runs.brake / runs.speed, len(tables))


def shares(past: Floats, margin: Floats, confidence: float = 0.95) -> Shares:
    """Count what stood past its mark, and past its limit, among runs.

    ``past``: how far past its limit each stood; ``margin``: from its mark to that. [m]
    """
    beyond = past + margin > np.minimum(PAST_MARK, margin + SLACK)
    return Shares(
        wilson_interval(int(beyond.sum()), past.size, confidence),
        wilson_interval(int((past > SLACK).sum()), past.size, confidence),
    )


def with_brakes(given: TableInput, forces: tuple[float, ...]) -> TableInput:
    """Return the input with each train once for each brake force, one after the other."""
    trains = tuple(
        replace(train, brake_share=train.brake_share * force)
        for train in given.trains
        for force in forces
    )

    def repeated(target: Target) -> Target:
        many = len(forces)
        return replace(
            target,
            mark=tuple(one for one in target.mark for _ in range(many)),
            limit=tuple(one for one in target.limit for _ in range(many)),
        )

    return replace(given, trains=trains, targets=tuple(map(repeated, given.targets)))


def margins(given: TableInput, cases: Cases) -> Floats:
    """Return the distance from each run's mark to its limit. [m]."""
    target, _, _, train = cases
    marks = np.array([one.mark for one in given.targets])[target, train]
    return np.asarray(np.array([one.limit for one in given.targets])[target, train] - marks)


def _with_errors(given: TableInput, runs: Runs, drawn: Drawn, errors: Errors) -> Runs:
    state = np.clip(runs.state + drawn.worse, 0, len(given.states) - 1)
    way = runs.brake + errors.patch_before
    begins = np.where(drawn.patch, way * (1.0 - drawn.begins), np.nan)
    slick = np.array([one.slick for one in given.states])[state] * drawn.adhesion
    return replace(
        runs,
        state=state,
        train=runs.train * BRAKES + drawn.brake,
        brake=runs.brake - drawn.late * runs.speed,
        react=np.ones(state.shape, dtype=bool),
        slick_from=begins,
        slick_to=begins - drawn.length,
        slick=np.where(drawn.patch, slick, np.nan),
    )
