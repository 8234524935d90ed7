"""Doubts about trains, rail states and settings: numbers that look like a slip of units."""

from __future__ import annotations

from itertools import pairwise

from webapp.packs.doubt_list import DoubtList
from webapp.packs.model import Formation, Route, Step, TrainType

#: Wheelsets of a car with two bogies of its own; most cars of multiple units have four.
WHEELSETS = 4
#: Mass that one wheelset carries, in a car that could run on a main line. [t]
WHEELSET_T = (5.0, 25.0)
#: Length of one car. [m]
CAR_M = (8.0, 30.0)

#: attribute of a train type, lowest and highest that need no second look, unit
_TYPE = (
    ("dead_time_s", 0.1, 3.0, "s"),
    ("build_up_mps3", 0.15, 1.5, "m/s3"),
    ("release_mps3", 0.15, 1.5, "m/s3"),
    ("rotating_percent", 3.0, 20.0, "%"),
    ("acceleration_mps2", 0.3, 1.6, "m/s2"),
)
#: A service step brakes within these. [%g]
RATES = (1.0, 14.0)
#: table and name in route.toml, lowest and highest that need no second look, unit
_SETTINGS = (
    ("physics", "eta", 0.6, 0.95, ""),
    ("physics", "reaction_s", 1.0, 5.0, "s"),
    ("physics", "least_deceleration_mps2", 0.05, 0.3, "m/s2"),
    ("settings", "walking_speed_mps", 0.8, 2.0, "m/s"),
    ("settings", "short_stop_m", 1.0, 20.0, "m"),
    ("settings", "buffer_gap_m", 1.0, 10.0, "m"),
    ("settings", "rail_state_hours", 1.0, 6.0, "h"),
)
_TRAIN = "the maker's or the depot's own figures"


def doubt_stock(route: Route, found: DoubtList) -> None:
    for train in route.types:
        _doubt_type(train, found)
    for state in route.states:
        if state.slick > 0.8 * state.plan:
            message = f"the slick of '{state.key}' has hardly less grip than its rail"
            found.add(
                *("state", "rail_states.toml", state.row, "state.slick"),
                *(message, "both figures and their basis", state.key, state),
            )
    for better, worse in pairwise(route.states):
        if worse.cover_aim_m < better.cover_aim_m:
            message = f"'{worse.key}' asks for less cover than '{better.key}'"
            found.add(
                *("state", "rail_states.toml", worse.row, "state.cover_aim_m"),
                *(message, "both figures and their basis", f"{worse.key} cover"),
                *(worse.cover_aim_m, better.cover_aim_m),
            )
    for table, name, low, high, unit in _SETTINGS:
        value = float(getattr(getattr(route, table), name))
        _doubt_range("route.toml", 0, f"{table}.{name}", value, (low, high), unit, "", found)


def _doubt_range(
    file: str,
    row: int,
    column: str,
    value: float,
    span: tuple[float, float],
    unit: str,
    of: str,
    found: DoubtList,
) -> None:
    if span[0] - 1e-9 <= value <= span[1] + 1e-9:
        return
    name = column.rpartition(".")[2]
    message = (
        f"{name} {value:g} {unit}".rstrip() + f"{of} is outside {span[0]:g} to {span[1]:g}"
    )
    look = _TRAIN if of else "the figure and its unit"
    found.add("range", file, row, column, message, look, f"{column}{of}", value)


def _doubt_type(train: TrainType, found: DoubtList) -> None:
    def unusual(
        column: str, value: float, span: tuple[float, float], unit: str, which: str
    ) -> None:
        of = f" of '{train.key}{which}'"
        _doubt_range("trains.toml", train.row, column, value, span, unit, of, found)

    for name, low, high, unit in _TYPE:
        unusual(f"type.{name}", float(getattr(train, name)), (low, high), unit, "")
    for step in train.steps:
        for speed, rate in step.rates:
            unusual("type.step.rates", rate, RATES, "%g", f" {step.name} from {speed:g}")
    for formation in train.formations:
        _doubt_mass(train, formation, found)
        length = formation.length_m / formation.cars
        unusual("type.formation.length_m", length, CAR_M, "m a car", f"-{formation.key}")
    for light, heavy in pairwise(train.steps):
        _doubt_rising(train, light, heavy, found)


def _doubt_mass(train: TrainType, formation: Formation, found: DoubtList) -> None:
    each = formation.mass_t / (WHEELSETS * formation.cars)
    if not WHEELSET_T[0] <= each <= WHEELSET_T[1]:
        found.add(
            *("weight", "trains.toml", train.row, "type.formation.mass_t"),
            f"{formation.mass_t:g} t on {formation.cars} cars is {each:.1f} t a wheelset"
            f" ({WHEELSETS} a car); 5 to 25 t is usual",
            *("the mass of the whole train, in tonnes", f"{train.key}-{formation.key}"),
            *(formation.mass_t, formation.cars),
        )


def _doubt_rising(train: TrainType, light: Step, heavy: Step, found: DoubtList) -> None:
    """Ask about a heavier step that brakes no harder at some speed, or is hardly heavier."""
    speeds = sorted({speed for step in (light, heavy) for speed, _ in step.rates})
    for speed in speeds:
        lighter, heavier = _rate(light, speed), _rate(heavy, speed)
        if heavier <= lighter:
            found.add(
                *("rates", "trains.toml", train.row, "type.step.rates"),
                f"'{heavy.name}' of '{train.key}' brakes no harder than '{light.name}'"
                f" at {speed:g}: {heavier:g} and {lighter:g} %g",
                *(_TRAIN, f"{train.key} {heavy.name}", light, heavy),
            )
            return


def _rate(step: Step, speed: float) -> float:
    """Return the rate at a speed, straight between the written ones. [%g]"""
    if speed <= step.rates[0][0]:
        return step.rates[0][1]
    for (v0, r0), (v1, r1) in pairwise(step.rates):
        if speed <= v1:
            return r0 + (r1 - r0) * (speed - v0) / (v1 - v0)
    return step.rates[-1][1]
