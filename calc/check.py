"""What the computation of a table refuses: input that is missing or could not run."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from .model import BrakeStep, Line, RailState, Settings, TableInput, Train
from .speed_tables import plan_adhesion


def check_input(given: TableInput) -> None:
    """Refuse what is missing, could not run or could not be promised.

    A mark that is NaN is no fault: that train does not stop there.

    Parameters
    ----------
    given : TableInput

    Raises
    ------
    ValueError
        With what is wrong and where.
    """
    speeds = np.asarray(given.speeds)
    if speeds.size < 2 or not _above_zero(speeds) or np.any(np.diff(speeds) <= 0):
        raise ValueError("speeds must be above 0 and rise")
    _check_settings(given.settings)
    _check_states(given.states, float(speeds[-1]))
    _check_line(given.line, len(given.states))
    for train in given.trains:
        check_train(train)
        for step in train.steps:
            check_step(train, step)


def _above_zero(figures: Iterable[float]) -> bool:
    values = np.asarray(list(figures), dtype=np.float64)
    return bool(values.size > 0 and np.all(np.isfinite(values)) and np.all(values > 0))


def _not_negative(figures: Iterable[float]) -> bool:
    values = np.asarray(list(figures), dtype=np.float64)
    return bool(np.all(np.isfinite(values)) and np.all(values >= 0))


def _check_settings(settings: Settings) -> None:
    positive = (settings.eta, settings.cell, settings.horizon, settings.least_deceleration)
    shares = (settings.brake_share, settings.strongest_share)
    times = (settings.reaction, settings.seconds_cap, settings.late, settings.slow)
    rest = (*times, settings.slide_eta, *settings.aim_short)
    if not _above_zero((*positive, *shares, *settings.run_in_speeds)) or not _not_negative(
        rest
    ):
        raise ValueError("settings: each figure must be known, and none below 0")
    if not settings.brake_share <= 1 <= settings.strongest_share:
        raise ValueError(
            "settings: the quoted brake must lie between the weakest and the strongest, got "
            f"{settings.brake_share} and {settings.strongest_share}"
        )
    if settings.slide_eta > settings.eta:
        raise ValueError("settings: a slide holds no more of the rail's adhesion than eta")
    if settings.eta > 1:
        raise ValueError(f"settings: eta is a share of 1, got {settings.eta}")


def _check_states(states: tuple[RailState, ...], top_speed: float) -> None:
    at = np.linspace(0.0, top_speed, 40)
    adhesion = np.array([plan_adhesion(state, at) for state in states])
    slicks = np.array([state.slick for state in states])
    if not _above_zero(adhesion.ravel()) or not _above_zero(slicks):
        raise ValueError("each rail state needs an adhesion above 0 at every speed")
    if not _not_negative(state.cover_aim for state in states):
        raise ValueError("each rail state's cover to aim for must be 0 or more")
    if np.any(np.diff(adhesion, axis=0) >= 0) or np.any(np.diff(slicks) > 0):
        raise ValueError(
            "adhesion must fall along the chain of rail states at every speed, and "
            "that of the slicks must never rise"
        )


def _check_line(line: Line, states: int) -> None:
    if not np.all(np.isfinite(line.gradient_from + line.gradient + line.limit_from)):
        raise ValueError("line: each gradient and each start of a stretch must be known")
    if not _above_zero(line.limit_speed):
        raise ValueError("line: each permanent speed must be above 0")
    for start, stop, state, _ in line.listed:
        if not start < stop or not 0 <= state < states:
            raise ValueError(
                f"listed place at {start} m: it must end farther on, in a state of the chain"
            )


def check_train(train: Train) -> None:
    """Refuse a train that could not run or brake, with its key.

    Parameters
    ----------
    train : Train
    """
    positive = (train.mass, train.ramp, train.release_ramp, train.max_speed)
    if not _above_zero((*positive, train.acceleration)):
        raise ValueError(
            f"train {train.key}: mass, ramps, acceleration and top speed must be above 0"
        )
    figures = (train.length, train.rotating, train.dead_time, train.isolated_share)
    if not _not_negative((*figures, *train.resistance)) or train.isolated_share >= 1:
        raise ValueError(f"train {train.key}: a figure is below 0 or all brakes are isolated")
    if not 0 <= train.usual_step < len(train.steps):
        raise ValueError(f"train {train.key}: it has no usual step among its steps")


def check_step(train: Train, step: BrakeStep) -> None:
    """Refuse a step whose rates say nothing, with its train and name.

    Parameters
    ----------
    train : Train
    step : BrakeStep
        One of its steps.
    """
    speeds = np.asarray(step.speeds)
    if not _not_negative(speeds) or np.any(np.diff(speeds) <= 0):
        raise ValueError(f"train {train.key}, {step.name}: speeds must rise from 0 or more")
    if not _above_zero(step.rates) or len(step.rates) != speeds.size:
        raise ValueError(f"train {train.key}, {step.name}: one rate above 0 for each speed")
    if not 0 < step.wheelset_share <= 1:
        raise ValueError(f"train {train.key}, {step.name}: wheelset share must be within 0, 1")
