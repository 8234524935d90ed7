"""Stops of a pack without a state in hand, or without room, for whoever approves it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from calc.result import OK
from webapp.lines.columns import FLAGS
from webapp.lines.lookup import look_up

Json = dict[str, Any]


def without_state_in_hand(base: Json, table: Json) -> Iterator[str]:
    """Yield a line for each state to pick: which stops, and with how many of the trains."""
    return _flagged(base, table, FLAGS["no_state_in_hand"])


def without_room(base: Json, table: Json) -> Iterator[str]:
    """As `without_state_in_hand`, for room for a weak brake and a late hand."""
    return _flagged(base, table, FLAGS["no_room"])


def _flagged(base: Json, table: Json, flag: int) -> Iterator[str]:
    ways = {one["key"]: one["name"] for one in base["directions"]}
    stops = [n for n, target in enumerate(base["targets"]) if target["kind"] != "reduction"]
    for state, rail in enumerate(base["states"]):
        if not rail["pickable"]:
            continue
        found = {n: _trains(base, table, n, state, flag) for n in stops}
        advised = {n: both for n, both in found.items() if both[1]}
        bare = {n: both for n, both in advised.items() if both[0]}
        if bare and all(some == of for some, of in advised.values()):
            yield f"{rail['name']}: every stop"
        elif bare:
            yield f"{rail['name']}: " + ", ".join(
                _words(base["targets"][n], ways, *both) for n, both in bare.items()
            )


def _words(target: Json, ways: dict[str, str], some: int, of: int) -> str:
    way = ways.get(target["direction"], "").split(",")[0]
    return f"{target['name']} {way}" + ("" if some == of else f" ({some} of {of} trains)")


def _trains(base: Json, table: Json, target: int, state: int, flag: int) -> tuple[int, int]:
    """Return with how many trains a stop has the flag, and has advice at all."""
    bare = advised = 0
    for train, mark in enumerate(base["targets"][target]["mark_m"]):
        if mark is None:
            continue
        seasons = [
            look_up(base, table, target=target, train=train, state=state, season=s, speed=None)
            for s in (0, 1)
        ]
        known = [one for one in seasons if one["status"] == OK]
        advised += bool(known)
        bare += any(one["flags"] & flag for one in known)
    return bare, advised
