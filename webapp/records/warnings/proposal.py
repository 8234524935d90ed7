"""What a report proposes for a warning. Every word of it may be typed over."""

from __future__ import annotations

import re
from typing import Any

from webapp.lines.base import Base

Json = dict[str, Any]
# Own choice: a report names a point, a slippery stretch is longer, and most of it lies behind
# the train: it slid before its driver could say so. The desk knows better.
BEHIND_M, AHEAD_M = 600.0, 200.0
BEFORE_STOP_M = 800.0
# So far past its mark a train may stand after an overrun.
PAST_M = 400.0


def from_report(base: Base, report: Json) -> dict[str, Any]:
    """Return what the form of a new warning begins with, field by field."""
    found: dict[str, Any] = {
        "line": base.key,
        "direction": report["direction"],
        "reason": _reason(report),
        "state": _state(base, report),
    }
    ends = _ends(base, report)
    if ends is not None:
        found["from_place"], found["to_place"] = (base.along(end) for end in ends)
    return found


def _reason(report: Json) -> str:
    signs = ", ".join(report["happened"])
    return (signs or f"found {report['found']}")[:200]


def _state(base: Base, report: Json) -> str | None:
    """Return the next worse state than the driver planned with, where he met worse.

    Where the train ran past its mark or emergency was used, the worst that can be planned
    with: one state worse than planned is a guess, and here a mild guess would harm.
    """
    keys = [one.key for one in base.states]
    pickable = [one.key for one in base.pickable]
    if report["found"] == "reportable" and _is_grave(report) and pickable:
        return pickable[-1]
    if report["rail_state"] not in keys:
        return None
    worse = 1 if report["found"] == "reportable" else 0
    return keys[min(keys.index(report["rail_state"]) + worse, len(keys) - 1)]


def _is_grave(report: Json) -> bool:
    return "overrun" in report["happened"] or report.get("step") == "emergency"


def _stations(base: Base, words: str | None) -> list[float]:
    """Return where the stations are that a report's words name, in the order of the posts.

    "Between A and B" comes in the driver's language, so it is known by its two names.
    """
    left, found = words or "", []
    for one in sorted(base.places, key=lambda one: -len(one.name)):
        left, times = re.subn(rf"(?<!\w){re.escape(one.name)}(?!\w)", " ", left)
        if times:
            found.append(one.at_m)
    return sorted(found)


def _ends(base: Base, report: Json) -> tuple[float, float] | None:
    """Return the stretch where the train slid, outward to whole steps."""
    at, before = report["at_m"], _before_stop(base, report)
    named = _stations(base, report.get("place"))
    sign = base.sign(report["direction"])
    if at is not None and not (before and _is_at_stop(at, before, sign)):
        low, high = sorted((at - sign * BEHIND_M, at + sign * AHEAD_M))
    elif at is None and len(named) == 2:
        low, high = named[0], named[1]
    elif before is not None:
        low, high = before
    else:
        return None
    low, high = base.widened(low, high)
    return (low, high) if low <= high else None


def _before_stop(base: Base, report: Json) -> tuple[float, float] | None:
    """Return the stretch before the marks of the stop that a report names; None: no stop."""
    target = base.target(report["target"])
    marks = [mark for mark in target.mark_m if mark is not None] if target else []
    if target is None or not marks:
        return None
    back = [mark - base.sign(target.direction) * BEFORE_STOP_M for mark in marks]
    return min(marks + back), max(marks + back)


def _is_at_stop(at: float, before: tuple[float, float], sign: int) -> bool:
    """Whether a train at that place has reached its stop, or runs up to it, or ran past."""
    low, high = sorted(sign * end for end in before)
    return low <= sign * at <= high + PAST_M
