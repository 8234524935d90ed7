"""The columns of every CSV file of a route folder, as marshmallow schemas."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Any

from marshmallow import RAISE, Schema
from marshmallow.fields import Field

from webapp.packs import model
from webapp.packs.fields import (
    Clock,
    Day,
    Distance,
    GradientText,
    Key,
    MonthDay,
    Number,
    PostedSpeed,
    Text,
    Whole,
)
from webapp.packs.fixed_words import NAMED
from webapp.packs.model import DistanceUnit

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
    optional: dict[str, Field[Any]] = field(default_factory=dict)
    """Columns that a file may have or not."""

    @property
    def names(self) -> list[str]:
        return [*self.columns, *self.optional]

    def schema(self, cells: Iterable[str]) -> Schema:
        """Return what a row with these cells must be like."""
        more = {name: self.optional[name] for name in self.optional if name in cells}
        made = Schema.from_dict(self.columns | more, name=f"{self.record.__name__}Row")
        return made(unknown=RAISE)


def _may_be_inferred() -> dict[str, Field[Any]]:
    """Return the column that says how a value was guessed; empty where it was not."""
    return {"inferred": Text(empty=True)}


def tables(unit: DistanceUnit, dial: int) -> tuple[Table, ...]:
    """Return the files of a route whose distances and speeds are in these units."""

    def at(name: str) -> Distance:
        return Distance(unit, attribute=name)

    return (
        *(*_place_tables(at), *_line_tables(at, dial), *_mark_tables(at)),
        *(*_trip_tables(), *_brief_tables(), *_said_tables()),
    )


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
            optional=_may_be_inferred(),
        ),
        Table(
            "marks.csv",
            stop | {"cars": Whole(1, 20), "at": at("at")},
            model.Mark,
            optional=_may_be_inferred(),
        ),
        Table(
            "not_past.csv",
            stop | {"what": Text(choices=NOT_PAST_KINDS), "at": at("at")},
            model.NotPast,
            optional=_may_be_inferred(),
        ),
    )


def _line_tables(at: Callable[[str], Distance], dial: int) -> tuple[Table, ...]:
    return (
        Table(
            "gradients.csv",
            {
                "from": at("start"),
                "to": at("end"),
                "gradient": GradientText(attribute="ratio"),
            },
            model.Gradient,
            optional=_may_be_inferred(),
        ),
        Table(
            "heights.csv",
            {"at": at("at"), "height": Number(-500, 5000, unit="m")},
            model.Height,
            may_be_empty=True,
            may_be_missing=True,
        ),
        Table(
            "speeds.csv",
            {
                "direction": Key(),
                "from": at("start"),
                "to": at("end"),
                "speed": PostedSpeed(dial),
            },
            model.Speed,
            optional=_may_be_inferred(),
        ),
    )


def _mark_tables(at: Callable[[str], Distance]) -> tuple[Table, ...]:
    return (
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
            optional=_may_be_inferred(),
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
    """Return the lists for the Brief; a route may leave them out."""
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
            may_be_empty=True,
            may_be_missing=True,
        ),
        Table(
            "brake_tests.csv",
            {"landmark": Key(), "direction": Key(), "note": Text(empty=True)},
            model.BrakeTest,
            may_be_empty=True,
            may_be_missing=True,
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
            may_be_empty=True,
            may_be_missing=True,
        ),
    )


def _said_tables() -> tuple[Table, ...]:
    """Return the files in which people say something of what stands in the others."""
    return (
        Table(
            "names.csv",
            {"language": Text(choices=tuple(NAMED)), "words": Text(), "say": Text()},
            model.Name,
            may_be_empty=True,
            may_be_missing=True,
        ),
        Table(
            "confirmed.csv",
            {
                "code": Key(),
                "file": Text(),
                "place": Text(),
                "who": Text(),
                "on": Day(required=True),
                "reason": Text(),
            },
            model.Confirmed,
            may_be_empty=True,
            may_be_missing=True,
        ),
    )


def landmark(*, directions: str, **rest: Any) -> model.Landmark:
    """Make a landmark; several directions stand in one cell with spaces between."""
    return model.Landmark(directions=tuple(directions.split()), **rest)
