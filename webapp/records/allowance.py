"""The time each trip is given, as its driver's Brief adds it up without any warning."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from webapp.lines.advice import in_season, is_advised
from webapp.lines.lookup import look_up

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


def states(base: Json) -> list[str]:
    """Return the names of the states a driver may pick, best first."""
    return [state["name"] for state in base["states"] if state["pickable"]]


def trips(base: Json, table: Json, day: date) -> list[TripRow]:
    """Return the trips of a line in order, with their allowances on a day."""
    return [_row(base, table, trip, day) for trip in base["trips"]]


def _row(base: Json, table: Json, trip: Json, day: date) -> TripRow:
    train = next(
        (
            index
            for index, one in enumerate(base["trains"])
            if (one["type"], one["formation"]) == (trip["train_type"], trip["formation"])
            and one["isolated_cars"] == 0
        ),
        None,
    )
    pickable = [n for n, state in enumerate(base["states"]) if state["pickable"]]
    if train is None:
        return TripRow(trip["name"], trip["formation"], tuple(None for _ in pickable))
    targets = on_the_way(base, trip)
    given = tuple(_given(base, table, targets, train, state, day) for state in pickable)
    return TripRow(trip["name"], base["trains"][train]["name"], given)


def on_the_way(base: Json, trip: Json) -> list[int]:
    """Return the targets of a trip: its calls, and reductions between start and last stop."""
    index = {target["key"]: n for n, target in enumerate(base["targets"])}
    calls = [index[call["target"]] for call in trip["calls"] if call["target"] in index]
    sign = next(one["sign"] for one in base["directions"] if one["key"] == trip["direction"])
    start = next(
        (one["at_m"] for one in base["places"] if one["key"] == trip["starts"]["place"]), None
    )
    if start is None or not calls:
        return calls
    end = _ahead(base["targets"][calls[-1]], sign)
    between = [
        n
        for n, target in enumerate(base["targets"])
        if target["kind"] == "reduction"
        and target["direction"] == trip["direction"]
        and sign * start < _ahead(target, sign) < end
    ]
    return calls + between


def _ahead(target: Json, sign: int) -> float:
    return float(sign * next((mark for mark in target["mark_m"] if mark is not None), 0))


def _given(
    base: Json, table: Json, targets: list[int], train: int, state: int, day: date
) -> Given:
    found = [
        look_up(
            base,
            table,
            target=target,
            train=train,
            state=state,
            season=int(in_season(base, base["targets"][target], day.isoformat())),
            speed=None,
        )
        for target in targets
    ]
    known = [one["seconds"] for one in found if is_advised(one)]
    return Given(sum(known), len(found) - len(known))
