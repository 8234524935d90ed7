"""The lines as their packs in use know them, and places as their posts count them."""

from __future__ import annotations

from typing import Any

from sqlalchemy.orm import Session

from calc.constants import CHAIN
from calc.units import miles_chains_from_metres
from webapp.publish import service as publisher

Json = dict[str, Any]


def bases(session: Session) -> dict[str, Json]:
    """Return the base of the pack in use, by line."""
    return {key: publisher.base(session, sha) for key, sha in packs(session).items()}


def packs(session: Session) -> dict[str, str]:
    """Return the name of the pack in use, by line."""
    return {route["key"]: route["pack"] for route in publisher.current(session).routes}


def table(session: Session, pack: str) -> Json:
    """Return the table of a published pack."""
    return publisher.table(session, pack)


def name_of(base: Json | None, table: str, key: str) -> str:
    """Return the name of a row of the base; the key where the pack knows none."""
    rows = (base or {}).get(table, [])
    found: Json = next((row for row in rows if row["key"] == key), {})
    return str(found.get("name", key))


def place_words(metres: float, base: Json | None) -> str:
    """Return a place as it is typed on this line, and read back to the same metres."""
    unit = (base or {}).get("route", {}).get("distance_unit")
    if unit != "mi-ch" or metres < 0:
        return f"{metres / 1000:.3f}" + ("" if unit else " km")
    miles, chains = miles_chains_from_metres(metres)
    exact = round(metres / CHAIN, 2)
    if abs(exact - (80 * miles + chains)) < 0.005:
        return f"{miles}m {chains:02d}ch"
    whole, rest = divmod(exact, 80)
    return f"{int(whole)}m {rest:g}ch"


def ends_words(from_m: float, to_m: float, base: Json | None) -> str:
    """Return a stretch of line in words."""
    ends = [place_words(at, base) for at in (from_m, to_m)]
    unit = " km" if (base or {}).get("route", {}).get("distance_unit") == "km" else ""
    return ends[0] + unit if ends[0] == ends[1] else f"{ends[0]} to {ends[1]}{unit}"


def stops_within(base: Json, direction: str, from_m: float, to_m: float) -> list[Json]:
    """Return the stops and buffers whose approach a stretch of line reaches into.

    As the tablet does it (static/core/warnings.js `meets`): from the reach before the mark
    to the limit, of any train of the pack.
    """
    sign = next((d["sign"] for d in base["directions"] if d["key"] == direction), 1)
    found: list[Json] = []
    for target in base.get("targets", []):
        if target["direction"] != direction or target["kind"] == "reduction":
            continue
        spans = [span for span in _approaches(target, sign) if span]
        ways = sorted((sign * from_m, sign * to_m))
        if any(ways[1] >= begins and ways[0] <= ends for begins, ends in spans):
            found.append(target)
    return found


def _approaches(target: Json, sign: int) -> list[tuple[float, float] | None]:
    """Return begin and end of each train's approach, in the direction of travel."""
    return [
        None
        if mark is None
        else (sign * mark - (reach or 0), max(sign * mark, sign * (limit or mark)))
        for mark, limit, reach in zip(
            target["mark_m"], target["limit_m"], target["reach_m"], strict=True
        )
    ]
