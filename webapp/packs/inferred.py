"""Values that nobody surveyed: marked in the route's files, said in the pack and by doubts."""

from __future__ import annotations

from typing import Any

from webapp.packs.doubt_list import DoubtList
from webapp.packs.model import Route

Json = dict[str, Any]
#: Stretches that touch within this become one in the pack. [m]
TOUCH = 1.0
#: file, what the pack and the tablet call such a value
FILES = {
    "stops.csv": "platform",
    "marks.csv": "mark",
    "not_past.csv": "limit",
    "gradients.csv": "gradient",
    "speeds.csv": "speed",
    "landmarks.csv": "landmark",
}


def _rows(route: Route, file: str) -> list[Any]:
    rows = getattr(route, file.removesuffix(".csv"))
    return [row for row in rows if row.inferred]


def inferred_entries(route: Route) -> list[Json]:
    """Return what the base file says of inferred values, stretches that touch as one."""
    found: list[Json] = []
    for file, what in FILES.items():
        entries = sorted(
            (_entry(what, row) for row in _rows(route, file)),
            key=lambda one: (one["direction"] or "", one["how"], one["from_m"], one["to_m"]),
        )
        for entry in entries:
            last = found[-1] if found else None
            if last and _continues(last, entry):
                last["to_m"] = max(last["to_m"], entry["to_m"])
            else:
                found.append(entry)
    return found


def _entry(what: str, row: Any) -> Json:
    start, end = (row.start, row.end) if hasattr(row, "start") else (row.at, row.at)
    named = getattr(row, "directions", (getattr(row, "direction", None),))
    return {
        "what": what,
        "direction": named[0] if len(named) == 1 else None,
        "from_m": start,
        "to_m": end,
        "how": row.inferred,
    }


def _continues(last: Json, entry: Json) -> bool:
    same = all(last[name] == entry[name] for name in ("what", "direction", "how"))
    return same and entry["from_m"] <= last["to_m"] + TOUCH


def doubt_inferred(route: Route, found: DoubtList) -> None:
    """Ask about inferred values: once for each file and way of guessing."""
    for file, what in FILES.items():
        ways: dict[str, list[Any]] = {}
        for row in _rows(route, file):
            ways.setdefault(row.inferred, []).append(row)
        for how, rows in ways.items():
            first, count = rows[0].row, len(rows)
            which = f"rows {_spans([r.row for r in rows])} are" if count > 1 else "this row is"
            found.add(
                *("inferred", file, first, "inferred"),
                f"{what}: {which} inferred, not surveyed: {how}",
                *("a survey or the line owner's list", how, rows),
            )


def _spans(rows: list[int]) -> str:
    """Return numbers as spans: "2 to 9, 12"."""
    spans: list[list[int]] = []
    for row in sorted(rows):
        if spans and row == spans[-1][1] + 1:
            spans[-1][1] = row
        else:
            spans.append([row, row])
    return ", ".join(f"{a} to {b}" if b > a else f"{a}" for a, b in spans)
