"""Keys: each said once, and each reference to one that exists."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace
from difflib import get_close_matches
from typing import Any

from webapp.packs.draft import Draft
from webapp.packs.faults import Fault, FaultList

_NOT_A_KEY = re.compile(r"'(.+)' is not a key$")

#: file, column of the reference, attribute, file that defines it
_REFERENCES = (
    ("stops.csv", "station", "station", "stations.csv"),
    ("stops.csv", "direction", "direction", "route.toml"),
    ("marks.csv", "station", "station", "stations.csv"),
    ("marks.csv", "direction", "direction", "route.toml"),
    ("not_past.csv", "station", "station", "stations.csv"),
    ("not_past.csv", "direction", "direction", "route.toml"),
    ("speeds.csv", "direction", "direction", "route.toml"),
    ("listed.csv", "direction", "direction", "route.toml"),
    ("listed.csv", "state", "state", "rail_states.toml"),
    ("trips.csv", "direction", "direction", "route.toml"),
    ("trips.csv", "type", "train_type", "trains.toml"),
    ("calls.csv", "trip", "trip", "trips.csv"),
    ("calls.csv", "station", "station", "stations.csv"),
    ("signals.csv", "signal", "signal", "landmarks.csv"),
    ("signals.csv", "direction", "direction", "route.toml"),
    ("signals.csv", "stop_before", "stop_before", "landmarks.csv"),
    ("brake_tests.csv", "landmark", "landmark", "landmarks.csv"),
    ("brake_tests.csv", "direction", "direction", "route.toml"),
    ("doors.csv", "station", "station", "stations.csv"),
    ("doors.csv", "direction", "direction", "route.toml"),
)

#: file, columns that together may stand only once, attributes
_UNIQUE = (
    ("stations.csv", "key", ("key",)),
    ("stops.csv", "station", ("station", "direction")),
    ("marks.csv", "cars", ("station", "direction", "cars")),
    ("not_past.csv", "what", ("station", "direction", "what")),
    ("landmarks.csv", "key", ("key",)),
    ("listed.csv", "key", ("key",)),
    ("trips.csv", "trip", ("key",)),
    ("calls.csv", "station", ("trip", "station")),
    ("signals.csv", "signal", ("signal", "direction")),
    ("brake_tests.csv", "landmark", ("landmark", "direction")),
    ("doors.csv", "cars", ("station", "direction", "cars")),
    ("names.csv", "words", ("language", "words")),
)

_PLACES = ("marks.csv", "not_past.csv")
#: Taking out the nearer of two would let a train stop, or be advised to brake, later.
_TWO_PLACES = "find out which one is right; until then keep the one that a train meets first"


def check_references(draft: Draft, faults: FaultList) -> None:
    _check_directions(draft, faults)
    for file, column, attributes in _UNIQUE:
        _once(draft.rows(file), file, column, attributes, faults)
    _once(draft.states, "rail_states.toml", "state.key", ("key",), faults)
    _once(draft.types, "trains.toml", "type.key", ("key",), faults)
    known = {file: keys for file, keys in draft.keys.items() if file in draft.whole}
    if draft.directions:
        known["route.toml"] = {direction.key for direction in draft.directions}
    for file, column, attribute, source in _REFERENCES:
        if source in known:
            _exists(draft.rows(file), file, column, attribute, (source, known[source]), faults)
    _check_landmark_directions(draft, faults)


def _once(
    records: Iterable[Any], file: str, column: str, names: tuple[str, ...], faults: FaultList
) -> None:
    seen: dict[tuple[Any, ...], int] = {}
    for record in records:
        identity = tuple(getattr(record, name) for name in names)
        if identity in seen:
            words = " ".join(str(part) for part in identity)
            problem = f"'{words}' stood in row {seen[identity]} already"
            cure = _TWO_PLACES if file in _PLACES else "take one out or give it its own key"
            faults.add(file, record.row, column, problem, cure)
        seen.setdefault(identity, record.row)


def _exists(
    records: Iterable[Any],
    file: str,
    column: str,
    attribute: str,
    source: tuple[str, set[str]],
    faults: FaultList,
) -> None:
    name, keys = source
    for record in records:
        key = getattr(record, attribute)
        if key not in keys:
            near = get_close_matches(key, sorted(keys), 1)
            like = f" ('{near[0]}'?)" if near else ""
            problem = f"'{key}' is not in {name}"
            cure = f"mend the spelling{like} or add '{key}' to {name}"
            faults.add(file, record.row, column, problem, cure)


def with_keys(faults: Iterable[Fault], draft: Draft) -> list[Fault]:
    """Name the key where somebody wrote the name of a thing."""
    sources = {(file, column): source for file, column, _, source in _REFERENCES}
    return [
        _with_key(fault, sources.get((fault.file, fault.column)), draft) for fault in faults
    ]


def _with_key(fault: Fault, source: str | None, draft: Draft) -> Fault:
    written = _NOT_A_KEY.match(fault.problem)
    if not written or source is None:
        return fault
    found = {key for name, key in draft.names.get(source, []) if _same(name, written[1])}
    if len(found) != 1:
        return fault
    key = found.pop()
    problem = f"'{written[1]}' is a name, not a key"
    return replace(fault, problem=problem, cure=f"write its key, '{key}', as in {source}")


def _same(one: str, other: str) -> bool:
    return one.casefold().split() == other.casefold().split()


def _check_directions(draft: Draft, faults: FaultList) -> None:
    rows = draft.many.get("direction", [])
    signs = sorted(table["sign"] for table, _ in rows)
    keys = {table["key"] for table, _ in rows}
    if rows and (signs != ["falling", "rising"] or len(keys) != 2):
        faults.add(
            *("route.toml", rows[-1][1], "direction"),
            "the line does not have one rising and one falling direction with their own keys",
            'give two [[direction]] tables, sign = "rising" and sign = "falling"',
        )


def _check_landmark_directions(draft: Draft, faults: FaultList) -> None:
    known = {direction.key for direction in draft.directions}
    for landmark in draft.rows("landmarks.csv"):
        for key in set(landmark.directions) - known if known else ():
            cure = f"write {' '.join(sorted(known))}, or one of them"
            faults.add(
                *("landmarks.csv", landmark.row, "directions"),
                *(f"'{key}' is not a direction of route.toml", cure),
            )
