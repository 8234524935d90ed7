"""What a report proposes for a warning. Every word of it may be typed over."""

from __future__ import annotations

import math
import re
from typing import Any

from calc.constants import CHAIN
from webapp.lines.posts import place_along

Json = dict[str, Any]
# Own choice: a report names a point, a slippery stretch is longer. The desk knows better.
SPREAD_M = 400.0
BEFORE_STOP_M = 800.0
STEP_M = {"mi-ch": 5 * CHAIN, "km": 100.0}


def from_report(base: Json, report: Json) -> dict[str, Any]:
    """Return what the form of a new warning begins with, field by field."""
    found: dict[str, Any] = {
        "line": base["route"]["key"],
        "direction": report["direction"],
        "reason": _reason(report),
        "state": _state(base, report),
    }
    ends = _ends(base, report)
    if ends is not None:
        found["from_place"], found["to_place"] = (
            place_along(end, base["route"]["distance_unit"]) for end in ends
        )
    return found


def _reason(report: Json) -> str:
    signs = ", ".join(report["happened"])
    return (signs or f"found {report['found']}")[:200]


def _state(base: Json, report: Json) -> str | None:
    """Return the next worse state than the driver planned with, where he met worse."""
    keys = [state["key"] for state in base["states"]]
    if report["rail_state"] not in keys:
        return None
    worse = 1 if report["found"] == "reportable" else 0
    return str(keys[min(keys.index(report["rail_state"]) + worse, len(keys) - 1)])


def _stations(base: Json, words: str | None) -> list[float]:
    """Return where the stations are that a report's words name, in the order of the posts.

    "Between A and B" comes in the driver's language, so it is known by its two names.
    """
    left, found = words or "", []
    for one in sorted(base.get("places", []), key=lambda one: -len(one["name"])):
        left, times = re.subn(rf"(?<!\w){re.escape(one['name'])}(?!\w)", " ", left)
        if times:
            found.append(float(one["at_m"]))
    return sorted(found)


def _ends(base: Json, report: Json) -> tuple[float, float] | None:
    """Return a stretch round the place of the report, outward to whole steps."""
    step = STEP_M[base["route"]["distance_unit"]]
    at = report["at_m"]
    named = _stations(base, report.get("place"))
    if at is not None:
        low, high = at - SPREAD_M, at + SPREAD_M
    elif len(named) == 2:
        low, high = named[0], named[1]
    else:
        target = next((t for t in base["targets"] if t["key"] == report["target"]), None)
        marks = [mark for mark in (target or {}).get("mark_m", []) if mark is not None]
        if target is None or not marks:
            return None
        sign = next(d["sign"] for d in base["directions"] if d["key"] == target["direction"])
        back = [mark - sign * BEFORE_STOP_M for mark in marks]
        low, high = min(marks + back), max(marks + back)
    along = [point[2] for point in base["geometry"]]
    low = max(math.floor(low / step) * step, min(along))
    high = min(math.ceil(high / step) * step, max(along))
    return (low, high) if low <= high else None
