"""Build a pack: a checked route in, immutable files out; same route, same hashes."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import chain
from typing import Any

from calc.model import TableInput
from calc.table import Table, build_table
from webapp.lines.columns import check_columns
from webapp.packs.abreast import Compute, Progress, compute_tables
from webapp.packs.approach_column import approach_column
from webapp.packs.axes import PackTarget, TrainVariant, target_axis, train_axis
from webapp.packs.base_file import Reach, base_file
from webapp.packs.files import Pack, PackFile, close_pack, pack_file
from webapp.packs.model import Direction, Route
from webapp.packs.pictures_file import picture_columns, pictures_file
from webapp.packs.quantise import knots_for
from webapp.packs.table_file import (
    figure_columns,
    reaches,
    slick_column,
    speed_columns,
    table_file,
)
from webapp.packs.turned import table_input

Json = dict[str, Any]


@dataclass(frozen=True)
class Half:
    """One direction, computed: its targets, the physics' own table, the file's columns."""

    direction: Direction
    targets: tuple[PackTarget, ...]
    given: TableInput
    table: Table
    columns: Json
    reach: tuple[Reach, ...]


@dataclass(frozen=True)
class Computed:
    """A route with both directions computed, before anything is written."""

    route: Route
    trains: tuple[TrainVariant, ...]
    knots: list[int]
    halves: tuple[Half, ...]

    @property
    def targets(self) -> tuple[PackTarget, ...]:
        return tuple(chain.from_iterable(half.targets for half in self.halves))


def compute_route(
    route: Route, progress: Progress | None = None, compute: Compute = build_table
) -> Computed:
    """Compute the braking tables of both directions."""
    trains = train_axis(route)
    targets = target_axis(route, trains)
    knots = knots_for(max(train.type.max_speed for train in trains), route.head.dial)
    inputs = [
        table_input(route, direction, trains, _towards(targets, direction))
        for direction in route.directions
    ]
    names = [direction.name for direction in route.directions]
    tables = compute_tables(names, inputs, progress, compute)
    halves = tuple(
        _half(route, trains, knots, direction, _towards(targets, direction), given, table)
        for direction, given, table in zip(route.directions, inputs, tables, strict=True)
    )
    return Computed(route, trains, knots, halves)


def compute_target(
    route: Route, target: PackTarget, compute: Compute = build_table
) -> Computed:
    """Compute one target of a route, with the speed boards of its direction."""
    trains = train_axis(route)
    knots = knots_for(max(train.type.max_speed for train in trains), route.head.dial)
    direction = route.direction(target.direction)
    here = tuple(
        each
        for each in target_axis(route, trains)
        if each.direction == direction.key and (each.key == target.key or each.to_speed > 0)
    )
    given = table_input(route, direction, trains, here)
    half = _half(route, trains, knots, direction, here, given, compute(given, None))
    return Computed(route, trains, knots, (half,))


def pack_parts(computed: Computed) -> tuple[Json, Json]:
    """Return what the base and the table file hold of what was computed."""
    reach = tuple(chain.from_iterable(half.reach for half in computed.halves))
    base = base_file(computed.route, computed.trains, computed.targets, reach)
    columns = _joined([half.columns for half in computed.halves])
    return base, table_file(computed.route, "", computed.knots, columns)


def _towards(targets: tuple[PackTarget, ...], direction: Direction) -> tuple[PackTarget, ...]:
    return tuple(target for target in targets if target.direction == direction.key)


def _half(
    route: Route,
    trains: tuple[TrainVariant, ...],
    knots: list[int],
    direction: Direction,
    here: tuple[PackTarget, ...],
    given: TableInput,
    table: Table,
) -> Half:
    columns = figure_columns(table, knots, route.head.mps)
    reach = reaches(route, table, columns, trains)
    columns["approach"] = approach_column(table, columns, knots, reach, route.head.mps)
    columns["speeds"] = speed_columns(route, table, columns, knots, here, reach)
    columns["slick"] = slick_column(route, len(here), len(trains))
    check_columns(columns)
    return Half(direction, here, given, table, columns, reach)


def write_pack(computed: Computed, source: PackFile | None = None) -> Pack:
    """Turn a computed route into the files a tablet fetches, with its source beside them."""
    route = computed.route
    reach = tuple(chain.from_iterable(half.reach for half in computed.halves))
    content = base_file(route, computed.trains, computed.targets, reach)
    base = pack_file("base", "base", content)
    columns = _joined([half.columns for half in computed.halves])
    written = table_file(route, base.sha256, computed.knots, columns)
    files = [base, pack_file("table", "table", written)]
    files += [_pictures(computed, base.sha256, v) for v in range(len(computed.trains))]
    return close_pack(route.head.key, route.head.name, files, source)


def _joined(halves: list[Json]) -> Json:
    """Put the directions behind each other on the target axis, under each season."""
    return {
        name: [
            list(chain.from_iterable(half[name][season] for half in halves))
            for season in range(len(halves[0][name]))
        ]
        for name in halves[0]
    }


def _pictures(computed: Computed, base_sha: str, train: int) -> PackFile:
    key = computed.trains[train].key
    mps = computed.route.head.mps
    halves = [picture_columns(half.table, train, mps) for half in computed.halves]
    usual = list(chain.from_iterable(half.pop("usual") for half in halves))
    content = pictures_file(base_sha, key, {"usual": usual} | _joined(halves))
    return pack_file("pictures", f"pictures-{key}", content)


def build_route(
    route: Route,
    progress: Progress | None = None,
    compute: Compute = build_table,
    source: PackFile | None = None,
) -> Pack:
    """Compute a route and write its pack."""
    return write_pack(compute_route(route, progress, compute), source)
