"""Trains, rail states and settings."""

from __future__ import annotations

from itertools import pairwise

from webapp.packs.draft import Draft
from webapp.packs.faults import FaultList
from webapp.packs.levels import NAMES, Figures
from webapp.packs.model import State, TrainType
from webapp.packs.toml_schemas import NEED_BASIS

TRAINS, STATES = "trains.toml", "rail_states.toml"
BASIS_WORDS = ("source:", "assumption:")
#: The flattened train axis stays small enough for a 256 KiB table.
MOST_TRAINS = 7
#: Posts nearer to each other than this are a slip of the pen. [m]
CLOSEST_POSTS = 50.0


def check_settings(draft: Draft, faults: FaultList) -> None:
    settings = draft.settings
    if settings and settings.moving_glance and not settings.moving_glance_approver:
        faults.add(
            *("route.toml", 0, "settings.moving_glance_approver"),
            "moving glance is on but nobody approved it",
            "name the approver or set moving_glance = false",
        )
    if settings and settings.moving_glance and settings.mark_here:
        faults.add(
            *("route.toml", 0, "settings.mark_here"),
            "marking needs a touch, and the card that may be read while moving has none",
            "set mark_here = false, or moving_glance = false",
        )
    _check_numbers(draft, faults)
    for table, row in draft.many.get("assumption", []):
        _check_basis_words("route.toml", row, "assumption.basis", table["basis"], faults)


def _check_numbers(draft: Draft, faults: FaultList) -> None:
    posts, physics = draft.one.get("posts"), draft.one.get("physics")
    if posts and posts["every"] < CLOSEST_POSTS:
        cure = f"give the distance between posts, {CLOSEST_POSTS:g} m or more"
        faults.add("route.toml", 0, "posts.every", "posts can't stand so close", cure)
    for name in ("run_in_speeds", "aim_short_m") if physics else ():
        values = physics[name] if physics else []
        if not values or values != sorted(set(values)):
            problem = "the choices do not rise, or there are none"
            faults.add("route.toml", 0, f"physics.{name}", problem, "list each once, rising")


def _check_basis_words(file: str, row: int, column: str, text: str, faults: FaultList) -> None:
    if not text.startswith(BASIS_WORDS):
        cure = "begin with 'source:' and name it, or with 'assumption:' and say why"
        problem = "the basis says neither source nor assumption"
        faults.add(file, row, column, problem, cure)


def check_states(draft: Draft, faults: FaultList) -> None:
    if STATES not in draft.whole:
        return
    if len(draft.states) < 2 and not faults.has(STATES):
        faults.add(
            STATES, 1, "state", "a chain needs two states or more", "add [[state]] tables"
        )
        return
    for state in draft.states:
        _check_state(state, faults)
    for better, worse in pairwise(draft.states):
        _check_falls(better, worse, faults)
    _check_quiet_from(draft, faults)
    _check_room(draft, faults)
    if draft.states and draft.states[-1].pickable:
        problem = (
            f"'{draft.states[-1].key}' ends the chain: nothing worse could stand beside it"
        )
        cure = "set pickable = false on the last state"
        faults.add(STATES, draft.states[-1].row, "state.pickable", problem, cure)


def _check_room(draft: Draft, faults: FaultList) -> None:
    """A level and figures of its own would contradict each other."""
    physics = draft.one.get("physics")
    if not physics or not physics["room"]:
        return
    quoted = Figures()
    for name in (*NAMES, "strongest_share"):
        if physics[name] != getattr(quoted, name, 1.0):
            problem = f"room = '{physics['room']}' says it already"
            cure = "leave it out, or leave out room"
            faults.add("route.toml", 0, f"physics.{name}", problem, cure)


def _check_quiet_from(draft: Draft, faults: FaultList) -> None:
    """A state that is named must be one of the chain."""
    physics = draft.one.get("physics")
    named = physics["quiet_one_worse_from"] if physics else ""
    keys = [state.key for state in draft.states]
    if named and named not in keys and not faults.has(STATES):
        problem = f"no rail state '{named}' in {STATES}"
        cure = f"name one of {', '.join(keys)}"
        faults.add("route.toml", 0, "physics.quiet_one_worse_from", problem, cure)


def _check_state(state: State, faults: FaultList) -> None:
    _check_basis_words(STATES, state.row, "state.basis", state.basis, faults)
    speeds, factors = state.shape_speeds_kmh, state.shape_factors
    falling = all(b <= a for a, b in pairwise(factors))
    if len(speeds) != len(factors) or list(speeds) != sorted(set(speeds)) or not falling:
        faults.add(
            *(STATES, state.row, "state.shape_factors"),
            f"the shape of '{state.key}' is not one falling factor for each rising speed",
            "take speeds and factors again from their source: one factor for each speed",
        )
    if state.slick > state.plan:
        problem = f"the slick of '{state.key}' has more grip than the rail it surprises"
        faults.add(STATES, state.row, "state.slick", problem, "give a slick below 'plan'")


def _check_falls(better: State, worse: State, faults: FaultList) -> None:
    """Plan adhesion falls along the chain at every speed; the slick never rises."""
    speeds = sorted({*better.shape_speeds_kmh, *worse.shape_speeds_kmh})
    for speed in speeds:
        if _plan_at(worse, speed) >= _plan_at(better, speed):
            problem = f"'{worse.key}' is not below '{better.key}' at {speed:g} km/h"
            cure = "put the states in order, best first, or lower this 'plan'"
            faults.add(STATES, worse.row, "state.plan", problem, cure)
            break
    if worse.slick > better.slick:
        problem = f"the slick of '{worse.key}' is above that of '{better.key}'"
        faults.add(STATES, worse.row, "state.slick", problem, "lower this 'slick'")


def _plan_at(state: State, speed: float) -> float:
    pairs = list(zip(state.shape_speeds_kmh, state.shape_factors, strict=False))
    if speed <= pairs[0][0]:
        return state.plan * pairs[0][1]
    for (v0, f0), (v1, f1) in pairwise(pairs):
        if speed <= v1:
            return state.plan * (f0 + (f1 - f0) * (speed - v0) / (v1 - v0))
    return state.plan * pairs[-1][1]


def check_trains(draft: Draft, faults: FaultList) -> None:
    if TRAINS not in draft.whole:
        return
    for train in draft.types:
        _check_type(train, faults)
    if draft.settings:
        axis = sum(
            int(draft.settings.isolated_limit_share * formation.cars + 1e-9) + 1
            for train in draft.types
            for formation in train.formations
        )
        if axis > MOST_TRAINS:
            problem = f"{axis} trains with isolated cars are more than {MOST_TRAINS}"
            cure = "put some of the trains into a route folder of their own"
            faults.add(TRAINS, 1, "type", problem, cure)


def _check_type(train: TrainType, faults: FaultList) -> None:
    names = [step.name for step in train.steps]
    if train.usual_step not in names:
        problem = f"'{train.usual_step}' is not one of its steps"
        cure = f"write one of {', '.join(names)}"
        faults.add(TRAINS, train.row, "type.usual_step", problem, cure)
    keys = [formation.key for formation in train.formations]
    for what, words in (("step", names), ("formation", keys)):
        if len(set(words)) != len(words) or not words:
            problem = f"the {what}s of '{train.key}' do not each have their own name"
            faults.add(TRAINS, train.row, f"type.{what}", problem, "give each its own name")
    for light, heavy in pairwise(train.steps):
        if heavy.rates[0][1] <= light.rates[0][1]:
            problem = f"'{heavy.name}' does not brake harder than '{light.name}'"
            cure = "put the steps in order, lightest first"
            faults.add(TRAINS, train.row, "type.step.rates", problem, cure)
    for name in NEED_BASIS:
        text = train.basis.get(name, "")
        if not text:
            problem = f"'{name}' of '{train.key}' is a number without a source"
            cure = f"add {name} = 'source: …' or 'assumption: …' under [type.basis]"
            faults.add(TRAINS, train.row, f"type.basis.{name}", problem, cure)
        else:
            _check_basis_words(TRAINS, train.row, f"type.basis.{name}", text, faults)
