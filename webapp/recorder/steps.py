"""What dry brake tests of a file say of a train: fits, or what to plan with instead."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from calc.recorder.steps import (
    DryTest,
    LeftOut,
    Pressure,
    StepFigures,
    brake_tests,
    step_figures,
)
from webapp.lines.posts import how_to_type, place_on_line
from webapp.packs.axes import TrainVariant
from webapp.packs.model import Route
from webapp.packs.service import one_train, train_keys, turned_line
from webapp.recorder.columns import Picked, picked, pressures
from webapp.recorder.service import PLACE, read_trace

#: A share may still fit if it may be 1 as well as this low; so may a build-up that may be
#: as planned and is this much longer at most. Assumptions. [-, s]
LOW_END, LONGER = 0.95, 0.3


class CannotSay(ValueError):
    """Something the command was not told, with what to do."""


@dataclass(frozen=True)
class Findings:
    """A file's dry brake tests put together."""

    tests: tuple[DryTest, ...]
    left: tuple[LeftOut, ...]
    figures: tuple[StepFigures, ...]
    notes: tuple[str, ...]
    variant: TrainVariant


def find(
    data: bytes,
    name: str,
    route: Route,
    train: str,
    direction: str,
    start: str | None = None,
    mapping: dict[str, list[str]] | None = None,
) -> Findings:
    """Read the dry brake tests of a recorder's file.

    Parameters
    ----------
    data, name : bytes, str
        The file and its name.
    route : Route
        For the train as planned with, and the gradients under it.
    train, direction : str
        Keys of the train as it ran and of its direction of travel.
    start : str, optional
        Place of the first row as posted, for a file without places.
    mapping : dict, optional
        See `columns.read_mapping`.

    Raises
    ------
    CannotSay
        If train, direction or place are not known.
    TraceFaults
        With every fault of the file.
    """
    known = one_train(route, train)
    if known is None:
        raise CannotSay(f"no train '{train}': one of {', '.join(train_keys(route))}")
    variant, unit = known
    keys = [each.key for each in route.directions]
    if direction not in keys:
        raise CannotSay(f"no direction '{direction}': one of {', '.join(keys)}")
    line, along = turned_line(route, direction)
    chosen = picked(data, name, mapping, along)
    reading = read_trace(chosen.data, name)
    places = [bool(np.isfinite(part.place).any()) for part in reading.parts]
    if not all(places) and start is None:
        raise CannotSay(f"the file has no column {PLACE}: say with --start where it begins")
    begins = 0.0 if start is None else along(_place(route, start))
    tests: list[DryTest] = []
    left: list[LeftOut] = []
    for number, part in enumerate(reading.parts):
        if number and not places[number]:
            continue
        bar = _pressure(chosen, part.time)
        some, others = brake_tests(part, unit, line, start=begins, pressure=bar)
        tests += some
        left += others
    figures = tuple(step_figures(tests, unit))
    notes = (*chosen.notes, *reading.notes)
    return Findings(tuple(tests), tuple(left), figures, notes, variant)


def _place(route: Route, text: str) -> float:
    at = place_on_line(text, route.head.distance_unit)
    if at is None:
        cure = how_to_type(route.head.distance_unit)
        raise CannotSay(f"'{text}' is no place on this line: write {cure}")
    return at


def _pressure(chosen: Picked, times: np.ndarray) -> Pressure | None:
    value = pressures(chosen, times)
    return Pressure(value) if np.isfinite(value).any() else None


def planned_share(figures: StepFigures) -> float:
    """Return the share of a step's rates to plan with; 1 where they fit. [-].

    The low end of the interval, rounded down: scatter is no reason to plan with more.
    """
    share = figures.share
    if share.high >= 1.0 and share.low >= LOW_END:
        return 1.0
    return min(1.0, math.floor(100.0 * share.low + 1e-9) / 100.0)


def build_up_fits(figures: StepFigures) -> bool:
    """Tell whether dead time and build-up are no longer than planned with."""
    wait, planned = figures.wait, figures.assumed_wait
    return wait.low <= planned and wait.mean <= planned + LONGER


def lines(found: Findings) -> list[str]:
    """Return what is printed, a line each."""
    kind = found.variant.type
    out = [
        f"{found.variant.name}: {_count(len(found.tests), 'dry brake test')} read, "
        f"{_count(len(found.left), 'application')} left out.",
        *(f"  {note}" for note in found.notes),
        *(f"  left out at {_clock(one.begun)}: {one.why}" for one in found.left),
    ]
    for figures in found.figures:
        name = kind.steps[figures.step].name
        share, wait = figures.share, figures.wait
        out += [
            f"{name}, {_count(figures.tests, 'test')}: {share.mean:.2f} of the rate planned "
            f"with (90 %: {share.low:.2f} to {share.high:.2f}): {_verdict(figures)}",
            f"  dead time and half the build-up {wait.mean:.1f} s "
            f"(90 %: {max(wait.low, 0):.1f} to {wait.high:.1f}), "
            f"planned with {figures.assumed_wait:.1f} s: "
            f"{'fits' if build_up_fits(figures) else 'longer than planned with'}",
        ]
        if figures.dead and figures.rise:
            out.append(
                f"  by pressure: dead time {figures.dead.mean:.1f} s, "
                f"rise {figures.rise.mean:.1f} s"
            )
    return out + (_data(found) if found.figures else [])


def _verdict(figures: StepFigures) -> str:
    share = planned_share(figures)
    if share == 1.0:
        return "fits"
    more = "" if figures.share.high < 1.0 else ", or test more: it may be 1"
    return f"plan with {share:.2f} of this step{more}"


def _count(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"


def _clock(time: float) -> str:
    seconds = int(time)
    return f"{seconds // 3600 % 24:02}:{seconds // 60 % 60:02}:{seconds % 60:02}"


def _data(found: Findings) -> list[str]:
    """Return lines for trains.toml: only what changes, with its basis."""
    kind, total = found.variant.type, len(found.tests)
    out = ["", f"# For trains.toml, type {kind.key}; change what a test speaks against."]
    for figures in found.figures:
        share, step = planned_share(figures), kind.steps[figures.step]
        if share < 1.0:
            rates = [[v, math.floor(100 * rate * share) / 100] for v, rate in step.rates]
            out.append(f'rates = {rates}  # step "{step.name}", {share:.2f} of before')
    longest = max(found.figures, key=lambda one: one.wait.high / one.assumed_wait)
    if not build_up_fits(longest):
        slower = longest.wait.high / longest.assumed_wait
        out += [
            f"dead_time_s = {math.ceil(10 * kind.dead_time_s * slower) / 10:g}",
            f"build_up_mps3 = {math.floor(100 * kind.build_up_mps3 / slower) / 100:g}",
        ]
    if len(out) == 2:
        return ["", "Nothing to change in trains.toml."]
    return [*out, f'# basis: "source: {_count(total, "dry brake test")}, low end of 90 %"']
