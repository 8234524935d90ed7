"""What a warning changes on the cards: stop by stop, with and without it, and why nothing.

Out of the pack in use and by the same look-up as the tablet's card. A figure of it is shown
to nobody in a train: it is for who decides at the desk.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from sqlalchemy.orm import Session

from webapp.lines import in_use, lowering
from webapp.lines.base import Base, Target
from webapp.records.restrictions import service as restrictions
from webapp.records.warnings import controlled_stop
from webapp.records.warnings.controlled_stop import Advice, Cell
from webapp.records.warnings.models import Warned

Json = dict[str, Any]

COUNTS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
LANDMARK = (
    "braking begins up to {metres} m sooner by calculation, and the last landmark before it "
    "is the same"
)


@dataclass(frozen=True)
class Row:
    """One rail state the driver may plan: the card without the warning and with it."""

    state: str
    without: str
    warned: str
    # Why the two are the same; None where the card changes.
    same: str | None


@dataclass(frozen=True)
class Trains:
    """The trains whose cards at a stop say the same; None: all that stop there."""

    names: tuple[str, ...] | None
    rows: tuple[Row, ...]
    words: str


@dataclass(frozen=True)
class Stop:
    name: str
    trains: list[Trains]


def of(session: Session, warning: Warned, day: str) -> list[Stop] | None:
    """Return what a warning changes at each stop it meets; None when no pack is in use.

    Parameters
    ----------
    day
        Local date "YYYY-MM-DD", for places that are listed in season.
    """
    pack = in_use.packs(session).get(warning.line_key)
    if pack is None:
        return None
    try:
        base, table = in_use.base(session, pack), in_use.table(session, pack)
    except LookupError:
        return None
    others = controlled_stop.others(session, warning)
    told = restrictions.told(session)
    live = lowering.in_force(base, warning.direction, told, datetime.now(UTC))
    met = base.stops_within(warning.direction, warning.from_m, warning.to_m)
    return [stop(base, table, one, warning, others, live, day) for one in met]


def stop(
    base: Base,
    table: Json,
    target: Target,
    warning: Warned,
    others: Sequence[Warned],
    live: Sequence[lowering.InForce],
    day: str,
) -> Stop:
    """Return what a warning changes at one stop, trains with the same cards together."""
    met = [one for one in others if controlled_stop.meets(base, target, one)]
    told = [controlled_stop.rank(base, one) for one in met]
    rank = controlled_stop.rank(base, warning)
    found: dict[tuple[Row, ...], list[str]] = {}
    for train, unit in enumerate(base.trains):
        if target.mark_m[train] is None:
            continue
        cell = Cell(base, table, train, 0, day, live)
        rows = tuple(_row(cell, target, one, rank, told) for one in _pickable(base))
        found.setdefault(rows, []).append(unit.name)
    name = target.name
    return Stop(
        target.words,
        [
            Trains(None if len(found) == 1 else tuple(names), rows, _words(name, rows))
            for rows, names in found.items()
        ],
    )


def _pickable(base: Base) -> list[int]:
    return [at for at, one in enumerate(base.states) if one.pickable]


def _row(cell: Cell, target: Target, state: int, rank: int, told: Sequence[int]) -> Row:
    stand = max([state, *told])
    without = controlled_stop.advice(cell, target, stand)
    warned = controlled_stop.advice(cell, target, max(stand, rank))
    names = [one.name for one in cell.base.states]
    return Row(
        names[state], without.words, warned.words, _same(without, warned, names, state, told)
    )


def _same(
    without: Advice, warned: Advice, names: Sequence[str], state: int, told: Sequence[int]
) -> str | None:
    if (without.words, without.speeds) != (warned.words, warned.speeds):
        return None
    if without.state == warned.state:
        stronger = max(told, default=-1) > state
        return (
            f"another warning here plans with {without.state} already"
            if stronger
            else f"{without.state} is planned with already"
        )
    sooner = (warned.brake_m or 0) - (without.brake_m or 0)
    return LANDMARK.format(metres=sooner) if sooner > 0 else "its figures are the same in both"


def _words(name: str, rows: Sequence[Row]) -> str:
    """Say in a sentence how many states change, or why none does."""
    changed = [one.state for one in rows if one.same is None]
    if changed:
        return f"{name} changes on {_count(len(changed))} of {_count(len(rows))} states."
    reasons: dict[str, list[str]] = {}
    for one in rows:
        reasons.setdefault(str(one.same), []).append(one.state)
    why = "; ".join(
        why if len(reasons) == 1 else f"{', '.join(states)}: {why}"
        for why, states in reasons.items()
    )
    return f"{name} is the same on all {_count(len(rows))} states: {why}."


def _count(number: int) -> str:
    return COUNTS[number] if number < len(COUNTS) else str(number)
