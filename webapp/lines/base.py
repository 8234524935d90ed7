"""The base of a pack, typed: the one door to what a pack says of its line.

Nobody outside `lines` and `packs` reads a pack's JSON itself (`tests/test_fences.py`).
What each field is says `webapp/packs/FORMAT.md`; fields that nobody asks for are not here.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, fields
from functools import cached_property
from typing import Any, TypeVar

from calc.constants import CHAIN
from webapp.lines.posts import place_along, point_on, stretch_along

Json = dict[str, Any]
Row = TypeVar("Row")
SPEED_UNITS = {"mph": "mph", "kmh": "km/h"}
#: Whole steps in which people name places, by the unit of the posts. [m]
STEP_M = {"mi-ch": 5 * CHAIN, "km": 100.0}


def within_days(first: str, last: str, day: str) -> bool:
    """Whether a day is from a first to a last day of the year, "MM-DD" all three."""
    return first <= day <= last if first <= last else day >= first or day <= last


@dataclass(frozen=True)
class Direction:
    """A way along the line; ``sign`` is +1 where travel is towards rising metres."""

    key: str
    name: str = ""
    sign: int = 1


@dataclass(frozen=True)
class Station:
    """A station or terminus. ``at_m`` along the line [m]."""

    key: str
    name: str = ""
    at_m: float = 0.0


@dataclass(frozen=True)
class Target:
    """What a train brakes for; each tuple has one entry a train of the pack.

    Attributes
    ----------
    kind : str
        "stop", "buffers" or "reduction".
    place : str or None
        Key of its station.
    mark_m, limit_m : tuple
        Stop mark and what must not be passed, along the line; None: the train does not
        stop here. [m]
    reach_m : tuple
        How far before the mark its advice can begin. [m]
    listed : tuple
        Keys of the listed places within reach.
    """

    key: str
    kind: str = "stop"
    place: str | None = None
    name: str = ""
    direction: str = ""
    platform: str | None = None
    mark_m: tuple[float | None, ...] = ()
    limit_m: tuple[float | None, ...] = ()
    reach_m: tuple[float | None, ...] = ()
    listed: tuple[str, ...] = ()

    @property
    def first_mark(self) -> float | None:
        """The mark of the first train that has one. [m]"""
        return next((float(mark) for mark in self.mark_m if mark is not None), None)

    @property
    def words(self) -> str:
        """Its name, with the platform where there are several."""
        return f"{self.name}, platform {self.platform}" if self.platform else self.name


@dataclass(frozen=True)
class State:
    """A rail state of the chain; ``plan`` is the adhesion it plans with."""

    key: str
    name: str = ""
    plan: float = 0.0
    pickable: bool = True


@dataclass(frozen=True)
class Train:
    """A train as it runs; ``steps`` are the names on its brake controller."""

    key: str
    name: str = ""
    type: str = ""
    formation: str = ""
    isolated_cars: int = 0
    length_m: float = 0.0
    steps: tuple[str, ...] = ()


@dataclass(frozen=True)
class Listed:
    """A place known to be slippery; ``season``: first and last day, "MM-DD"; None: always."""

    key: str
    name: str = ""
    from_m: float = 0.0
    to_m: float = 0.0
    directions: tuple[str, ...] = ()
    state: str = ""
    season: tuple[str, str] | None = None
    reason: str = ""
    source: str = ""

    def counts_on(self, day: str) -> bool:
        """Whether it counts on a day, "MM-DD"."""
        return self.season is None or within_days(*self.season, day)


@dataclass(frozen=True)
class Call:
    """A booked stop of a trip; times are "HH:MM" and may pass 24:00."""

    target: str
    arrive: str | None = None
    depart: str | None = None


@dataclass(frozen=True)
class Trip:
    """A trip of the timetable; ``starts`` is the key of its first place."""

    name: str = ""
    direction: str = ""
    train_type: str = ""
    formation: str = ""
    starts: str = ""
    calls: tuple[Call, ...] = ()


@dataclass(frozen=True)
class Assumed:
    """A number of the pack that has no source."""

    what: str
    value: Any
    basis: str


def _made(kind: Callable[..., Row], raw: Json, **read: Any) -> Row:
    """Return a row with the fields that this program knows, lists as tuples."""
    known = {one.name for one in fields(kind)}  # type: ignore[arg-type]
    given = {
        name: tuple(value) if isinstance(value, list) else value
        for name, value in raw.items()
        if name in known
    }
    return kind(**{**given, **read})


@dataclass(frozen=True, eq=False)
class Base:
    """One line as a pack knows it.

    ``file`` is what the pack holds as it stands, for `lines` and `packs` alone.
    """

    file: Json

    @property
    def _route(self) -> Json:
        route: Json = self.file.get("route", {})
        return route

    @property
    def key(self) -> str:
        """The line's key."""
        return str(self._route["key"])

    @property
    def name(self) -> str:
        """The line's name; its key where it has none."""
        return str(self._route.get("name", self._route.get("key", "")))

    @property
    def datum(self) -> str | None:
        """The mileage that its metres count; a place on another one is somewhere else."""
        datum: str | None = self._route.get("datum")
        return datum

    @property
    def distance_unit(self) -> str | None:
        """How its posts count: "mi-ch" or "km"."""
        unit: str | None = self._route.get("distance_unit")
        return unit

    @property
    def speed_unit(self) -> str:
        """The unit of posted speeds: "mph" or "kmh"."""
        return str(self._route["speed_unit"])

    @property
    def speed_words(self) -> str:
        """The unit of posted speeds as people write it."""
        return SPEED_UNITS.get(self._route.get("speed_unit", ""), "")

    @property
    def mps_per_unit(self) -> float:
        """One posted unit of speed. [m/s]"""
        return float(self._route["mps_per_unit"])

    @property
    def dial(self) -> int:
        """Step of the speeds that a card shows. [posted units]"""
        return int(self._route["dial"])

    def _rows(self, name: str, kind: Callable[..., Row]) -> tuple[Row, ...]:
        return tuple(_made(kind, one) for one in self.file.get(name, []))

    @cached_property
    def directions(self) -> tuple[Direction, ...]:
        """Both ways along the line."""
        return self._rows("directions", Direction)

    @cached_property
    def places(self) -> tuple[Station, ...]:
        """Its stations, in the order of the file."""
        return self._rows("places", Station)

    @cached_property
    def targets(self) -> tuple[Target, ...]:
        """What trains brake for: the table's axis of targets."""
        return self._rows("targets", Target)

    @cached_property
    def states(self) -> tuple[State, ...]:
        """The chain of rail states, best first: the table's axis of states."""
        return self._rows("states", State)

    @property
    def pickable(self) -> tuple[State, ...]:
        """The states that a driver may pick, best first."""
        return tuple(one for one in self.states if one.pickable)

    @cached_property
    def trains(self) -> tuple[Train, ...]:
        """The trains as they run: the table's axis of trains."""
        return self._rows("trains", Train)

    @cached_property
    def listed(self) -> tuple[Listed, ...]:
        """The places known to be slippery."""
        return tuple(
            _made(Listed, one, season=(season["from"], season["to"]) if season else None)
            for one in self.file.get("listed", [])
            for season in [one.get("season")]
        )

    @cached_property
    def trips(self) -> tuple[Trip, ...]:
        """The trips of the timetable."""
        return tuple(
            _made(
                Trip,
                one,
                starts=one.get("starts", {}).get("place", ""),
                calls=tuple(_made(Call, call) for call in one["calls"]),
            )
            for one in self.file.get("trips", [])
        )

    @property
    def assumptions(self) -> tuple[Assumed, ...]:
        """Its numbers that have no source."""
        return self._rows("assumptions", Assumed)

    @property
    def leaves_fall(self) -> bool:
        """Whether leaves fall along it; where nobody said, they do."""
        return bool(self.file.get("proposals", {}).get("leafy", True))

    @property
    def way(self) -> list[list[float]]:
        """The line on the map: [lon, lat, metres along it], in order of the metres."""
        return list(self.file.get("geometry") or [])

    @property
    def ends(self) -> tuple[float, float] | None:
        """The lowest and the highest place along it [m]; None where it has no map."""
        along = [float(point[2]) for point in self.way]
        return (min(along), max(along)) if along else None

    def widened(self, low: float, high: float) -> tuple[float, float]:
        """Widen a stretch outward to whole steps, as people name places, inside the line."""
        step, ends = STEP_M[self._route["distance_unit"]], self.ends or (low, high)
        return (
            max(math.floor(low / step) * step, ends[0]),
            min(math.ceil(high / step) * step, ends[1]),
        )

    def sign(self, direction: str) -> int:
        """Return +1 where travel is towards rising metres, or where nobody knows."""
        return next((one.sign for one in self.directions if one.key == direction), 1)

    def target(self, key: str | None) -> Target | None:
        """Return a target by its key."""
        return next((one for one in self.targets if one.key == key), None)

    def along(self, metres: float, *, about: bool = False) -> str:
        """Write a place as this line's posts count it."""
        return place_along(metres, self.distance_unit, about=about)

    def stretch(self, from_m: float, to_m: float) -> str:
        """Write a stretch as this line's posts count it."""
        return stretch_along(from_m, to_m, self.distance_unit)

    def point_at(self, metres: float) -> list[float]:
        """Return [lon, lat] of a place; ValueError if it is not on the line."""
        return point_on(self.way, metres)

    def in_season(self, target: Target, day: str) -> bool:
        """Whether any listed place of a target counts on a local day, "YYYY-MM-DD"."""
        here = [one for one in self.listed if one.key in target.listed]
        return any(one.counts_on(day[5:]) for one in here)

    def stops_within(self, direction: str, from_m: float, to_m: float) -> list[Target]:
        """Return the stops and buffers whose approach a stretch of line reaches into.

        As the tablet does it (static/core/warnings.js `meets`): from the reach before the
        mark to the limit, of any train of the pack.
        """
        sign = self.sign(direction)
        low, high = sorted((sign * from_m, sign * to_m))
        return [
            one
            for one in self.targets
            if one.direction == direction
            and one.kind != "reduction"
            and any(high >= begins and low <= ends for begins, ends in _approaches(one, sign))
        ]


def _approaches(target: Target, sign: int) -> Iterable[tuple[float, float]]:
    """Return begin and end of each train's approach, in the direction of travel."""
    rows = zip(target.mark_m, target.limit_m, target.reach_m, strict=True)
    return [
        (sign * mark - (reach or 0), max(sign * mark, sign * (limit or mark)))
        for mark, limit, reach in rows
        if mark is not None
    ]


def unit_of(base: Base | None) -> str | None:
    """Return how the posts of a line count; None where no pack is known."""
    return None if base is None else base.distance_unit


def name_of(base: Base | None, kind: str, key: str) -> str:
    """Return the name of one of a line's rows ("directions", "states", ...), else its key."""
    rows = () if base is None else getattr(base, kind)
    return next((one.name or key for one in rows if one.key == key), key)


def line_name(base: Base | None, key: str) -> str:
    """Return the name of a line; its key where no pack is known."""
    return key if base is None else base.name


class Lines:
    """The lines of the packs in use, to put names in the place of keys."""

    def __init__(self, bases: Mapping[str, Base]) -> None:
        self.bases = bases

    def unit(self, line: str) -> str | None:
        return unit_of(self.bases.get(line))

    def name(self, line: str) -> str:
        return line_name(self.bases.get(line), line)

    def direction(self, line: str, key: str) -> str:
        return name_of(self.bases.get(line), "directions", key)

    def state(self, line: str, key: str) -> str:
        return name_of(self.bases.get(line), "states", key)

    def stretch(self, line: str, from_m: float, to_m: float) -> str:
        return stretch_along(from_m, to_m, self.unit(line))

    def places_within(self, line: str, from_m: float, to_m: float) -> list[str]:
        """Return the names of the stations in a stretch, so that no one must know posts."""
        low, high = sorted((from_m, to_m))
        base = self.bases.get(line)
        places = () if base is None else base.places
        return [one.name for one in places if low <= one.at_m <= high]
