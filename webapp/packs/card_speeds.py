"""Landmark speeds for the card: a few ceilings at real things, spread over the approach."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calc.margins import speed_down
from webapp.packs.model import Landmark

Floats = NDArray[np.float64]

#: Speeds on a card: two for a stop, three down to a buffer stop, one for a lower speed.
WANTED = {"stop": 2, "buffers": 3, "reduction": 1}
#: A post is a poorer mark for a speed than a thing with a name. [dial marks]
_POST_PENALTY = 0.8
#: The wanted speeds of a buffer stop, in dial marks: entry, halfway, last board.
_LADDER = (3, 2, 1)


@dataclass(frozen=True)
class Candidate:
    """A landmark before the stop with the highest speed the plan allows there."""

    index: int
    ahead: float
    kind: str
    exact: float
    rounded: int


def envelope(advised: Floats) -> Floats:
    """Return the lowest plan of this and every better state, (…, state, train, node).

    A worse rail state then never shows a higher speed at the same landmark.
    """
    known = np.where(np.isnan(advised), np.inf, advised)
    return np.asarray(np.minimum.accumulate(known, axis=-3))


def candidates(
    landmarks: Sequence[Landmark],
    seen: Sequence[tuple[int, float]],
    curve: tuple[Floats, Floats],
    brake: float,
    dial: tuple[int, float],
) -> list[Candidate]:
    """Return the landmarks between brake point and mark that a speed can stand at.

    Parameters
    ----------
    seen : sequence of (int, float)
        Index of a landmark and its distance before the mark, in order of travel. [m]
    curve : (numpy.ndarray, numpy.ndarray)
        Nodes before the mark, rising, and the highest speed at each. [m, m/s]
    dial : (int, float)
        Marks of the dial in posted units, and m/s in one unit.
    """
    grid, mps = dial
    out = []
    for index, ahead in seen:
        if not 0 < ahead < brake:
            continue
        speed = _slower_node(curve, ahead)
        if np.isfinite(speed):
            rounded = int(speed_down(speed, mps, grid))
            out.append(Candidate(index, ahead, landmarks[index].kind, speed / mps, rounded))
    return out


def _slower_node(curve: tuple[Floats, Floats], ahead: float) -> float:
    """Return the lower speed of the two nodes beside a place."""
    nodes, speeds = curve
    at = int(np.searchsorted(nodes, ahead))
    beside = speeds[max(at - 1, 0) : at + 1]
    return float(beside.min()) if beside.size else float("inf")


def pick_speeds(
    found: Sequence[Candidate], kind: str, approach: int, floor: int, dial: int
) -> list[list[int]]:
    """Return ``[[landmark index, speed], …]`` in order of travel, speeds falling.

    ``floor`` is the speed wanted at the target itself; a ceiling at or below it, or
    not below the approach speed, would say nothing.
    """
    picked: list[list[int]] = []
    last, ceiling = float("inf"), approach
    for wanted in _wanted(kind, approach, floor, dial):
        usable = [c for c in found if c.ahead < last and floor < c.rounded < ceiling]
        usable = [c for c in usable if abs(c.rounded - wanted) <= max(2 * dial, wanted / 2)]
        if not usable:
            continue
        best = min(usable, key=lambda c: (_score(c, wanted, dial), c.ahead))
        picked.append([best.index, best.rounded])
        last, ceiling = best.ahead, best.rounded
    return picked


def _wanted(kind: str, approach: int, floor: int, dial: int) -> list[float]:
    if kind == "buffers":
        return [float(step * dial) for step in _LADDER]
    count = WANTED[kind]
    span = approach - floor
    return [floor + span * (count - n) / (count + 1) for n in range(count)]


def _score(candidate: Candidate, wanted: float, dial: int) -> float:
    """Prefer the speed wanted, little lost by rounding, and things with a name."""
    lost = candidate.exact - candidate.rounded
    post = _POST_PENALTY * dial if candidate.kind == "post" else 0.0
    return abs(candidate.rounded - wanted) + lost + post
