"""Read a route folder into a frozen ``Route``, or raise every fault found in it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, cast

from webapp.packs import model
from webapp.packs.check_brief import check_brief
from webapp.packs.check_line import (
    check_geometry,
    check_gradients,
    check_landmarks,
    check_speeds,
)
from webapp.packs.check_places import check_places
from webapp.packs.check_stock import check_settings, check_states, check_trains
from webapp.packs.check_trips import check_trips
from webapp.packs.draft import Draft
from webapp.packs.faults import FaultList, RouteFaults
from webapp.packs.fields import as_key
from webapp.packs.fixed_words import NAMED
from webapp.packs.geometry import read_points
from webapp.packs.landmarks import generated_landmarks
from webapp.packs.load import TomlLoader, load_rows
from webapp.packs.references import check_references, with_keys
from webapp.packs.register import LISTED, laid_over, named
from webapp.packs.rows import Table, tables
from webapp.packs.sources import read_rows, read_text, read_toml
from webapp.packs.toml_schemas import (
    DISTANCE_UNITS,
    StateTable,
    TrainTypeTable,
    route_file,
    words_table,
)

ROUTE, TRAINS, STATES = "route.toml", "trains.toml", "rail_states.toml"
WORDS = "words.toml"
GEOMETRY = "line.geojson"


def read_route(folder: Path, register: Sequence[Mapping[str, Any]] = ()) -> model.Route:
    """Return the route of a folder, with a register of places laid over what it lists.

    Raises
    ------
    RouteFaults
        With every fault of the folder, if there is any; nothing half-built escapes.
    """
    faults = FaultList()
    draft = Draft()
    unit = _read_route_file(folder, draft, faults)
    if unit is None:
        _look_at_the_rest(folder, faults)
        faults.raise_if_any()
        raise AssertionError("a route without a unit has a fault")
    for table in tables(unit, draft.dial):
        _read_table(folder, table, draft, faults)
    draft.records[LISTED] = laid_over(draft.rows(LISTED), register)
    _read_trains(folder, draft, faults)
    _read_states(folder, draft, faults)
    _read_words(folder, draft, faults)
    draft.points = read_points(folder, GEOMETRY, unit, faults)
    check_route(draft, faults)
    if faults:
        raise RouteFaults(named(with_keys(faults, draft), register))
    draft.generated = generated_landmarks(draft)
    return draft.route()


def _read_route_file(
    folder: Path, draft: Draft, faults: FaultList
) -> model.DistanceUnit | None:
    read = read_toml(folder, ROUTE, faults)
    if read is None:
        return None
    loader = TomlLoader(ROUTE, *read, faults)
    head = loader.data.get("route")
    named = head.get("distance_unit") if isinstance(head, dict) else None
    unit = cast(model.DistanceUnit, named if named in DISTANCE_UNITS else "km")
    schemas = route_file(unit)
    loader.refuse_unknown(set(schemas))
    for name, (schema, repeated) in schemas.items():
        if repeated:
            draft.keep_many(name, loader.many(name, schema))
        else:
            draft.keep_one(name, loader.one(name, schema))
    draft.names[ROUTE] = _raw_names(loader.data, "direction")
    return unit if named == unit else None


def _look_at_the_rest(folder: Path, faults: FaultList) -> None:
    """Without units no cell can be read, but missing files can still be named."""
    needed = (table.file for table in tables("km", 5) if not table.may_be_missing)
    for file in (TRAINS, STATES, GEOMETRY, *needed):
        read_text(folder, file, faults)


def _read_table(folder: Path, table: Table, draft: Draft, faults: FaultList) -> None:
    rows = read_rows(folder, table, faults)
    if rows is None:
        return
    draft.whole.add(table.file)
    first = next(iter(table.columns))
    # A key with a capital letter has its own fault; what refers to it is right.
    written = {raw.cells[first] for raw in rows}
    draft.keys[table.file] = written | {as_key(key) for key in written}
    draft.names[table.file] = [
        (raw.cells[column], as_key(raw.cells[first]))
        for raw in rows
        for column in ("name", "words")
        if column in raw.cells
    ]
    draft.records[table.file] = load_rows(table, rows, faults)


def _read_trains(folder: Path, draft: Draft, faults: FaultList) -> None:
    read = read_toml(folder, TRAINS, faults)
    if read is None:
        return
    loader = TomlLoader(TRAINS, *read, faults)
    loader.refuse_unknown({"type"})
    draft.whole.add(TRAINS)
    draft.types = [
        _train_type(item, row) for item, row in loader.many("type", TrainTypeTable())
    ]
    draft.keys[TRAINS] = _raw_keys(loader.data, "type")
    draft.names[TRAINS] = _raw_names(loader.data, "type")


def _train_type(item: dict[str, Any], row: int) -> model.TrainType:
    steps = tuple(
        model.Step(
            name=step["name"],
            rates=tuple((speed, rate) for speed, rate in step["rates"]),
            wheelset_share=step["wheelset_share"],
        )
        for step in item.pop("step")
    )
    formations = tuple(
        model.Formation(**formation | {"resistance": tuple(formation["resistance"])})
        for formation in item.pop("formation")
    )
    return model.TrainType(**item, steps=steps, formations=formations, row=row)


def _read_states(folder: Path, draft: Draft, faults: FaultList) -> None:
    read = read_toml(folder, STATES, faults)
    if read is None:
        return
    loader = TomlLoader(STATES, *read, faults)
    loader.refuse_unknown({"state"})
    draft.whole.add(STATES)
    draft.keys[STATES] = _raw_keys(loader.data, "state")
    draft.names[STATES] = _raw_names(loader.data, "state")
    for item, row in loader.many("state", StateTable()):
        for name in ("shape_speeds_kmh", "shape_factors"):
            item[name] = tuple(item[name])
        draft.states.append(model.State(**item, row=row))


def _read_words(folder: Path, draft: Draft, faults: FaultList) -> None:
    """Read the company's fixed words; a route may have none of its own."""
    if not (folder / WORDS).exists():
        return
    read = read_toml(folder, WORDS, faults)
    if read is None:
        return
    loader = TomlLoader(WORDS, *read, faults)
    loader.refuse_unknown(set(NAMED))
    for language in NAMED:
        if language in loader.data:
            draft.words[language] = loader.one(language, words_table(language)) or {}


def _raw_keys(data: dict[str, Any], name: str) -> set[str]:
    """Every key written in the file, also of tables with another fault."""
    items = data.get(name)
    tables = items if isinstance(items, list) else []
    return {str(one.get("key")) for one in tables if isinstance(one, dict)}


def _raw_names(data: dict[str, Any], name: str) -> list[tuple[str, str]]:
    items = data.get(name)
    tables = items if isinstance(items, list) else []
    return [
        (str(one.get("name")), str(one.get("key"))) for one in tables if isinstance(one, dict)
    ]


def check_route(draft: Draft, faults: FaultList) -> None:
    """Note every fault between records that are each right by themselves."""
    check_references(draft, faults)
    check_settings(draft, faults)
    check_gradients(draft, faults)
    check_speeds(draft, faults)
    check_geometry(draft, faults)
    check_landmarks(draft, faults)
    check_places(draft, faults)
    check_states(draft, faults)
    check_trains(draft, faults)
    check_trips(draft, faults)
    check_brief(draft, faults)
