"""What a report proposes for a warning. Every word of it may be typed over."""

from __future__ import annotations

import math
import re
from typing import Any

from calc.constants import CHAIN
from webapp.lines.posts import place_along

Json = dict[str, Any]
# Own choice: a report names a point, a slippery stretch is longer, and most of it lies behind
# the train: it slid before its driver could say so. The desk knows better.
BEHIND_M, AHEAD_M = 600.0, 200.0
BEFORE_STOP_M = 800.0
# So far past its mark a train may stand after an overrun.
PAST_M = 400.0
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
    """Return the next worse state than the driver planned with, where he met worse.

    Where the train ran past its mark or emergency was used, the worst that can be planned
    with: one state worse than planned is a guess, and here a mild guess would harm.
    """
    keys = [state["key"] for state in base["states"]]
    pickable = [state["key"] for state in base["states"] if state.get("pickable", True)]
    if report["found"] == "reportable" and _is_grave(report) and pickable:
        return str(pickable[-1])
    if report["rail_state"] not in keys:
        return None
    worse = 1 if report["found"] == "reportable" else 0
    return str(keys[min(keys.index(report["rail_state"]) + worse, len(keys) - 1)])


def _is_grave(report: Json) -> bool:
    return "overrun" in report["happened"] or report.get("step") == "emergency"


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
    """Return the stretch where the train slid, outward to whole steps."""
    step = STEP_M[base["route"]["distance_unit"]]
    at, before = report["at_m"], _before_stop(base, report)
    named = _stations(base, report.get("place"))
    sign = _sign(base, report["direction"])
    if at is not None and not (before and _is_at_stop(at, before, sign)):
        low, high = sorted((at - sign * BEHIND_M, at + sign * AHEAD_M))
    elif at is None and len(named) == 2:
        low, high = named[0], named[1]
    elif before is not None:
        low, high = before
    else:
        return None
    along = [point[2] for point in base["geometry"]]
    low = max(math.floor(low / step) * step, min(along))
    high = min(math.ceil(high / step) * step, max(along))
    return (low, high) if low <= high else None


def _before_stop(base: Json, report: Json) -> tuple[float, float] | None:
    """Return the stretch before the marks of the stop that a report names; None: no stop."""
    target = next((t for t in base.get("targets", []) if t["key"] == report["target"]), None)
    marks = [mark for mark in (target or {}).get("mark_m", []) if mark is not None]
    if target is None or not marks:
        return None
    back = [mark - _sign(base, target["direction"]) * BEFORE_STOP_M for mark in marks]
    return min(marks + back), max(marks + back)


def _is_at_stop(at: float, before: tuple[float, float], sign: int) -> bool:
    """Whether a train at that place has reached its stop, or runs up to it, or ran past."""
    low, high = sorted(sign * end for end in before)
    return low <= sign * at <= high + PAST_M


def _sign(base: Json, direction: str) -> int:
    return int(next((d["sign"] for d in base["directions"] if d["key"] == direction), 1))
