"""A route as read from its folder: frozen, checked, in SI, with the row it came from.

``at`` is metres along the line's own chainage. Speeds stay in posted whole units, the
only numbers a driver sees on the line; ``Units.mps`` turns them into m/s at the edge
of the calculation.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from calc.constants import KMH, MPH

DistanceUnit = Literal["mi-ch", "km"]
SpeedUnit = Literal["mph", "kmh"]
MPS_PER_UNIT = {"mph": MPH, "kmh": KMH}


@dataclass(frozen=True)
class Head:
    key: str
    name: str
    distance_unit: DistanceUnit
    speed_unit: SpeedUnit
    dial: int
    mark_limit_m: float
    datum: str
    line_from: float
    line_to: float

    @property
    def mps(self) -> float:
        return MPS_PER_UNIT[self.speed_unit]


@dataclass(frozen=True)
class Direction:
    key: str
    name: str
    sign: int


@dataclass(frozen=True)
class Posts:
    every: float


@dataclass(frozen=True)
class Settings:
    moving_glance: bool
    moving_glance_approver: str
    rail_state_hours: float
    walking_speed_mps: float
    short_stop_m: float
    isolated_limit_share: float
    reduction_card_seconds: int
    reduction_drop: int
    buffer_gap_m: float
    trip_allowance_words: str
    mark_here: bool = False
    #: A driver is told the length of a covered patch from here on; shorter ones in words. [m]
    cover_figure_m: float = 150.0
    #: Whether leaves fall on the line; None: nobody said.
    leaf_fall: bool | None = None


@dataclass(frozen=True)
class Physics:
    eta: float
    reaction_s: float
    least_deceleration_mps2: float
    seconds_cap_s: float
    run_in_speeds: tuple[int, ...]
    aim_short_m: tuple[float, ...]
    #: Key of a rail state; nothing: no state in hand is asked for.
    quiet_one_worse_from: str = ""
    #: What plans are worked with; as here, they are worked with the quoted figures.
    brake_share: float = 1.0
    strongest_share: float = 1.0
    late_s: float = 0.0
    slow_s: float = 0.0
    slide_eta: float = 0.0
    #: Key of the level of room whose figures stand above; nothing: figures of its own.
    room: str = ""


@dataclass(frozen=True)
class Assumption:
    what: str
    value: str
    basis: str


@dataclass(frozen=True)
class Station:
    key: str
    name: str
    kind: str
    at: float
    row: int


@dataclass(frozen=True)
class Stop:
    station: str
    direction: str
    platform: str
    kind: str
    start: float
    end: float
    note: str
    row: int
    inferred: str = ""


@dataclass(frozen=True)
class Mark:
    station: str
    direction: str
    cars: int
    at: float
    row: int
    inferred: str = ""


@dataclass(frozen=True)
class NotPast:
    station: str
    direction: str
    what: str
    at: float
    row: int
    inferred: str = ""


@dataclass(frozen=True)
class Gradient:
    start: float
    end: float
    ratio: float
    row: int
    inferred: str = ""

    @property
    def length(self) -> float:
        return self.end - self.start


@dataclass(frozen=True)
class Height:
    """A height of the rail above any one level, from a source other than the gradients."""

    at: float
    height: float
    row: int


@dataclass(frozen=True)
class Speed:
    direction: str
    start: float
    end: float
    speed: int
    row: int
    inferred: str = ""


@dataclass(frozen=True)
class Landmark:
    key: str
    name: str
    kind: str
    at: float
    directions: tuple[str, ...]
    words: str
    row: int = 0
    stop: tuple[str, str] | None = None
    """(station, direction) where the words only make sense for that stop: its ramps."""
    inferred: str = ""


@dataclass(frozen=True)
class Listed:
    key: str
    name: str
    direction: str
    start: float
    end: float
    state: str
    season_from: str
    season_to: str
    reason: str
    source: str
    row: int


@dataclass(frozen=True)
class SignalStop:
    """A signal often met at danger, and the landmark to have stopped before."""

    signal: str
    direction: str
    stop_before: str
    note: str
    row: int


@dataclass(frozen=True)
class BrakeTest:
    """Where a running brake test is due."""

    landmark: str
    direction: str
    note: str
    row: int


@dataclass(frozen=True)
class Doors:
    """A platform shorter than a train: only the front cars' doors open."""

    station: str
    direction: str
    cars: int
    open_front: int
    row: int


@dataclass(frozen=True)
class Name:
    """What a name or a word of this line is called in another language."""

    language: str
    words: str
    say: str
    row: int


@dataclass(frozen=True)
class State:
    key: str
    name: str
    plan: float
    slick: float
    cover_aim_m: float
    pickable: bool
    basis: str
    shape_speeds_kmh: tuple[float, ...] = (0.0,)
    shape_factors: tuple[float, ...] = (1.0,)
    row: int = 0


@dataclass(frozen=True)
class Step:
    name: str
    rates: tuple[tuple[float, float], ...]
    wheelset_share: float


@dataclass(frozen=True)
class Formation:
    key: str
    cars: int
    length_m: float
    mass_t: float
    resistance: tuple[float, float, float]


@dataclass(frozen=True)
class TrainType:
    key: str
    name: str
    older: bool
    max_speed: int
    dead_time_s: float
    build_up_mps3: float
    release_mps3: float
    rotating_percent: float
    acceleration_mps2: float
    usual_step: str
    slide_words: str
    steps: tuple[Step, ...]
    formations: tuple[Formation, ...]
    basis: dict[str, str] = field(hash=False)
    row: int = 0


@dataclass(frozen=True)
class Trip:
    key: str
    name: str
    direction: str
    train_type: str
    formation: str
    row: int


@dataclass(frozen=True)
class Call:
    trip: str
    station: str
    arrive: str
    depart: str
    note: str
    row: int


@dataclass(frozen=True)
class Point:
    lon: float
    lat: float
    at: float
    row: int


@dataclass(frozen=True)
class Confirmed:
    """Somebody looked a doubt up and says that the row is right."""

    code: str
    file: str
    place: str
    who: str
    on: str
    reason: str
    row: int


@dataclass(frozen=True)
class Route:
    head: Head
    directions: tuple[Direction, ...]
    posts: Posts
    settings: Settings
    physics: Physics
    assumptions: tuple[Assumption, ...]
    stations: tuple[Station, ...]
    stops: tuple[Stop, ...]
    marks: tuple[Mark, ...]
    not_past: tuple[NotPast, ...]
    gradients: tuple[Gradient, ...]
    speeds: tuple[Speed, ...]
    landmarks: tuple[Landmark, ...]
    listed: tuple[Listed, ...]
    states: tuple[State, ...]
    types: tuple[TrainType, ...]
    trips: tuple[Trip, ...]
    calls: tuple[Call, ...]
    points: tuple[Point, ...]
    signals: tuple[SignalStop, ...] = ()
    brake_tests: tuple[BrakeTest, ...] = ()
    doors: tuple[Doors, ...] = ()
    names: tuple[Name, ...] = ()
    words: Mapping[str, Mapping[str, str]] = field(default_factory=dict, hash=False)
    """The company's fixed words by language and code; where there is none, the app's stand."""
    heights: tuple[Height, ...] = ()
    confirmed: tuple[Confirmed, ...] = ()

    def station(self, key: str) -> Station:
        return next(s for s in self.stations if s.key == key)

    def direction(self, key: str) -> Direction:
        return next(d for d in self.directions if d.key == key)

    def calls_of(self, trip: str) -> tuple[Call, ...]:
        return tuple(c for c in self.calls if c.trip == trip)


Record = dict[str, Any]
