"""The advice at a place with and without one warning, for a controlled test stop.

Driven with the warning's own, softer advice a test stop would pass falsely: it is made with
the technique normally used for the conditions. The figures are those of the published pack.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from webapp.lines import advice as advised
from webapp.lines import in_use, lowering
from webapp.lines.base import Base, Target
from webapp.records.restrictions import service as restrictions
from webapp.records.warnings.models import Warned

BUFFERS = "Buffers: no test stop here before you were told that it was treated."


@dataclass(frozen=True)
class Advice:
    """What the card would say, with whole figures; or only words, and no figure."""

    words: str
    state: str
    brake_m: int | None = None
    seconds: int | None = None
    speeds: tuple[tuple[str, int], ...] = ()
    lowered: bool = False


@dataclass(frozen=True)
class Stop:
    """A stop whose approach the warning meets."""

    name: str
    without: Advice | None
    warned: Advice
    refused: str | None
    others: int


@dataclass(frozen=True)
class View:
    stops: list[Stop]
    trains: list[tuple[str, str]]
    states: list[tuple[str, str]]
    train: str
    state: str
    unit: str


def view(
    session: Session,
    warning: Warned,
    train: str | None,
    state: str | None,
    day: str,
    *,
    treated: bool,
) -> View | None:
    """Return the advice at each stop the warning meets; None when no pack is in use.

    Parameters
    ----------
    state
        Rail state that fits the conditions; the first of the chain when none is known.
    day
        Local date "YYYY-MM-DD", for places that are listed in season.
    treated
        Whether the desk was told of a treatment since the latest reportable report.
    """
    pack = in_use.packs(session).get(warning.line_key)
    base = in_use.bases(session).get(warning.line_key)
    if pack is None or base is None:
        return None
    try:
        table = in_use.table(session, pack)
    except LookupError:
        return None
    trains = [one.key for one in base.trains]
    chain = [one.key for one in base.states]
    train = train if train and train in trains else trains[0]
    pickable = [one.key for one in base.pickable]
    state = state if state and state in pickable else pickable[0]
    live_too = others(session, warning)
    told = restrictions.told(session)
    live = lowering.in_force(base, warning.direction, told, datetime.now(UTC))
    cell = Cell(base, table, trains.index(train), chain.index(state), day, live)
    stops = base.stops_within(warning.direction, warning.from_m, warning.to_m)
    return View(
        [_stop(cell, stop, warning, live_too, treated) for stop in stops],
        [(one.key, one.name) for one in base.trains],
        [(one.key, one.name) for one in base.pickable],
        train,
        state,
        base.speed_words,
    )


@dataclass(frozen=True)
class Cell:
    """One train of one pack on one day; `state` is what is planned for the trip."""

    base: Base
    table: dict[str, Any]
    train: int
    state: int
    day: str
    restricted: Sequence[lowering.InForce]


def others(session: Session, warning: Warned) -> list[Warned]:
    """Return the other warnings that live on this line and in this direction."""
    same = Warned.line_key == warning.line_key, Warned.direction == warning.direction
    query = select(Warned).where(Warned.status == "published", Warned.id != warning.id, *same)
    return list(session.scalars(query))


def _stop(
    cell: Cell, target: Target, warning: Warned, live_too: Sequence[Warned], treated: bool
) -> Stop:
    met = [one for one in live_too if meets(cell.base, target, one)]
    stand = max([cell.state, *(rank(cell.base, one) for one in met)])
    refused = BUFFERS if target.kind == "buffers" and not treated else None
    return Stop(
        target.words,
        None if refused else advice(cell, target, stand),
        advice(cell, target, max(stand, rank(cell.base, warning))),
        refused,
        len(met),
    )


def meets(base: Base, target: Target, warning: Warned) -> bool:
    """Whether a warning reaches into the approach to a stop."""
    found = base.stops_within(warning.direction, warning.from_m, warning.to_m)
    return any(one.key == target.key for one in found)


def rank(base: Base, warning: Warned) -> int:
    """Return a warning's place in the chain; a state this pack does not know is the worst."""
    keys = [one.key for one in base.states]
    known = warning.plan_state in keys and warning.datum == base.datum
    return keys.index(warning.plan_state) if known else len(keys) - 1


def advice(cell: Cell, target: Target, state: int) -> Advice:
    """Return what the card says at a stop on one rail state, restrictions counted."""
    base = cell.base
    season = int(base.in_season(target, cell.day))
    asked = advised.Cell(base.targets.index(target), cell.train, state, season)
    found = advised.card(base, cell.table, asked, cell.restricted)
    return Advice(
        found.words,
        base.states[state].name,
        found.brake_m,
        found.seconds,
        found.speeds,
        found.lowered,
    )
