"""The depot's register of places, laid over the listed places of a route's files by key.

The files stay as they are. An entry of the register takes the place of the row with its
key, is added where there is none, and takes it out where it was retired.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from webapp.packs import model
from webapp.packs.check_places import check_places
from webapp.packs.draft import Draft
from webapp.packs.faults import Fault, FaultList
from webapp.packs.load import load_rows
from webapp.packs.references import check_references
from webapp.packs.rows import tables
from webapp.packs.sources import RawRow

Json = dict[str, Any]
LISTED = "listed.csv"
#: Rows of the register are told apart from those of a file by their numbers.
FIRST = 1_000_000
NAMES = ("key", "name", "direction", "state", "season_from", "season_to", "reason", "source")


def laid_over(
    listed: Sequence[model.Listed], register: Iterable[Mapping[str, Any]]
) -> list[model.Listed]:
    """Return the places of the files with the register's entries laid over them."""
    entries = {entry["key"]: (n, entry) for n, entry in enumerate(register)}
    found = [entries.pop(row.key, (0, row)) for row in listed]
    new = sorted(entries.values(), key=lambda one: (one[1]["from_m"], one[1]["key"]))
    both = [one if isinstance(one, model.Listed) else _row(n, one) for n, one in found + new]
    return [row for row in both if row is not None]


def _row(number: int, entry: Mapping[str, Any]) -> model.Listed | None:
    if entry["retired"]:
        return None
    ends = {"start": entry["from_m"], "end": entry["to_m"], "row": FIRST + number}
    return model.Listed(**{name: entry[name] for name in NAMES}, **ends)


def named(faults: Iterable[Fault], register: Sequence[Mapping[str, Any]]) -> list[Fault]:
    """Say of a fault in the register's entry which place it is about."""
    return [
        Fault(
            f"register of places, '{register[one.row - FIRST]['name']}'",
            *(0, one.column, one.problem, "mend it at the desk, in Places"),
        )
        if one.file == LISTED and one.row >= FIRST
        else one
        for one in faults
    ]


def fit_listed(
    base: Json, cells: Mapping[str, str]
) -> tuple[model.Listed | None, list[tuple[str, str]]]:
    """Check one place, typed as in listed.csv, against the line of a published pack.

    Returns the place, or (column, sentence) of every fault.
    """
    route, faults = base["route"], FaultList()
    table = next(t for t in tables(route["distance_unit"], 5) if t.file == LISTED)
    draft = Draft(whole={LISTED, "rail_states.toml"})
    draft.one["route"] = {**route, "dial": 5}
    draft.many["direction"] = [
        ({**one, "name": "", "sign": "rising" if one["sign"] > 0 else "falling"}, 0)
        for one in base["directions"]
    ]
    draft.states = [
        model.State(one["key"], "", one["plan"], 0, 0, False, "") for one in base["states"]
    ]
    draft.keys["rail_states.toml"] = {state.key for state in draft.states}
    draft.records["gradients.csv"] = [model.Gradient(*_span(base), 0, 0)]
    draft.records[LISTED] = load_rows(table, [RawRow(1, dict(cells))], faults)
    check_references(draft, faults)
    check_places(draft, faults)
    listed = [(one.column, f"{one.problem}. {one.cure}.") for one in faults]
    return (None if listed else draft.records[LISTED][0]), listed


def _span(base: Json) -> tuple[float, float]:
    """Return the two ends of the line's chainage."""
    rows = base.get("gradients")
    if rows:
        return rows[0][0], rows[-1][1]
    along = [point[2] for point in base["geometry"]]
    return min(along), max(along)
