"""Minutes a trip against shares of approaches past mark and limit, one point a level."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from webapp.plain.drawing import Frame, Picture, Stem, Stroke

Json = dict[str, Any]
LINES = (("past the limit", "solid", "past_limit"), ("past the mark", "dashed", "past_mark"))
#: Half the width of the bar at an interval's end, in the drawing's units.
BAR = 2.5
#: How far beside its level an interval stands: left the limit's, right the mark's.
BESIDE = 5.0
STEPS = (1, 2, 5, 10, 20)


def draw(rail: Json) -> Picture | None:
    """Draw one rail of a study; None where no level has a figure.

    The first strokes are the lines; each interval is a stroke of its own behind them.
    """
    rows = [row for row in rail["levels"] if row["minutes"] is not None and row["past_mark"]]
    if not rows:
        return None
    minutes = [row["minutes"] for row in rows]
    low, high = math.floor(min(minutes)), math.ceil(max(minutes))
    highest = max(100 * row["past_mark"]["high"] for row in rows)
    up = _step(highest)
    frame = Frame((low, max(high, low + 2)), float(up * math.ceil(highest / up)))
    lines = [
        Stroke(words, kind, frame.line([(r["minutes"], 100 * r[name]["share"]) for r in rows]))
        for words, kind, name in LINES
    ]
    return Picture(
        key=f"room-{rail['key']}",
        title=f"What a second buys, {rail['name']}",
        text="Share of approaches in per cent over minutes a trip, a point for each level; "
        "beside it the intervals, left past the limit, right past the mark. "
        "The table says the same.",
        across="minutes a trip",
        strokes=(*lines, *(bar for row in rows for bar in _intervals(frame, row))),
        x_ticks=frame.x_ticks(_step(max(high - low, 2))),
        y_ticks=frame.y_ticks(up),
        unit="%",
        stems=_stems(frame, minutes),
    )


def _step(span: float) -> int:
    return next((one for one in STEPS if span / one <= 6), 50)


def _intervals(frame: Frame, row: Json) -> list[Stroke]:
    """Return the interval of each share beside its level, with a short bar at both ends."""
    found = []
    for (words, _kind, name), aside in zip(LINES, (-BESIDE, BESIDE), strict=True):
        x = frame.x(row["minutes"]) + aside
        low, high = (frame.y(100 * row[name][end]) for end in ("low", "high"))
        below = [(x - BAR, low), (x + BAR, low), (x, low)]
        above = [(x, high), (x - BAR, high), (x + BAR, high)]
        points = " ".join(f"{a:.1f},{b}" for a, b in below + above)
        found.append(Stroke(words, "solid thin", points))
    return found


def _stems(frame: Frame, minutes: Sequence[float]) -> tuple[Stem, ...]:
    """Number the levels as the table does; levels at the same place share a stem."""
    places: dict[float, list[str]] = {}
    for number, one in enumerate(minutes, start=1):
        places.setdefault(frame.x(one), []).append(str(number))
    named = sorted((at, ", ".join(words)) for at, words in places.items())
    return tuple(
        Stem(at, words, len(named) - 1 - row if Stem(at, "", 0).anchor == "start" else row)
        for row, (at, words) in enumerate(named)
    )
