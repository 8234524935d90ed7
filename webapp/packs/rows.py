"""The columns of every CSV file of a route folder, as marshmallow schemas."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from marshmallow import RAISE, Schema
from marshmallow.fields import Field

from . import model
from .fields import Clock, Distance, GradientText, Key, MonthDay, Text, Whole
from .model import DistanceUnit

STATION_KINDS = ("station", "terminus")
STOP_KINDS = ("stop", "buffers")
NOT_PAST_KINDS = ("platform end", "signal", "crossing", "points", "buffer stop")
LANDMARK_KINDS = (
    *("bridge", "crossing", "signal", "tunnel", "board", "cutting"),
    *("ramp", "points", "building", "viaduct", "post"),
)


@dataclass(frozen=True)
class Table:
    """One CSV file: its columns and the record each row becomes."""

    file: str
    columns: dict[str, Field[Any]]
    record: Callable[..., Any]
    may_be_empty: bool = False
    may_be_missing: bool = False

    def schema(self) -> Schema:
        made = Schema.from_dict(dict(self.columns), name=f"{self.record.__name__}Row")
        return made(unknown=RAISE)


def tables(unit: DistanceUnit, dial: int) -> tuple[Table, ...]:
    """Return the files of a route whose distances and speeds are in these units."""

    def at(name: str) -> Distance:
        return Distance(unit, attribute=name)

    return (*_place_tables(at), *_line_tables(at, dial), *_trip_tables(), *_brief_tables())


def _place_tables(at: Callable[[str], Distance]) -> tuple[Table, ...]:
    stop = {"station": Key(), "direction": Key()}
    return (
        Table(
            "stations.csv",
            {
                "key": Key(),
                "name": Text(),
                "kind": Text(choices=STATION_KINDS),
                "at": at("at"),
            },
            model.Station,
        ),
        Table(
            "stops.csv",
            stop
            | {
                "platform": Text(),
                "kind": Text(choices=STOP_KINDS),
                "from": at("start"),
                "to": at("end"),
                "note": Text(empty=True),
            },
            model.Stop,
        ),
        Table("marks.csv", stop | {"cars": Whole(1, 20), "at": at("at")}, model.Mark),
        Table(
            "not_past.csv",
            stop | {"what": Text(choices=NOT_PAST_KINDS), "at": at("at")},
            model.NotPast,
        ),
    )


def _line_tables(at: Callable[[str], Distance], dial: int) -> tuple[Table, ...]:
    speed = Whole(dial, 400, step=dial, unit="posted units")
    return (
        Table(
            "gradients.csv",
            {
                "from": at("start"),
                "to": at("end"),
                "gradient": GradientText(attribute="ratio"),
            },
            model.Gradient,
        ),
        Table(
            "speeds.csv",
            {"direction": Key(), "from": at("start"), "to": at("end"), "speed": speed},
            model.Speed,
        ),
        Table(
            "landmarks.csv",
            {
                "key": Key(),
                "name": Text(),
                "kind": Text(choices=LANDMARK_KINDS),
                "at": at("at"),
                "directions": Text(),
                "words": Text(),
            },
            landmark,
        ),
        Table(
            "listed.csv",
            {
                "key": Key(),
                "name": Text(),
                "direction": Key(),
                "from": at("start"),
                "to": at("end"),
                "state": Key(),
                "season_from": MonthDay(required=True),
                "season_to": MonthDay(required=True),
                "reason": Text(),
                "source": Text(),
            },
            model.Listed,
            may_be_empty=True,
        ),
    )


def _trip_tables() -> tuple[Table, ...]:
    return (
        Table(
            "trips.csv",
            {
                "trip": Key(attribute="key"),
                "name": Text(),
                "direction": Key(),
                "type": Key(attribute="train_type"),
                "formation": Key(),
            },
            model.Trip,
        ),
        Table(
            "calls.csv",
            {
                "trip": Key(),
                "station": Key(),
                "arrive": Clock(required=True),
                "depart": Clock(required=True),
                "note": Text(empty=True),
            },
            model.Call,
        ),
    )


def _brief_tables() -> tuple[Table, ...]:
    """Return the files a route may leave out: what the Brief says beside the figures."""
    may_lack = {"may_be_empty": True, "may_be_missing": True}
    return (
        Table(
            "signals.csv",
            {
                "signal": Key(),
                "direction": Key(),
                "stop_before": Key(),
                "note": Text(empty=True),
            },
            model.SignalStop,
            **may_lack,
        ),
        Table(
            "brake_tests.csv",
            {"landmark": Key(), "direction": Key(), "note": Text(empty=True)},
            model.BrakeTest,
            **may_lack,
        ),
        Table(
            "doors.csv",
            {
                "station": Key(),
                "direction": Key(),
                "cars": Whole(1, 20),
                "open_front": Whole(1, 20),
            },
            model.Doors,
            **may_lack,
        ),
    )


def landmark(*, directions: str, **rest: Any) -> model.Landmark:
    """Make a landmark; several directions stand in one cell with spaces between."""
    return model.Landmark(directions=tuple(directions.split()), **rest)
