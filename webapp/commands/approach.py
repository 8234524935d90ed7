"""``step-in-hand approach``: one approach with every intermediate figure."""

from __future__ import annotations

import difflib
import json
import math
from collections.abc import Iterable
from dataclasses import asdict
from pathlib import Path
from typing import Any

import click
import numpy as np

from calc import margins
from calc.approach_detail import curve_points, forward_run, step_figures
from calc.model import TableInput
from calc.result import NO_STOP, OK, Table
from calc.worked import leaves_room
from webapp.lines import advice
from webapp.lines.base import Base
from webapp.packs.model import Route
from webapp.packs.read import read_route
from webapp.packs.service import OneTarget, one_target, route_folder, target_keys, train_keys


@click.command("approach")
@click.argument("route")
@click.argument("stop")
@click.option("--train", required=True, help="Train as it runs, for instance disc-4.")
@click.option("--rail", required=True, help="Rail state, for instance damp.")
@click.option("--speed", required=True, type=float, help="Approach speed as posted.")
@click.option("--season/--no-season", default=False, help="Places listed for a season count.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def approach_command(
    route: str, stop: str, train: str, rail: str, speed: float, season: bool, as_json: bool
) -> None:
    """Print one approach of ROUTE to STOP (for instance kettle-bay harrowmere/down)."""
    try:
        figures = work_out(route_folder(route), stop, train, rail, speed, season)
    except (NoSuchThing, LookupError) as problem:
        raise click.UsageError(str(problem.args[0])) from None
    if as_json:
        click.echo(json.dumps(figures, indent=2, allow_nan=False))
        return
    for line in lines(figures):
        click.echo(line)


Json = dict[str, Any]
Case = tuple[int, int, int, int]
NEAREST = 3
#: What a field's name ends in, and the unit that stands for it on paper.
UNITS = {
    "mps2": "m/s²",
    "mps3": "m/s³",
    "mps": "m/s",
    "kg": "kg",
    "N": "N",
    "m": "m",
    "s": "s",
}
STEP_HEADS = {
    "name": "step",
    "rate": "rate m/s²",
    "force": "brake m/s²",
    "wheelset_share": "wheelset share",
    "adhesion_asked": "adhesion asked",
    "adhesion_allowed": "rail allows",
    "slides": "slides",
}


class NoSuchThing(ValueError):
    """A name the route does not know; the message lists those it does."""


def work_out(
    folder: Path, stop: str, train: str, state: str, speed: float, season: bool
) -> Json:
    """Return one approach with every intermediate figure, in SI and as posted.

    Parameters
    ----------
    folder : Path
        The route's folder.
    stop, train, state : str
        Keys of a target, a train as it runs, and a rail state.
    speed : float
        Approach speed in posted units.
    season : bool
        Whether places listed for a season count.

    Raises
    ------
    NoSuchThing
        If the route has no such stop, train or state, or the speed is out of its range.
    RouteFaults
        If the route's files have faults.
    """
    route = read_route(folder)
    _hold_to_names(route, stop, train, state, speed)
    found = one_target(route, stop, train)
    if found is None:
        raise NoSuchThing(f"train '{train}' has no mark at '{stop}'")
    return figures_of(route, found, state, speed, season=season)


def figures_of(
    route: Route, found: OneTarget, state: str, speed: float, *, season: bool
) -> Json:
    """Return the figures of a stop that is computed already; see ``work_out``."""
    given = found.given
    states = [each.key for each in given.states]
    if state not in states:
        raise NoSuchThing(f"no rail state '{state}': one of {', '.join(states)}")
    top = found.variant.type.max_speed
    if not 0 < speed <= top:
        raise NoSuchThing(f"speed {speed:g}: from 1 to {top} {route.head.speed_unit}")
    case = (found.target, int(season), states.index(state), found.train)
    return _figures(route, found, case, speed)


def _hold_to_names(route: Route, stop: str, train: str, state: str, speed: float) -> None:
    """Raise `NoSuchThing` that names every fault of what was asked, one a line."""
    top = max(one.max_speed for one in route.types)
    asked = (
        ("stop", stop, target_keys(route)),
        ("train", train, train_keys(route)),
        ("rail state", state, [one.key for one in route.states]),
    )
    faults = [_unknown(*one) for one in asked if one[1] not in one[2]]
    if not 0 < speed <= top:
        faults.append(f"speed {speed:g}: from 1 to {top} {route.head.speed_unit}")
    if faults:
        raise NoSuchThing("\n".join(faults))


def _unknown(kind: str, key: str, known: list[str]) -> str:
    """Name the nearest; all of them where there are few or none is near."""
    near = difflib.get_close_matches(key, known, n=NEAREST, cutoff=0.5)
    if near and len(known) > NEAREST:
        return f"no {kind} '{key}': nearest are {', '.join(near)}"
    return f"no {kind} '{key}': one of {', '.join(known)}"


def _figures(route: Route, found: OneTarget, case: Case, speed: float) -> Json:
    unit = route.head.mps
    whole = max(1, math.ceil(speed - 1e-9))
    given, table = found.given, found.computed
    target = given.targets[case[0]]
    return {
        "route": route.head.name,
        "stop": target.key,
        "train": found.variant.name,
        "rail_state": given.states[case[2]].key,
        "season": bool(case[1]),
        "approach_speed": {
            "posted": speed,
            "unit": route.head.speed_unit,
            "mps": speed * unit,
        },
        "mark_to_limit_m": target.limit[case[3]] - target.mark[case[3]],
        "card": card(found, case[2], season=bool(case[1])),
        "inputs": _inputs(given, case),
        "steps": [asdict(row) for row in step_figures(given, case[2], case[3], speed * unit)],
        "plan": _plan(given, table, case, unit),
        "result": _result(given, table, case, whole, unit),
        "forward_run": _forward(given, table, case, speed * unit),
        "curve": [_posted(asdict(row), unit) for row in curve_points(given, table, case)],
    }


def card(found: OneTarget, state: int, *, season: bool) -> Json:
    """Return what the card says, looked up in the pack as the tablet does."""
    cell = advice.Cell(found.target, found.train, state, int(season))
    shown = advice.card(Base(found.base), found.table, cell)
    return {
        "first_line": shown.words,
        "met_at_speed": shown.speed,
        "brake_m": shown.brake_m,
        "seconds": shown.seconds,
        "not_above": ", ".join(f"{speed} {where}" for where, speed in shown.speeds),
        "if_worse": shown.worse.words if shown.worse else "no worse rail state",
    }


def _inputs(given: TableInput, case: Case) -> Json:
    train, state, settings = given.trains[case[3]], given.states[case[2]], given.settings
    return {
        "length_m": train.length,
        "mass_kg": train.mass,
        "rotating_share": train.rotating,
        "resistance_N": list(train.resistance),
        "isolated_share": train.isolated_share,
        "dead_time_s": train.dead_time,
        "build_up_mps3": train.ramp,
        "release_mps3": train.release_ramp,
        "adhesion_planned": state.plan,
        "adhesion_slick": state.slick,
        "eta": settings.eta,
        "reaction_s": settings.reaction,
        "cover_asked_m": state.cover_aim,
        "least_deceleration_mps2": settings.least_deceleration,
        "seconds_cap_s": settings.seconds_cap,
        "cell_m": settings.cell,
    }


def _plan(given: TableInput, table: Table, case: Case, unit: float) -> Json:
    steps = given.trains[case[3]].steps
    return {
        "first_step": steps[int(table.step[case])].name,
        "last_step": steps[int(table.last_step[case])].name,
        "aim_short_m": float(table.aim_short[case]),
        "run_in": float(table.run_in[case]) / unit,
        "ease_at": float(table.ease_at[case]) / unit,
        "first_step_left_m_before_mark": _number(table.handle_distance[case]),
        "first_step_left_at": _number(table.handle_speed[case] / unit),
        "last_step_begun_m_before_mark": _number(table.last_distance[case]),
        "expect_wsp": bool(table.expect_wsp[case]),
        "nothing_added": bool(table.nothing_added[case]),
        "less_cover_than_asked": bool(table.less_cover[case]),
        # None where the route asks for none.
        "state_in_hand": None
        if given.settings.quiet_from < 0
        else not table.no_state_in_hand[case],
        "room": not table.no_room[case] if leaves_room(given.settings) else None,
    }


def _result(given: TableInput, table: Table, case: Case, whole: int, unit: float) -> Json:
    at = (*case, whole - 1)
    status = int(table.status[at])
    if status != OK:
        words = "no stop possible" if status == NO_STOP else "not computed"
        return {"status": words}
    brake, cover = float(table.brake[at]), float(table.cover[at])
    return {
        "status": "ok",
        "whole_speed_used": whole,
        "brake_m": brake,
        "brake_rounded_out_m": float(margins.brake_distance_out(brake)),
        "usual_brake_m": _number(table.usual[case[0], case[3], whole - 1]),
        "seconds_lost": float(table.seconds[at]),
        "seconds_lost_rounded_up": float(margins.seconds_up(table.seconds[at])),
        "cover_m": "to the limit" if math.isinf(cover) else _number(cover),
        "met_at_speed": _number(table.approach_speed[case] / unit),
    }


def _forward(given: TableInput, table: Table, case: Case, speed: float) -> Json | None:
    run = forward_run(given, table, case, speed)
    if run is None:
        return None
    return {
        "stands_m_before_mark": float(run.stop[0]),
        "seconds_from_handle": float(run.seconds[0]),
        "applications": int(run.applications[0]),
        "any_wheelset_slid": bool(run.slid[0]),
    }


def _posted(row: Json, unit: float) -> Json:
    """Return a curve point with its speeds in posted units."""
    speeds = ("advised", "usual", "ceiling")
    return {
        name: _number(value / unit if name in speeds else value) for name, value in row.items()
    }


def _number(value: Any) -> float | str | None:
    """Return a number that JSON can carry: unknown is null, endless is a word."""
    if np.isnan(value):
        return None
    return "to the limit" if np.isinf(value) else float(value)


def lines(figures: Json) -> Iterable[str]:
    """Set the figures out for a reader: words and units, the steps and the curve as tables."""
    for name, value in figures.items():
        if name == "curve":
            yield from _curve_lines(value)
        elif name == "steps":
            yield from _step_lines(value)
        elif name == "approach_speed":
            posted = f"{value['posted']:g} {value['unit']}"
            yield f"Approach speed: {posted} ({value['mps']:.4g} m/s)"
        elif isinstance(value, dict):
            yield ""
            yield _label(name)[0]
            yield from (f"  {_said(key, item)}" for key, item in value.items())
        else:
            yield _said(name, value)


def _label(name: str) -> tuple[str, str]:
    """Return a field's name in words, and its unit if its name ends in one."""
    *words, last = name.split("_")
    if words and last in UNITS:
        return " ".join(words).capitalize(), UNITS[last]
    if "m" in words:  # a distance whose name goes on: "stands_m_before_mark"
        words.remove("m")
        return " ".join([*words, last]).capitalize(), "m"
    return " ".join([*words, last]).capitalize(), ""


def _said(name: str, value: Any) -> str:
    label, unit = _label(name)
    if name in ("state_in_hand", "room") and value is None:
        return f"{label}: not asked for by this route"
    number = isinstance(value, int | float) and not isinstance(value, bool)
    text = ", ".join(map(_text, value)) if isinstance(value, list) else _text(value)
    return f"{label}: {text} {unit}".rstrip() if number or unit == "N" else f"{label}: {text}"


def _step_lines(rows: list[Json]) -> Iterable[str]:
    yield ""
    yield "Steps at the approach speed"
    yield "  " + "".join(f"{head:>16}" for head in STEP_HEADS.values())
    for row in rows:
        yield "  " + "".join(f"{_text(row[name]):>16}" for name in STEP_HEADS)


def _curve_lines(rows: list[Json]) -> Iterable[str]:
    if not rows:
        return
    heads = {
        "before": "m before",
        "grade": "g i",
        "listed_share": "listed",
        "advised": "advised",
        "usual": "usual",
        "ceiling": "ceiling",
        "cover": "cover m",
    }
    yield ""
    yield "Curve (grade in m/s², rising positive; speeds as posted)"
    yield "  " + "".join(f"{head:>13}" for head in heads.values())
    for row in rows:
        yield "  " + "".join(f"{_text(row[name]):>13}" for name in heads)


def _text(value: Any) -> str:
    if value is None:
        return "unknown"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float) and abs(value) >= 10_000:
        return f"{value:.0f}"
    return f"{value:.4g}" if isinstance(value, float) else str(value)
