"""The time each trip is given, as its driver's Brief adds it up without any warning."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from webapp.lines.advice import Cell, card
from webapp.lines.base import Base, Target, Trip

Json = dict[str, Any]


@dataclass(frozen=True)
class Given:
    """Seconds for one trip in one planned rail state; stops that have no figure."""

    seconds: int
    unknown: int


@dataclass(frozen=True)
class TripRow:
    """One trip with what it is given, one entry for each state a driver may pick."""

    name: str
    train: str
    given: tuple[Given | None, ...]


def states(base: Base) -> list[str]:
    """Return the names of the states a driver may pick, best first."""
    return [one.name for one in base.pickable]


def trips(base: Base, table: Json, day: date) -> list[TripRow]:
    """Return the trips of a line in order, with their allowances on a day."""
    return [_row(base, table, trip, day) for trip in base.trips]


def _row(base: Base, table: Json, trip: Trip, day: date) -> TripRow:
    train = next(
        (
            index
            for index, one in enumerate(base.trains)
            if (one.type, one.formation) == (trip.train_type, trip.formation)
            and one.isolated_cars == 0
        ),
        None,
    )
    pickable = [n for n, state in enumerate(base.states) if state.pickable]
    if train is None:
        return TripRow(trip.name, trip.formation, tuple(None for _ in pickable))
    targets = on_the_way(base, trip)
    given = tuple(_given(base, table, targets, train, state, day) for state in pickable)
    return TripRow(trip.name, base.trains[train].name, given)


def on_the_way(base: Base, trip: Trip) -> list[int]:
    """Return the targets of a trip: its calls, and reductions between start and last stop."""
    index = {target.key: n for n, target in enumerate(base.targets)}
    calls = [index[call.target] for call in trip.calls if call.target in index]
    sign = base.sign(trip.direction)
    start = next((one.at_m for one in base.places if one.key == trip.starts), None)
    if start is None or not calls:
        return calls
    end = _ahead(base.targets[calls[-1]], sign)
    between = [
        n
        for n, target in enumerate(base.targets)
        if target.kind == "reduction"
        and target.direction == trip.direction
        and sign * start < _ahead(target, sign) < end
    ]
    return calls + between


def _ahead(target: Target, sign: int) -> float:
    return sign * (target.first_mark or 0.0)


def _given(
    base: Base, table: Json, targets: list[int], train: int, state: int, day: date
) -> Given:
    found = [
        card(base, table, Cell(at, train, state, int(base.in_season(target, str(day)))))
        for at in targets
        for target in (base.targets[at],)
    ]
    known = [one.seconds for one in found if one.seconds is not None]
    return Given(sum(known), len(found) - len(known))
