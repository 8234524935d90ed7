"""What the driver has met himself: it only ever makes a suggestion worse."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from .chain import Chain

#: For each sign, in the words of a report: the condition it shows at least (None: none
#: by itself), states worse than weather alone suggests, and why.
SIGNS: dict[str, tuple[str | None, int, str]] = {
    "slide": ("damp", 1, "you slid when braking"),
    "overrun": ("damp", 1, "a stop was overrun"),
    "slip at start": ("damp", 1, "a slip when starting foretells trouble when braking"),
    "leaves": ("leaf", 0, "leaves on the rail"),
    "dull railhead": ("leaf", 0, "a dark, dull or discoloured railhead"),
    "mist": ("damp", 0, "mist"),
    "first rain": ("damp", 0, "the first rain after dry weather"),
    "stopped short": (None, 0, ""),
}


@dataclass(frozen=True)
class Worsened:
    """Where the signs leave the chain's index, and in whose words."""

    index: int | None
    words: tuple[str, ...]


def worsen(chain: Chain, index: int | None, signs: Iterable[str]) -> Worsened:
    """Return the state after the driver's own signs, never a better one.

    Parameters
    ----------
    chain : Chain
    index : int or None
        What weather alone suggests; None: nothing.
    signs : iterable of str
        Any of `SIGNS`; the order does not matter, doing more never helps.

    Raises
    ------
    ValueError
        If a sign is not known.

    Notes
    -----
    The place of the chain is not held to what may be picked: the caller says so when
    a driver has met worse than any state to set off in.
    """
    given = sorted(set(signs))
    for sign in given:
        if sign not in SIGNS:
            raise ValueError(f"sign '{sign}' is not one of {', '.join(SIGNS)}")
    floors = [chain.index(c) for c, _, _ in map(SIGNS.__getitem__, given) if c is not None]
    steps = max((SIGNS[sign][1] for sign in given), default=0)
    words = tuple(SIGNS[sign][2] for sign in given if SIGNS[sign][2])
    if index is None and not floors:
        return Worsened(None, words)
    worse = (index + steps) if index is not None else max(floors)
    worst = max([worse, *floors])
    return Worsened(min(worst, len(chain.keys) - 1), words)
