"""What a pack advises: one card, with its words as the desk has them.

`first_line` and `is_advised` read the answer of a look-up as JSON; a `Card` is the same
answer for whoever isn't to read JSON.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from webapp.lines.base import Base, within_days
from webapp.lines.lookup import approach_speed, look_up
from webapp.lines.lowering import InForce, lowered
from webapp.lines.picture import begins_at

Json = dict[str, Any]
OK, NO_STOP = 0, 1
NOTHING_ADDED = 2
W6 = "No advice here. Drive to the conditions."
NO_SPEED = "No speed is enough here. Special working: ask the signaller."


@dataclass(frozen=True)
class Cell:
    """Which approach of a pack: indices into its targets, trains and rail states.

    ``season`` is 1 while any listed place of the target counts, else 0.
    """

    target: int
    train: int
    state: int
    season: int

    @property
    def indices(self) -> tuple[int, int, int, int]:
        """The four in the order of the table's levels."""
        return self.season, self.target, self.state, self.train


@dataclass(frozen=True)
class Card:
    """What a card says of one rail state; without advice it has words and no figure.

    Attributes
    ----------
    words : str
        The line under the name: where braking begins, or why nowhere.
    brake_m, begins_m : int and float, or None
        How far before the stop mark braking begins by calculation, and as the card says it:
        at its landmark. [m]
    seconds : int or None
        How much longer the approach takes. [s]
    speeds : tuple
        (landmark's words, speed not to be exceeded there [posted units]).
    speed : float or None
        How fast a train comes there on this rail. [posted units]
    lowered : bool
        Whether a restriction lowered a speed of it.
    worse : Card or None
        The same for the next worse rail state; None for the last.
    """

    words: str
    advised: bool
    brake_m: int | None = None
    begins_m: float | None = None
    seconds: int | None = None
    speeds: tuple[tuple[str, int], ...] = ()
    speed: float | None = None
    lowered: bool = False
    worse: Card | None = None


def card(base: Base, table: Json, cell: Cell, live: Sequence[InForce] = ()) -> Card:
    """Look up a card as the tablet does; ``live`` are the restrictions in force there."""
    season, target, state, train = cell.indices
    ask = {"target": target, "train": train, "state": state, "season": season}
    plain = look_up(base.file, table, **ask, speed=None)
    # As the card shows it: a restriction lowers speeds, never a mark.
    found, by = lowered(base.file, table, cell.indices, plain, live)
    shown = replace(_card(base, table, cell, found), lowered=bool(by))
    if found["worse"] is None:
        return shown
    worse = _card(base, table, replace(cell, state=state + 1), found["worse"])
    return replace(shown, worse=worse)


def _card(base: Base, table: Json, cell: Cell, found: Json) -> Card:
    target, train = base.file["targets"][cell.target], base.file["trains"][cell.train]
    words = first_line(base.file, found, target, train)
    speed = approach_speed(target, table, cell.indices)
    if not is_advised(found):
        return Card(words, False, speed=speed)
    return Card(
        words,
        True,
        found["brake"],
        begins_at(base.file, cell.target, cell.train, found),
        found["seconds"],
        tuple((one["words"], one["speed"]) for one in found["speeds"]),
        speed,
    )


def is_advised(found: Json) -> bool:
    """Whether the card has advice; without a mark to begin before it has none."""
    nothing = bool(found["flags"] & NOTHING_ADDED)
    return bool(found["status"] == OK and (nothing or found["mark"] is not None))


def first_line(base: Json, found: Json, target: Json, train: Json) -> str:
    """Return the line under the name of a card: where braking begins, or why nowhere."""
    if not is_advised(found):
        signed = base.get("signed_words", {}).get("en", {})
        return NO_SPEED if found["status"] == NO_STOP else str(signed.get("W6", W6))
    if found["flags"] & NOTHING_ADDED:
        return "No mark added." if target["kind"] == "buffers" else "Nothing added."
    mark, step = found["mark"], str(train["steps"][found["step"]])
    if mark["far"]:
        return f"No mark: begin before {mark['words']}"
    return f"Begin before {mark['words']}, {f'step {step}' if step[:1].isdigit() else step}"


def within_season(season: Json | None, now: str) -> bool:
    """Whether a row of ``listed`` counts on a day, "MM-DD"; without a season it does."""
    return season is None or within_days(str(season["from"]), str(season["to"]), now)
