"""An application of the brake cut into pieces of line; where the rail was the limit, apart.

A slide that is too short says only that the rail gave at least what was used.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from .trace import Flags, Trace

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

#: Shortest pause of wheel-slide protection that ends a slide. Assumption. [s]
PAUSE = 2.0
#: Shortest slide that says how much the rail gave. Assumption. [s]
SHORTEST_SLIDE = 3.0
#: Shortest time of a piece: below it a speed recorded each second says little. [s]
SHORTEST_PIECE = 3.0


@dataclass(frozen=True)
class Piece:
    """Adhesion on one piece of line.

    Attributes
    ----------
    start, end : float
        Where the front was, in the direction of travel. [m]
    begun, over : float
        When, by the trace's clock. [s]
    speed : float
        Mean recorded speed. [m/s]
    adhesion : float
        Mean rail force as a share of weight, positive against the motion: achieved by
        the train, sliding losses included, not what a friction meter reads. [-]
    low, high : float
        90 % of such intervals hold the truth. Where the rail was not the limit ``high``
        is endless, and the rail gives at least ``low`` with 95 %. [-]
    limited : bool
        Whether the rail was the limit: wheel-slide protection at work throughout, and
        even ``high`` less than the brake asked for.
    """

    start: float
    end: float
    begun: float
    over: float
    speed: float
    adhesion: float
    low: float
    high: float
    limited: bool


@dataclass(frozen=True)
class Cut:
    """Intervals of an application between two of its rows: [first, last)."""

    first: int
    last: int
    sliding: bool


def slides(trace: Trace) -> list[Cut]:
    """Return the slides of an application that are long enough to say something."""
    interval = np.diff(trace.time)
    braked = trace.step[:-1] > 0
    on = np.flatnonzero(trace.wsp[:-1] & braked)
    if on.size == 0:
        return []
    ends = trace.time[on + 1]
    pauses = trace.time[on[1:]] - ends[:-1]
    released = np.array([not braked[a:b].all() for a, b in pairwise(on)], dtype=bool)
    parts = np.split(on, np.flatnonzero((pauses > PAUSE) | released) + 1)
    cuts = [Cut(int(part[0]), int(part[-1]) + 1, True) for part in parts]
    return [c for c in cuts if interval[c.first : c.last].sum() >= SHORTEST_SLIDE]


def cuts(trace: Trace, whole: list[Cut], length: float) -> list[Cut]:
    """Return all braked intervals as pieces of about ``length`` metres, in order."""
    left = trace.step[:-1] > 0
    found = []
    for slide in whole:
        left[slide.first : slide.last] = False
        found += _divided(trace, slide, length)
    for first, last in _runs(left):
        found += _divided(trace, Cut(first, last, False), length)
    return sorted(found, key=lambda cut: cut.first)


def weights(trace: Trace, parts: list[Cut]) -> Floats:
    """Return how much of each piece's way lies in each interval, (pieces, rows - 1)."""
    middle = 0.5 * (trace.speed[1:] + trace.speed[:-1])
    way = (middle + 0.1) * np.diff(trace.time)
    wanted = np.zeros((len(parts), way.size))
    for row, cut in enumerate(parts):
        inside = slice(cut.first, cut.last)
        wanted[row, inside] = way[inside] / way[inside].sum()
    return wanted


def _divided(trace: Trace, cut: Cut, length: float) -> list[Cut]:
    """Cut a run evenly: no piece shorter than its least time but a run that is."""
    time, place = trace.time, trace.place
    way = place[cut.last] - place[cut.first]
    lasting = time[cut.last] - time[cut.first]
    count = int(max(1, min(way // length, lasting // SHORTEST_PIECE, cut.last - cut.first)))
    marks = np.linspace(place[cut.first], place[cut.last], count + 1)
    edges = np.searchsorted(place[: cut.last + 1], marks, side="left")
    edges[0], edges[-1] = cut.first, cut.last
    edges = np.unique(np.clip(edges, cut.first, cut.last))
    return [Cut(int(a), int(b), cut.sliding) for a, b in pairwise(edges)]


def _runs(flags: Flags) -> list[tuple[int, int]]:
    """Return where flags stand without a break: [first, last)."""
    turned = np.flatnonzero(np.diff(np.concatenate([[False], flags, [False]]).astype(np.int8)))
    return [(int(a), int(b)) for a, b in zip(turned[::2], turned[1::2], strict=True)]
