"""Numbers without a source, as packs state them, in words that a driver reads."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from calc.assumptions import assumptions as plan_assumptions
from calc.recorder.assumptions import assumptions as recorder_assumptions
from calc.risk.errors import assumptions as error_assumptions
from calc.slide.assumptions import assumptions as slide_assumptions
from calc.weather.assumptions import assumptions as weather_assumptions
from webapp.lines.base import Assumed, Base
from webapp.packs.levels import assumptions as level_assumptions
from webapp.pages.checks.desk_app import assumptions as desk_assumptions
from webapp.pages.checks.tablet_app import assumptions as app_assumptions

PREFIX = "assumption:"
GENERAL, RAIL = "All trains and rails", "Rail states"

#: A train type's figures: what they are called here and their unit.
FIGURES = {
    "acceleration_mps2": (
        "acceleration when starting, never less than it has",
        "m/s\N{SUPERSCRIPT TWO}",
    ),
    "build_up_mps3": ("build-up of brake force", "m/s\N{SUPERSCRIPT THREE}"),
    "dead_time_s": ("from the brake controller to the first brake force", "s"),
    "isolated_share": ("share of the brakes isolated", ""),
    "length_m": ("length, by formation", "m"),
    "mass_t": ("mass, by formation", "t"),
    "max_speed": ("top speed", ""),
    "rates": ("rate of each step, by speed", ""),
    "release_mps3": ("release of brake force", "m/s\N{SUPERSCRIPT THREE}"),
    "resistance": ("running resistance A, B, C, by formation", "N, N/(m/s), N/(m/s)²"),
    "rotating_percent": ("rotating mass", "%"),
    "wheelset_share": ("share of the weight on braked wheelsets, by step", ""),
}


@dataclass(frozen=True)
class Assumption:
    """One number that no source stands behind, and the lines it is used on."""

    what: str
    value: str
    basis: str
    lines: tuple[str, ...]


@dataclass(frozen=True)
class Group:
    """The assumptions about one thing, for instance one train type."""

    name: str
    entries: tuple[Assumption, ...]


def grouped(bases: Iterable[Base]) -> list[Group]:
    """Return every assumption of these packs once, by what it is about."""
    used: dict[tuple[str, str, str, str], list[str]] = {}
    for base in bases:
        for entry in base.assumptions:
            on = used.setdefault(_worded(entry, base.speed_words), [])
            if base.name not in on:
                on.append(base.name)
    groups: dict[str, list[Assumption]] = {}
    for (name, what, value, basis), on in used.items():
        groups.setdefault(name, []).append(Assumption(what, value, basis, tuple(on)))
    return [Group(name, tuple(entries)) for name, entries in groups.items()]


def of_the_program() -> list[Group]:
    """Return what calculation and app themselves assume, whatever the line.

    What no page and no command uses is not here.
    """
    parts = (
        ("Where braking begins", plan_assumptions()),
        ("Rail state proposed from weather", weather_assumptions()),
        ("Slides, disc and tread", slide_assumptions()),
        ("Grip from a recorder", recorder_assumptions()),
        ("Levels of room, and what they are tried with", _of_room()),
        ("The tablet app", app_assumptions()),
        ("The desk", desk_assumptions()),
    )
    return [
        Group(
            name,
            tuple(
                Assumption(what, value, basis.removeprefix(PREFIX).strip(), ())
                for what, value, basis in rows
                if _without_source(basis)
            ),
        )
        for name, rows in parts
    ]


def _of_room() -> tuple[tuple[str, str, str], ...]:
    return (*level_assumptions(), *error_assumptions())


def _without_source(basis: str) -> bool:
    """Whether nothing that anybody could look up stands behind a number."""
    return basis.startswith("assumption") or "from memory" in basis or "no source" in basis


def _worded(entry: Assumed, speed_unit: str) -> tuple[str, str, str, str]:
    """Return group, what, value and basis of one entry in plain words."""
    what, value = entry.what, str(entry.value)
    basis = entry.basis.removeprefix(PREFIX).strip()
    about, _, field = what.rpartition(": ")
    if field in FIGURES:
        words, unit = FIGURES[field]
        unit = {"max_speed": speed_unit, "rates": f"({speed_unit})"}.get(field, unit)
        return (
            about,
            words,
            f"{value.replace('.0;', ';').removesuffix('.0')} {unit}".strip(),
            basis,
        )
    return (RAIL if what.startswith("Rail state ") else GENERAL), what, value, basis
