"""What the plans themselves assume without a source: what, value, basis, for the app's list.

What a route may set stands in its own file, with its basis, and is not told here again.
"""

from __future__ import annotations

from . import driven, gradient, room
from .worked import STILL_SLOWS

_OWN = "assumption: own number"


def assumptions() -> tuple[tuple[str, str, str], ...]:
    """Return (what, value, basis) of every assumption, values as they are used."""
    return (
        (
            "an advice is driven before it is given: it may stand past its mark by at most",
            f"{driven.PAST_MARK:g} m",
            _OWN,
        ),
        ("and short of it by", f"{driven.SHORT_OF_MARK:g} m", _OWN),
        (
            "an advice is driven again where the line is steeper than its file says by",
            f"{gradient.OFF:.1%}",
            _OWN,
        ),
        (
            "and begun sooner by no more at a time than",
            f"{gradient.MOST:g} m",
            "assumption: own number; farther out it would be another plan",
        ),
        (
            "share of the least deceleration that a weak brake must still reach",
            f"{STILL_SLOWS:g}",
            "assumption: there a driver feels the brake weak, not the line steep",
        ),
        (
            "with room, a mark is another plan when it lies farther out than",
            f"{room.FARTHER:g} times and {room.FARTHER_M:g} m",
            _OWN,
        ),
        (
            "with room, a train may be faster than expected by",
            f"{room.FASTER:g} m/s",
            _OWN,
        ),
        (
            f"below {room.FAR_SLOWER:g} of the expected speed a mark may be moved out by",
            f"{room.RAISED:g} m",
            "assumption: own number, so that the order of marks holds near the stop",
        ),
    )
